"""A store reviewed and reported: command line, HTTP, and records with holes in them."""

from __future__ import annotations

import asyncio
import base64
import json
import random
import re
import sqlite3
import zlib
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from typing import Any

import httpx
import pytest
import typer
from fastapi import FastAPI, Request
from fastapi.responses import JSONResponse
from typer.testing import CliRunner

from sprayout.bench.record_clock import RecordClock
from sprayout.clock import SystemClock
from sprayout.commands import review as command
from sprayout.errors import BadInput
from sprayout.journal import records as r
from sprayout.journal.reader import Reader
from sprayout.journal.writer import Writer
from sprayout.review.defects import DEFECTS
from sprayout.review.dossier import read_dossier
from sprayout.review.history import read_history
from sprayout.review.inquiry import review_coat, review_piece
from sprayout.review.over_time_json import over_time_to_json
from sprayout.review.report_html import report_html
from sprayout.review.report_pdf import report_pdf
from sprayout.safety.cautions import for_spraying, forbidden_words_in, one_line
from sprayout.settings import override, read_settings
from sprayout.station import Station
from sprayout.web.review_api import router
from tests.review_bench import (
    BENCH,
    DAY_MS,
    MILKY,
    T0,
    evening,
    good_evenings,
    make_store,
    milky_evening,
    png,
)


