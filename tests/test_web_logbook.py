"""Airbrushes, parts, flags, the way out and the store's health, asked as the page asks."""

import json
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest

from sprayout.journal import records as r
from sprayout.journal.records_json import from_json
from tests.web_bench import WebBench, web_bench


@pytest.fixture(scope="module")
def bench(tmp_path_factory: pytest.TempPathFactory) -> Iterator[WebBench]:
    with web_bench(tmp_path_factory.mktemp("logbook") / "club.sqlite") as made:
        made.post("/api/cautions/read", person="Ida")
        yield made


def test_an_airbrush_keeps_what_was_set_when_an_old_coat_was_sprayed(bench: WebBench) -> None:
    first = bench.post(
        "/api/airbrushes", name="fine needle", nozzle_mm=0.3, pressure_bar=1.5, distance_mm=110
    )
    assert (first["pressure_pa"], first["cleaned"]) == (150_000.0, None)
    coat = bench.post("/api/coats", piece="goods van", kind="tack coat")
    bench.post(f"/api/coats/{coat['id']}/end")
    assert coat["airbrush"] == first["id"]
    again = bench.post("/api/airbrushes", name="fine  needle", pressure_bar=2, distance_mm=None)
    assert again["id"] != first["id"] and again["nozzle_mm"] == 0.3
    assert (again["pressure_pa"], again["distance_mm"]) == (200_000.0, None)
    assert bench.station.reader.get(r.Airbrush, first["id"]) == from_json(first)
    cleaned = bench.post(f"/api/airbrushes/{first['id']}/cleaned")
    assert cleaned["cleaned"] is not None and cleaned["pressure_pa"] == 200_000.0
    held = bench.get("/api/airbrushes")
    assert held == {"in_hand": cleaned, "airbrushes": [cleaned]}


def test_a_coat_names_another_airbrush_or_none(bench: WebBench) -> None:
    fine = bench.post("/api/airbrushes", name="fine needle")
    wide = bench.post("/api/airbrushes", name="wide needle", nozzle_mm=0.5)
    assert bench.get("/api/airbrushes")["in_hand"] == wide
    assert bench.post(f"/api/airbrushes/{fine['id']}/choose") == fine
    assert bench.get("/api/airbrushes")["in_hand"] == fine
    for said, wanted in (("wide needle", wide["id"]), ("", None)):
        coat = bench.post("/api/coats", piece="goods van", kind="wet coat", airbrush=said)
        bench.post(f"/api/coats/{coat['id']}/end")
        assert coat["airbrush"] == wanted


@pytest.mark.parametrize(
    ("form", "words"),
    [
        ({"nozzle_mm": 30}, "nozzle_mm"),
        ({"pressure_bar": 22}, "pressure_bar"),
        ({"pressure_bar": 1, "pressure_pa": 100_000}, "wanted one of them"),
        ({"distance_mm": 5}, "distance_mm"),
        ({"cleaned": "yesterday"}, "cleaned: got 'yesterday'"),
        ({"cleaned": "2126-01-01T00:00:00Z"}, "got a time to come"),
    ],
)
def test_an_airbrush_that_cannot_be_is_refused(
    bench: WebBench, form: dict[str, object], words: str
) -> None:
    before = bench.get("/api/airbrushes")
    assert words in bench.refused("/api/airbrushes", name="odd", **form)
    assert bench.get("/api/airbrushes") == before


def test_an_unknown_airbrush_or_part_starts_no_coat(bench: WebBench) -> None:
    before = bench.get("/api/coats")
    form = {"piece": "goods van", "kind": "wet coat"}
    assert "wanted one on record" in bench.refused("/api/coats", **form, airbrush="lost")
    assert "wanted a part of goods van" in bench.refused("/api/coats", **form, part="keel")
    assert bench.get("/api/coats") == before


def test_a_piece_has_parts_with_a_target_coats_and_findings_of_their_own(bench: WebBench) -> None:
    target = bench.post("/api/targets", name="hull blue", lab=[38, -4, -26])
    bench.post("/api/pieces", piece="pilot cutter")
    hull = bench.post("/api/parts", piece="pilot cutter", name="hull", target="hull blue")
    deck = bench.post("/api/parts", piece="pilot cutter", name="deck", note="planked")
    assert (hull["target"], hull["target_name"], deck["target"]) == (
        target["id"],
        "hull blue",
        None,
    )
    coat = bench.post("/api/coats", piece="pilot cutter", kind="wet coat", part="hull")
    bench.post(f"/api/coats/{coat['id']}/end")
    assert coat["part"] == hull["id"]
    found = bench.post(
        "/api/findings", piece="pilot cutter", part="deck", defect="dust nibs", severity="slight"
    )
    assert found["part"] == deck["id"]
    bench.post("/api/parts", piece=hull["piece"], name="deck", target=target["id"])
    parts = {p["name"]: p for p in bench.get("/api/pieces/pilot cutter/parts")}
    assert (parts["hull"]["coats"], parts["hull"]["findings"]) == (1, 0)
    assert (parts["deck"]["coats"], parts["deck"]["findings"]) == (0, 1)
    assert (parts["deck"]["note"], parts["deck"]["target"]) == ("planked", target["id"])
    again = bench.post("/api/parts", piece="pilot cutter", name="deck", target=None)
    assert (again["id"], again["target"], again["note"]) == (deck["id"], None, "planked")


