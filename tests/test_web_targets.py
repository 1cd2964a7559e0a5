"""Targets, variants, charts, check tiles and colours worked out again, over HTTP."""

import base64
import importlib.util
import io
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from typing import Any

import httpx
import pytest
from PIL import Image

from sprayout.colour.difference import ciede2000
from sprayout.commands.benchmarks.page_bench import PageBench, page_bench

needs_table = pytest.mark.skipif(
    importlib.util.find_spec("colour") is None, reason="colour-science is not installed"
)


@pytest.fixture(scope="module")
def bench(tmp_path_factory: pytest.TempPathFactory) -> Iterator[PageBench]:
    with page_bench(tmp_path_factory.mktemp("targets"), speed=20.0) as running:
        running.calibrate()
        yield running


@pytest.fixture(scope="module")
def screen(bench: PageBench) -> Iterator[httpx.Client]:
    with httpx.Client(base_url=bench.address, timeout=60) as client:
        yield client


def done(answer: httpx.Response) -> Any:
    assert answer.status_code == 200, answer.text
    return answer.json()


def refused(answer: httpx.Response, words: str) -> None:
    assert 400 <= answer.status_code < 500, answer.text
    assert words in answer.json()["error"]


def picture(colour: tuple[int, int, int], card: tuple[int, int, int] = (230, 230, 230)) -> str:
    """A card and a patch of one colour, as PNG in base64."""
    image = Image.new("RGB", (60, 40), card)
    image.paste(colour, (30, 0, 60, 40))
    kept = io.BytesIO()
    image.save(kept, "PNG")
    return base64.b64encode(kept.getvalue()).decode()


def photographed(name: str, *pictures: dict[str, Any], **more: Any) -> dict[str, Any]:
    usual = {"media_type": "image/png", "patch": [35, 5, 20, 20]}
    return {"name": name, "pictures": [usual | one for one in pictures], **more}


def test_a_lab_is_carried_over_from_the_light_it_is_stated_for(screen: httpx.Client) -> None:
    form = {"name": "stated for lamps", "lab": [45, 30, 28], "illuminant": "a", "observer": 10}
    target = done(screen.post("/api/targets", json=form))
    assert target["origin"] == "typed" and target["white"] == "d65-10"
    assert target["u95_de00"] > 0.1
    assert "stated as L 45 a 30 b 28 for A/10" in target["note"]
    assert float(ciede2000(target["lab"], form["lab"])) > 1.0


def test_a_lab_for_one_of_our_whites_stays_as_typed(screen: httpx.Client) -> None:
    form = {"name": "as printed", "lab": [45, 30, 28], "illuminant": "d50", "observer": 2}
    target = done(screen.post("/api/targets", json=form))
    assert (target["lab"], target["white"], target["u95_de00"]) == ([45, 30, 28], "d50-2", None)


@pytest.mark.parametrize(
    ("form", "words"),
    [
        ({}, "wanted lab, munsell or measure"),
        ({"lab": [50, 0, 0], "munsell": "N 5"}, "wanted lab, munsell or measure"),
        ({"lab": [50, 0, 0], "illuminant": "a"}, "wanted illuminant and observer together"),
        ({"munsell": "N 5", "illuminant": "a", "observer": 2}, "belong to a typed lab"),
        ({"munsell": "red"}, "munsell: got 'red'"),
        ({"munsell": "5Q 5/4"}, "got hue Q"),
        ({"lab": [150, 0, 0]}, "got L* 150"),
        ({"measure": True, "u95_de00": 1}, "u95_de00 of a measured colour"),
        ({"measure": True, "illuminant": "a", "observer": 2}, "belong to a typed lab"),
        ({"lab": [50, 0, 0], "illuminant": "f11", "observer": 2}, "illuminant: got 'f11'"),
    ],
)
def test_a_target_that_cannot_be_is_refused(screen: httpx.Client, form: Any, words: str) -> None:
    before = done(screen.get("/api/targets"))
    refused(screen.post("/api/targets", json={"name": "not so", **form}), words)
    assert done(screen.get("/api/targets")) == before


@needs_table
def test_munsell_notation_makes_a_target(screen: httpx.Client) -> None:
    target = done(screen.post("/api/targets", json={"name": "oxide", "munsell": "10R 3/6"}))
    assert target["origin"] == "munsell" and target["note"].startswith("10R 3/6; the Munsell table")
    assert target["lab"][0] == pytest.approx(30, abs=2) and target["lab"][1] > 15
    refused(screen.post("/api/targets", json={"name": "x", "munsell": "5R 5/50"}), "5R 5/50 lies")


def test_photographs_give_a_guide_and_are_kept(screen: httpx.Client) -> None:
    pictures = [
        {"name": "museum.png", "data_base64": picture((40, 70, 120)), "neutral": [2, 2, 20, 20]},
        {"name": "catalogue.png", "data_base64": picture((44, 72, 118))},
    ]
    target = done(
        screen.post("/api/targets/photographs", json=photographed("hull from photos", *pictures))
    )
    assert target["origin"] == "photographs" and target["u95_de00"] >= 5.0
    assert "a guide to the colour, not a measurement" in target["note"]
    assert len(target["photos"]) == 2
    assert screen.get(f"/api/photos/{target['photos'][0]}").content.startswith(b"\x89PNG")


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"data_base64": "!!!!"}, "not base64"),
        ({"data_base64": base64.b64encode(b"no picture at all").decode()}, "not a picture"),
        ({"patch": [50, 5, 20, 20]}, "outside its 60 x 40 pixels"),
        ({"patch": [0, 0, 2, 2]}, "wanted at least 9"),
        ({"data_base64": picture((255, 255, 255))}, "burnt out"),
        ({"media_type": "text/html"}, "media_type"),
    ],
)
def test_a_picture_that_cannot_serve_is_refused(
    screen: httpx.Client, change: dict[str, Any], words: str
) -> None:
    one = {"name": "yard.png", "data_base64": picture((40, 70, 120)), **change}
    refused(screen.post("/api/targets/photographs", json=photographed("hull", one)), words)