@pytest.fixture(scope="module")
def store(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("review") / "bench.sqlite"
    return make_store(path, [*good_evenings(), *milky_evening()])


@pytest.fixture
def reader(store: Path) -> Iterator[Reader]:
    with Reader(store) as opened:
        yield opened


def with_more(tmp_path: Path, *records: r.Record) -> Reader:
    return Reader(make_store(tmp_path / "more.sqlite", [*good_evenings(12), *records]))


def test_the_humid_evening_is_named_with_its_evidence(reader: Reader) -> None:
    answer = review_coat(reader, "coat-cutter")
    assert {"finding", "ranked", "unknown"} <= set(answer)
    assert answer["finding"]["defect"] == "blush"
    first = answer["ranked"][0]
    assert (answer["verdict"], first["key"]) == ("explained", "humid_air")
    evidence = first["evidence"][0]
    assert {"channel", "this", "usual_low", "usual_high", "n_usual"} <= set(evidence)
    assert evidence["channel"] == "relative_humidity"
    assert evidence["this"] == pytest.approx(88.1, abs=0.2)
    assert 41 < evidence["usual_low"] < evidence["usual_high"] < 54
    assert evidence["n_usual"] == 40
    assert evidence["p"] == pytest.approx(1 / 41, rel=1e-3)


def test_what_was_not_measured_is_unknown_and_never_ruled_out(reader: Reader) -> None:
    answer = review_coat(reader, "coat-cutter")
    unknown = {u["key"]: u for u in answer["unknown"]}
    assert unknown["cold_part"]["channel"] == "part_temperature"
    assert "not ruled out" in unknown["cold_part"]["words"]
    assert not {"cold_part", "strong_draught"} & {c["key"] for c in answer["ranked"]}


def test_minutes_with_the_film_below_the_dew_point_are_counted(tmp_path: Path) -> None:
    start_ms = T0 + 45 * DAY_MS
    film = [
        r.Reading(
            BENCH, "station", "film_margin", -1.5 if i < 18 else 2.0, "K", start_ms + i * 10_000
        )
        for i in range(24)
    ]
    with with_more(tmp_path, *milky_evening(), *film) as reader:
        answer = review_coat(reader, "coat-cutter")
    shown = {e["quantity"]: e["this"] for e in answer["ranked"][0]["evidence"]}
    assert answer["ranked"][0]["key"] == "humid_air"
    assert shown["film_below_min"] == pytest.approx(3.0)
    assert shown["film_margin"] == pytest.approx(-1.5)


def test_a_finding_that_nothing_recorded_speaks_for_is_unexplained(reader: Reader) -> None:
    answer = review_coat(reader, "coat-van-20", "run")
    assert answer["verdict"] == "unexplained"
    assert answer["confidence"] < 0.5
    assert "Nothing that was recorded stands out" in answer["words"]


def test_a_coat_without_a_finding_says_so(reader: Reader) -> None:
    answer = review_coat(reader, "coat-van-3")
    assert answer["finding"] is None and answer["ranked"] == []
    assert "no finding" in answer["words"]


def test_few_coats_are_little_evidence(tmp_path: Path) -> None:
    records = [*good_evenings(3), *milky_evening()]
    with Reader(make_store(tmp_path / "few.sqlite", records)) as reader:
        answer = review_coat(reader, "coat-cutter")
    assert answer["verdict"] == "little evidence"
    assert answer["confidence"] <= 0.5
    assert "only 3 good coats" in answer["words"]


def test_a_piece_without_coats_keeps_its_finding(tmp_path: Path) -> None:
    piece = r.Piece(id="crane", bench=BENCH, name="quay crane", made_ms=T0)
    finding = r.Finding(id="f", bench=BENCH, piece="crane", defect="dust", at_ms=T0)
    with with_more(tmp_path, piece, finding) as reader:
        answer = review_piece(reader, "crane")
        assert answer["finding"]["defect"] == "dust_nibs"
        assert "no coat on record" in answer["words"]
        assert "No coat is on record" in report_html(read_dossier(reader, "crane"))


def test_a_coat_without_readings_is_judged_by_what_is_left(tmp_path: Path) -> None:
    finding = r.Finding(
        id="f", bench=BENCH, piece="crane", coat="coat-crane", defect="blush", at_ms=T0
    )
    silent = evening(70, 50.0, "crane", with_readings=False)
    with with_more(tmp_path, *silent, finding) as reader:
        answer = review_coat(reader, "coat-crane")
    assert "no readings of the booth during this coat" in " ".join(answer["notes"])
    assert {"humid_air", "cold_part", "fast_reducer"} <= {u["key"] for u in answer["unknown"]}
    assert answer["verdict"] != "explained"


def test_a_coat_without_a_batch_is_said_in_the_report(tmp_path: Path) -> None:
    piece = r.Piece(id="crane", bench=BENCH, name="quay crane", made_ms=T0)
    coat = r.Coat(
        id="c", bench=BENCH, piece="crane", kind="wet coat", start_ms=T0, end_ms=T0 + 60_000
    )
    with with_more(tmp_path, piece, coat) as reader:
        text = report_html(read_dossier(reader, "crane"))
    assert "names no batch" in text and "nobody is on record as having read" in text


def test_a_deleted_batch_is_said_with_what_can_still_be_told(tmp_path: Path) -> None:
    """As a hand with another SQLite tool would delete it: the coat refers to nothing then."""
    path = make_store(tmp_path / "gone.sqlite", [*good_evenings(), *milky_evening()])
    with closing(sqlite3.connect(path)) as connection:
        for table, column in (("addition", "batch"), ("swatch", "batch"), ("batch", "id")):
            connection.execute(f"DELETE FROM {table} WHERE {column} = 'cup-cutter'")
        connection.commit()
    with Reader(path) as reader:
        answer = review_coat(reader, "coat-cutter")
        report = report_html(read_dossier(reader, "cutter"))
        history = read_history(reader, BENCH)
    assert "its batch 'cup-cutter' is no longer on record" in answer["notes"]
    assert answer["ranked"][0]["key"] == "humid_air"
    assert {"fast_reducer"} <= {u["key"] for u in answer["unknown"]}
    assert "1 batch(es) that coats were sprayed from are no longer on record" in report
    assert over_time_to_json(history.facts, history.cups)["calendar"]


def test_the_report_says_part_airbrush_and_booth(tmp_path: Path) -> None:
    brush = r.Airbrush(id="fine", bench=BENCH, name="fine needle", made_ms=T0, nozzle_mm=0.3,
                       pressure_pa=150_000.0, distance_mm=110.0)  # fmt: skip
    more = [
        brush,
        r.Booth(id="hood", bench=BENCH, name="yard hood", made_ms=T0),
        r.Piece(id="crane", bench=BENCH, name="quay crane", made_ms=T0),
        r.Part(id="jib", bench=BENCH, piece="crane", name="jib", target="hull"),
        r.Coat(id="c", bench=BENCH, piece="crane", part="jib", kind="wet coat", start_ms=T0,
               end_ms=T0 + 60_000, airbrush="fine", booth="hood"),
        r.Finding(id="f", bench=BENCH, piece="crane", part="jib", coat="c", defect="run",
                  place="under the hook", at_ms=T0),
    ]  # fmt: skip
    with with_more(tmp_path, *more) as reader:
        dossier = read_dossier(reader, "crane")
    entry = dossier.coats[0]
    assert entry.settings == (
        "airbrush fine needle (nozzle 0.3 mm, 1.5 bar, 110 mm away)",
        "booth yard hood",
    )
    assert (entry.part, dossier.findings[0].part) == ("jib", "jib")
    assert [t.words for t in dossier.targets] == ["hull blue"]
    assert ", jib: under the hook" in " ".join(report_html(dossier).split())
    assert report_pdf(dossier).startswith(b"%PDF")


def test_the_reports_humidity_is_corrected_as_its_usual_range_is(tmp_path: Path) -> None:
    check = r.ProbeCheck(id="salt", bench=BENCH, device="probe", at_ms=T0 - DAY_MS, offset_pct=-3.0,
                         gain=1.0, low_pct=75.0, high_pct=75.0, uncertainty_pct=1.0,
                         points=())  # fmt: skip
    with with_more(tmp_path, check) as reader:
        dossier = read_dossier(reader, "van-3")
        as_read = reader.readings(BENCH, T0 + 3 * DAY_MS, T0 + 3 * DAY_MS + 600_000)
    (coat,) = dossier.coats
    humid = next(trace for trace in coat.traces if trace.channel == "relative_humidity")
    read = [x.value for x in as_read if x.channel == "relative_humidity"]
    shown = [value for value in humid.mean if value is not None]
    assert {x.device for x in as_read} == {"probe"}
    assert sum(shown) / len(shown) == pytest.approx(sum(read) / len(read) - 3.0, abs=0.1)
    kept = coat.conditions.channel("relative_humidity") if coat.conditions else None
    assert kept is not None and kept.mean == pytest.approx(sum(shown) / len(shown), abs=0.1)


def test_an_efflux_time_in_the_ledger_reads_as_what_was_noted(tmp_path: Path) -> None:
    timed = r.BatchAddition(id="e", bench=BENCH, batch="cup-van-3", at_ms=T0 + 3 * DAY_MS,
                            note="efflux 21 s")  # fmt: skip
    with with_more(tmp_path, timed) as reader:
        dossier = read_dossier(reader, "van-3")
    (line,) = (x for x in dossier.batches[0].ledger if "efflux" in x.what)
    assert (line.what, line.amount, line.note) == ("efflux 21 s", "", "")
    assert "None (reducer)" not in report_html(dossier)
    assert report_pdf(dossier).startswith(b"%PDF")


def test_contradicting_findings_are_said_and_each_is_judged(tmp_path: Path) -> None:
    findings = [
        r.Finding(id=name, bench=BENCH, piece="van-5", coat="coat-van-5", defect=name, at_ms=T0)
        for name in ("run", "dry spray")
    ]
    with with_more(tmp_path, *findings) as reader:
        answer = review_coat(reader, "coat-van-5")
    assert any("contradict" in note for note in answer["notes"])
    assert {answer["finding"]["defect"], answer["reviews"][0]["finding"]["defect"]} == {
        "run",
        "dry_spray",
    }


def test_a_finding_of_no_known_name_is_kept_and_said(tmp_path: Path) -> None:
    odd = r.Finding(
        id="odd", bench=BENCH, piece="van-5", coat="coat-van-5", defect="zebra", at_ms=T0
    )
    with with_more(tmp_path, odd) as reader:
        answer = review_coat(reader, "coat-van-5")
    assert "'zebra' is no finding of our table" in answer["words"]


def test_a_finding_on_no_coat_is_tried_on_every_coat(tmp_path: Path) -> None:
    second = r.Coat(
        id="second",
        bench=BENCH,
        piece="van-5",
        kind="wet coat",
        start_ms=T0 + 5 * DAY_MS + 1_200_000,
        end_ms=T0 + 5 * DAY_MS + 1_300_000,
        batch="cup-van-5",
    )
    loose = r.Finding(id="loose", bench=BENCH, piece="van-5", defect="run", at_ms=T0)
    with with_more(tmp_path, second, loose) as reader:
        answer = review_piece(reader, "van-5")
    assert any("names no coat" in note for note in answer["notes"])


@pytest.mark.parametrize("kind", ["coat", "piece"])
def test_an_id_that_is_not_there_is_refused(reader: Reader, kind: str) -> None:
    ask = review_coat if kind == "coat" else review_piece
    with pytest.raises(BadInput, match=f"{kind}: got 'nothing', wanted one on record"):
        ask(reader, "nothing")


def test_the_report_holds_all_that_an_object_file_wants(reader: Reader) -> None:
    text = report_html(read_dossier(reader, "cutter"), "letter")
    for wanted in (
        "size: letter",
        "hull blue",
        "ΔE00 3.10 to the target",
        "pilot cutter hull blue",
        "81 drops",
        "<polyline",
        "usual range of",
        "humid blush risk (stop) 3.0 min",
        "read by Ida",
        "data:image/png;base64",
        "port side &lt;b&gt;",
        "humid air: likely",
    ):
        assert wanted in text, wanted
    assert "<script" not in text and "http://" not in text.replace("http://www.w3.org/2000/svg", "")
    assert all(caution.key for caution in for_spraying())
    assert forbidden_words_in(text) == ()


def test_over_time_names_the_humidity_only_with_enough_findings(
    reader: Reader, tmp_path: Path
) -> None:
    lone = read_history(reader, BENCH)
    assert over_time_to_json(lone.facts, lone.cups)["associations"] == []
    more = [
        x
        for i in range(60, 64)
        for x in (
            *evening(i, 86.0, f"wet-{i}"),
            r.Finding(id=f"f{i}", bench=BENCH, piece=f"wet-{i}", defect="blush", at_ms=T0),
        )
    ]
    with with_more(tmp_path, *more) as reader_:
        history = read_history(reader_, BENCH)
    said = over_time_to_json(history.facts, history.cups)
    found = {a["quantity"] for a in said["associations"] if a["found"]}
    assert {"relative_humidity", "margin_to_dew_point"} <= found
    assert said["drift"][0]["target"] == "hull"
    assert len(said["calendar"]) == 16
    assert "12 evenings without a finding" in said["good_evening"]["words"]
    assert forbidden_words_in(json.dumps(said)) == ()


def run(*words: str) -> Any:
    app = typer.Typer()
    command.register(app)
    return CliRunner().invoke(app, list(words))


def test_the_command_answers_contract_8(store: Path) -> None:
    done = run("review", "--store", str(store), "--coat", "coat-cutter", "--json")
    answer = json.loads(done.stdout)
    assert done.exit_code == 0
    assert answer["ranked"][0]["key"] == "humid_air"
    assert answer["cautions"] == [caution.words for caution in for_spraying()]


def test_the_command_speaks_and_shows_the_cautions(store: Path) -> None:
    done = run("review", "--store", str(store), "--piece", "cutter")
    assert "most likely humid air" in done.stdout
    assert "could not be judged" in done.stdout
    assert for_spraying()[0].words in done.stdout
    assert forbidden_words_in(done.stdout) == ()


@pytest.mark.parametrize(
    ("words", "wanted"),
    [
        ([], "got neither of --coat and --piece"),
        (["--coat", "a", "--piece", "b"], "got both of --coat and --piece"),
        (["--coat", "nothing"], "wanted one on record"),
        (["--coat", "coat-cutter", "--finding", "zebra"], "wanted one of blush"),
        (["--coat", "coat-cutter", "--region", "mars", "--json"], "region"),
    ],
)
def test_the_command_refuses_in_one_line(store: Path, words: list[str], wanted: str) -> None:
    done = run("review", "--store", str(store), *words)
    assert isinstance(done.exception, BadInput)
    assert wanted in str(done.exception) and "\n" not in str(done.exception)


def test_a_store_that_is_not_there_is_not_made(tmp_path: Path) -> None:
    done = run("review", "--store", str(tmp_path / "no.sqlite"), "--coat", "a")
    assert isinstance(done.exception, BadInput)
    assert not (tmp_path / "no.sqlite").exists()


@pytest.mark.parametrize(("name", "start"), [("r.html", b"<!doctype html>"), ("r.pdf", b"%PDF-")])
def test_the_report_is_written(store: Path, tmp_path: Path, name: str, start: bytes) -> None:
    out = tmp_path / name
    done = run("report", "--store", str(store), "--piece", "cutter", "--out", str(out))
    assert done.exit_code == 0, done.exception
    assert out.read_bytes().startswith(start)


@pytest.mark.parametrize(
    ("options", "wanted"),
    [(["--out", "r.doc"], "ends in .html or .pdf"), (["--out", "r.html", "--paper", "a3"], "a3")],
)
def test_a_report_of_another_kind_is_refused(
    store: Path, options: list[str], wanted: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    done = run("report", "--store", str(store), "--piece", "cutter", *options)
    assert isinstance(done.exception, BadInput) and wanted in str(done.exception)
    assert list(tmp_path.iterdir()) == []


@pytest.fixture
def served(tmp_path: Path) -> Iterator[Any]:
    """The routes over a station that is not running; its journal is a real file."""
    path = make_store(tmp_path / "web.sqlite", [*good_evenings(12), *milky_evening()])
    in_force = override(read_settings(environment={}), bench=BENCH)
    with Writer(path) as writer, Reader(path) as reader:
        station = Station(
            in_force, RecordClock(SystemClock(), None), writer, reader, random.Random(5)
        )
        app = FastAPI()
        app.include_router(router(station))

        @app.exception_handler(BadInput)
        async def refused(_: Request, error: BadInput) -> JSONResponse:
            return JSONResponse({"error": str(error)}, status_code=400)

        def ask(method: str, path: str, **more: Any) -> httpx.Response:
            async def asked() -> httpx.Response:
                transport = httpx.ASGITransport(app=app)
                async with httpx.AsyncClient(transport=transport, base_url="http://b") as client:
                    return await client.request(method, path, **more)

            return asyncio.run(asked())

        yield ask


def test_a_finding_entered_on_the_page_is_reviewed_at_once(served: Any) -> None:
    before = served("GET", "/api/review?coat=coat-van-3").json()
    assert before["verdict"] == "no finding"
    form = {
        "piece": "goods van-3",
        "coat": "coat-van-3",
        "defect": "Runs",
        "severity": "slight",
        "photo": {"media_type": "image/png", "data_base64": base64.b64encode(png()).decode()},
    }
    entered = served("POST", "/api/findings", json=form)
    assert entered.status_code == 200, entered.text
    assert entered.json()["defect"] == "run"
    picture = served("GET", f"/api/photos/{entered.json()['photo']}")
    assert picture.content == png() and picture.headers["content-type"] == "image/png"
    assert served("GET", "/api/review?coat=coat-van-3").json()["finding"]["defect"] == "run"
    assert served("GET", "/api/findings?piece=van-3").json()[0]["id"] == entered.json()["id"]


@pytest.mark.parametrize(
    ("form", "wanted"),
    [
        ({"piece": "nothing", "defect": "run"}, "piece"),
        ({"piece": "van-3", "defect": "zebra"}, "finding"),
        ({"piece": "van-3", "coat": "coat-cutter", "defect": "run"}, "coat"),
        (
            {
                "piece": "van-3",
                "defect": "run",
                "photo": {"media_type": "image/png", "data_base64": "****"},
            },
            "photo",
        ),
    ],
)
def test_a_wrong_finding_changes_nothing(served: Any, form: dict[str, Any], wanted: str) -> None:
    answer = served("POST", "/api/findings", json=form)
    assert answer.status_code == 400
    assert answer.json()["error"].startswith(wanted)
    assert [f["id"] for f in served("GET", "/api/findings").json()] == [MILKY]


def test_the_page_gets_strips_with_the_usual_range(served: Any) -> None:
    strip = served("GET", "/api/review/strips?coat=coat-cutter").json()
    humid = next(c for c in strip["channels"] if c["channel"] == "relative_humidity")
    assert humid["usual_high"] < 60 < max(v for v in humid["mean"] if v is not None)
    assert len(humid["at_min"]) == len(humid["mean"])


def test_pieces_defects_over_time_and_reports_are_served(served: Any) -> None:
    pieces = {p["id"]: p for p in served("GET", "/api/pieces").json()}
    assert (pieces["cutter"]["coats"], pieces["cutter"]["findings"]) == (1, 1)
    defects = served("GET", "/api/defects").json()
    assert [d["key"] for d in defects] == [d.key for d in DEFECTS]
    assert all(d["drawing"].startswith("<svg") for d in defects)
    assert "good_evening" in served("GET", "/api/review/over-time").json()
    html = served("GET", "/api/pieces/cutter/report")
    assert html.status_code == 200 and one_line() in html.text.replace("&#39;", "'")
    pdf = served("GET", "/api/pieces/cutter/report.pdf?paper=letter")
    assert pdf.content.startswith(b"%PDF-")


def test_tables_of_the_pdf_do_not_take_a_swatchs_colour(reader: Reader) -> None:
    """Every fill in a paint's colour is one of the patches: target, result, batch."""
    dossier = read_dossier(reader, "cutter")
    patches = [
        *dossier.targets,
        *dossier.results,
        *(s for b in dossier.batches for s in b.swatches),
    ]
    content = report_pdf(dossier)
    streams = re.findall(rb"stream\n(.*?)\nendstream", content, re.DOTALL)
    page = b"".join(_inflated(stream) for stream in streams).decode("latin-1")
    filled, colour = [], ""
    for line in page.splitlines():
        if match := re.search(r"([\d.]+ [\d.]+ [\d.]+) rg", line):
            colour = match[1]
        elif re.search(r" g$", line):
            colour = "grey"
        if re.search(r" re (B|f)\b", line) and len(set(colour.split())) > 1:
            filled.append(colour)
    bands = sum(len(entry.traces) for entry in dossier.coats)
    assert len(filled) == len(patches) + bands


def _inflated(stream: bytes) -> bytes:
    try:
        return zlib.decompress(stream)
    except zlib.error:
        return b""