def test_a_part_of_nothing_or_towards_nothing_is_refused(bench: WebBench) -> None:
    assert "piece: got 'ghost ship'" in bench.refused("/api/parts", piece="ghost ship", name="hull")
    words = bench.refused("/api/parts", piece="goods van", name="roof", target="no such blue")
    assert "target: got 'no such blue'" in words
    words = bench.refused("/api/findings", piece="goods van", part="keel", defect="blush")
    assert "part: got 'keel'" in words
    assert bench.client.get("/api/pieces/ghost ship/parts").status_code == 400
    assert bench.get("/api/pieces/goods van/parts") == []


def test_every_flag_is_listed_with_who_read_it(bench: WebBench) -> None:
    raised = 1_788_540_000_000
    flags = [
        r.Flag(id="f1", bench="bench-1", key="damp", level="caution", words="damp",
               raised_ms=raised, acknowledged_ms=raised + 5, acknowledged_by="Ida",
               cleared_ms=raised + 9),
        r.Flag(id="f2", bench="bench-1", key="damp", level="stop", words="wet",
               raised_ms=raised + 86_400_000),
    ]  # fmt: skip
    bench.station.writer.submit(
        [r.Flag(**{**{f: getattr(x, f) for f in x.__slots__}, "bench": bench.station.bench})
         for x in flags]
    ).result(10)  # fmt: skip
    day = "/api/flags?from=2026-09-04&to=2026-09-06"
    listed = bench.get(day)
    assert [f["id"] for f in listed] == ["f2", "f1"]
    assert listed[1]["acknowledged_by"] == "Ida" and listed[1]["cleared"] is not None
    assert [f["id"] for f in bench.get(f"{day}&limit=1")] == ["f2"]
    assert bench.get(f"{day}&coat=none") == []
    # The day after, f2 still stands and f1 is over; so does an export say.
    after = "from=2026-09-05T23:00:00Z&to=2026-09-06"
    assert [f["id"] for f in bench.get(f"/api/flags?{after}")] == ["f2"]
    lines = bench.client.get(f"/api/export?{after}").text.splitlines()
    assert [x["id"] for x in map(json.loads, lines) if x["kind"] == "flag"] == ["f2"]
    assert "a time after" in bench.client.get("/api/flags?from=2026-09-05&to=2026-09-05").text


def test_the_record_leaves_as_lines_tables_and_colour_text(bench: WebBench) -> None:
    answer = bench.client.get("/api/export")
    lines = [json.loads(line) for line in answer.text.splitlines()]
    assert {"piece", "part", "airbrush", "coat", "finding"} <= {x["kind"] for x in lines}
    assert all(from_json(x) for x in lines)
    assert answer.headers["content-disposition"] == 'attachment; filename="record.jsonl"'
    bench.post("/api/pieces", piece="=1+1")
    table = bench.client.get("/api/export?format=csv&kind=piece").text
    assert "'=1+1" in table and table.startswith("id,bench,name")
    assert "CGATS" in bench.client.get("/api/export?format=cgats").text.splitlines()[0]


def test_a_store_that_fails_under_way_is_no_record_that_ends_early(tmp_path: Path) -> None:
    store = tmp_path / "broken.sqlite"
    with web_bench(store) as bench:
        bench.post("/api/pieces", piece="goods van")
        with closing(sqlite3.connect(store)) as broken:
            broken.execute("ALTER TABLE photo RENAME TO photo_lost")
        for form in ("jsonl", "cgats"):
            answer = bench.client.get(f"/api/export?format={form}")
            assert answer.status_code == 507 and "no such table: photo" in answer.json()["error"]
        answer = bench.client.get("/api/export?format=csv&kind=piece")
        assert int(answer.headers["content-length"]) == len(answer.content) > 0


@pytest.mark.parametrize(
    ("query", "words"),
    [
        ("format=csv", "one table a kind"),
        ("kind=piece", "with csv alone"),
        ("format=csv&kind=boat", "wanted one of piece"),
        ("from=soon", "from: got 'soon'"),
        ("from=2026-02-02&to=2026-02-01", "wanted a time after"),
        ("format=xls", "format"),
    ],
)
def test_a_way_out_that_is_none_is_refused(bench: WebBench, query: str, words: str) -> None:
    answer = bench.client.get(f"/api/export?{query}")
    assert 400 <= answer.status_code < 500 and words in answer.json()["error"]


def test_the_store_says_how_it_does(bench: WebBench) -> None:
    store = bench.get("/api/store")
    assert store["file"] == "club.sqlite" and store["bytes"] > 0 and store["free_bytes"] > 0
    assert (store["writable"], store["words"], store["warnings"]) == (True, "", [])
    assert bench.get("/api/store/check") == {"sound": True, "found": []}


def test_the_airbrush_in_hand_is_taken_over_by_the_next_run(tmp_path: Path) -> None:
    store = tmp_path / "a.sqlite"
    with web_bench(store) as first:
        fine = first.post("/api/airbrushes", name="fine needle")
        first.post("/api/airbrushes", name="wide needle")
        first.post("/api/cautions/read", person="Ida")
        coat = first.post("/api/coats", piece="van", kind="wet coat", airbrush="fine needle")
        first.post(f"/api/coats/{coat['id']}/end")
    with web_bench(store) as second:
        assert second.get("/api/airbrushes")["in_hand"] == fine