def test_variants_stand_side_by_side_the_newest_of_each_name(screen: httpx.Client) -> None:
    for name, lightness in (("early", 35), ("late", 42), ("early", 36)):
        form = {"name": name, "lab": [lightness, 0, -30], "variant_of": "pilot cutter"}
        assert done(screen.post("/api/targets", json=form))["variant_of"] == "pilot cutter"
    (model,) = done(screen.get("/api/variants"))
    assert model["name"] == "pilot cutter"
    assert [(t["name"], t["lab"][0]) for t in model["targets"]] == [("early", 36), ("late", 42)]
    assert all("de00_last" in target for target in model["targets"])
    assert model["itself"] is None
    # The model stands beside its shades as soon as a target has its name.
    done(screen.post("/api/targets", json={"name": "pilot cutter", "lab": [38, 0, -30]}))
    (model,) = done(screen.get("/api/variants"))
    assert (model["itself"]["name"], model["itself"]["lab"][0]) == ("pilot cutter", 38)
    assert "de00_last" in model["itself"] and len(model["targets"]) == 2
    done(screen.post("/api/targets", json={**form, "name": "pilot cutter"}))
    (model,) = done(screen.get("/api/variants"))
    assert model["itself"] is None and len(model["targets"]) == 3


def test_a_target_is_measured_over_several_spots(bench: PageBench, screen: httpx.Client) -> None:
    bench.world.place("quay-crane ochre")
    for n in (1, 2, 3):
        assert done(screen.post("/api/placements"))["placements"] == n
    # A name that is none takes no placement away.
    before = done(screen.get("/api/placements"))
    refused(screen.post("/api/targets", json={"name": " ", "measure": True}), "target")
    assert done(screen.get("/api/placements")) == before
    target = done(screen.post("/api/targets", json={"name": "averaged", "measure": True}))
    assert target["origin"] == "measured" and target["u95_de00"] > 0
    assert done(screen.get("/api/placements"))["placements"] == []
    kept = done(screen.get(f"/api/swatches/{target['swatch']}"))
    assert kept["placements"] == 3 and kept["repeats"] == 12
    assert len(kept["ambient"]) == len(kept["counts"])


def test_the_calibration_tells_of_itself(bench: PageBench, screen: httpx.Client) -> None:
    told = done(screen.get("/api/calibration"))
    assert told["sensor"] == "spectral-8" and told["gain"] > 0 and told["device"]
    assert told["formula"] == told["formula_now"] and told["due"] == []
    bench.world.place("white tile")
    for _ in range(2):
        done(screen.post("/api/calibration/check", json={"name": "grey tile"}))
    series = done(screen.get("/api/calibration/checks", params={"ever": True}))
    assert [row["name"] for row in series] == ["grey tile", "grey tile"]
    assert series[0]["de00"] is None and series[1]["de00"] < 0.7
    assert done(screen.get("/api/calibration"))["check"]["last_de00"] < 0.7


def test_charts_name_their_patches_and_a_patch_may_be_sent_by_name(screen: httpx.Client) -> None:
    (chart,) = done(screen.get("/api/charts"))
    assert len(chart["patches"]) == 24 and "ISO 17321-1" in chart["source"]
    form = {"name": "no such", "chart": chart["name"]}
    refused(screen.post("/api/calibration/patches", json=form), "not on chart iso-17321-1")
    refused(screen.post("/api/calibration/patches", json={**form, "chart": "x"}), "chart: got 'x'")
    both = {"name": "red", "chart": chart["name"], "lab_d50_2": [40, 50, 30]}
    refused(screen.post("/api/calibration/patches", json=both), "not both")


def test_swatches_of_today_need_no_rework(screen: httpx.Client) -> None:
    swatch = done(screen.post("/api/swatches", json={}))
    answer = done(screen.post(f"/api/swatches/{swatch['id']}/rework"))
    assert answer["done"] == answer["left"] == []
    assert done(screen.get(f"/api/swatches/{swatch['id']}/former")) == []
    refused(screen.post("/api/swatches/none/rework"), "wanted one on record")


def test_an_old_swatch_is_worked_out_again_and_shown_beside_what_it_was(
    bench: PageBench, screen: httpx.Client
) -> None:
    bench.world.place("quay-crane ochre")
    swatch = done(screen.post("/api/swatches", json={}))
    with closing(sqlite3.connect(bench.folder / "bench.sqlite")) as store, store:
        store.execute("UPDATE swatch SET formula = 'of old' WHERE id = ?", (swatch["id"],))
    (row,) = done(screen.post(f"/api/swatches/{swatch['id']}/rework"))["done"]
    assert set(swatch) <= set(row) and row["id"] == swatch["id"]
    assert row["was"]["formula"] == "of old" and row["was"]["lab"] == swatch["lab"]
    assert row["lab"] == pytest.approx(swatch["lab"], abs=0.03) and row["moved_de00"] < 0.05
    (former,) = done(screen.get(f"/api/swatches/{swatch['id']}/former"))
    assert former["formula"] == "of old"
