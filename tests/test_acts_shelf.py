"""Bottles on the shelf: what is said of them is checked before it is kept."""

import asyncio

import pytest

from sprayout.errors import BadInput
from sprayout.journal.records import BatchAddition, Paint, Reducer, Swatch
from sprayout.safety.interlock import FanState
from tests.acts_bench import HandBench, hand_bench

UNKNOWN = FanState("unknown", "Fan not read.")
BANDS_NM = (410.0, 440.0, 470.0, 510.0, 550.0, 583.0, 620.0, 670.0)


@pytest.fixture
def bench(tmp_path):
    with hand_bench(tmp_path) as made:
        yield made


def run(act):
    return asyncio.run(act)


def flat(bench: HandBench, reflectance: float) -> Swatch:
    return Swatch(
        id=bench.new_id("swatch"), bench=bench.bench, device="board", at_ms=bench.now_ms(),
        channels=("f1",), counts=(1.0,), white="d65-10", lab=(50.0, 0.0, 0.0), u95_de00=0.3,
        wavelength_nm=BANDS_NM, reflectance=(reflectance,) * len(BANDS_NM),
    )  # fmt: skip


def test_a_family_nobody_sells_is_refused(bench):
    with pytest.raises(BadInput, match="got family 'oil', wanted one of enamel, lacquer, acrylic"):
        run(bench.shelf.put_paint("ochre", "oil"))
    assert bench.reader.all(Paint) == []


def test_a_bottle_that_is_corrected_stays_one_bottle_with_its_swatches(bench):
    async def correct():
        await bench.shelf.put_paint("ochre", "enamel")
        await bench.shelf.keep_swatch({"ochre": 1}, None, flat(bench, 0.4))
        await bench.shelf.put_paint("ochre", "lacquer", drop_ml=0.04)

    run(correct())
    (paint,) = bench.reader.all(Paint)
    assert (paint.type, paint.details["drop_ml"]) == ("lacquer", 0.04)
    assert len(paint.details["swatches"]) == 1


@pytest.mark.parametrize(
    ("parts", "over", "words"),
    [
        ({}, None, "no paint is not on the shelf"),
        ({"ocher": 1.0}, None, "ocher is not on the shelf"),
        ({"ochre": 0.0}, None, "must be more than 0"),
        ({"ochre": float("nan")}, None, "must be more than 0"),
        ({"ochre": 1.0}, "blue", "got over 'blue'"),
    ],
)
def test_a_swatch_of_what_is_not_there_is_refused(bench, parts, over, words):
    run(bench.shelf.put_paint("ochre", "enamel"))
    with pytest.raises(BadInput, match=words):
        run(bench.shelf.keep_swatch(parts, over, flat(bench, 0.4)))
    assert bench.reader.all(Swatch) == []
    assert bench.shelf.paint("ochre").details["swatches"] == []


def test_a_swatch_belongs_to_the_paint_that_is_not_the_white(bench):
    async def two():
        await bench.shelf.put_paint("ice-van white", "enamel", white=True)
        await bench.shelf.put_paint("ochre", "enamel")

    run(two())
    assert bench.shelf.owner({"ice-van white": 20, "ochre": 2}, None).name == "ochre"
    assert bench.shelf.owner({"ice-van white": 20}, None).name == "ice-van white"


def test_label_and_limits_of_a_paint_that_is_not_there_are_refused(bench):
    with pytest.raises(BadInput, match="not on the shelf; put it there first"):
        run(bench.shelf.put_label("ochre", {"two_part": False}))
    with pytest.raises(BadInput, match="not on the shelf; put it there first"):
        run(bench.shelf.put_limits("ochre", {"dries_by": "cure"}))


@pytest.mark.parametrize(
    "label", [{"solvents": {"toluene": -0.5}}, {"solvents": {"toluene": 3.0}}, {"two_part": "?"}]
)
def test_a_label_that_cannot_be_read_changes_nothing(bench, label):
    before = run(bench.shelf.put_paint("ochre", "enamel"))
    with pytest.raises(BadInput):
        run(bench.shelf.put_label("ochre", label))
    assert bench.shelf.paint("ochre") == before == bench.reader.all(Paint)[0]


def test_limits_are_those_of_what_there_is_most_of(bench):
    async def two():
        for name, rh in (("ochre", 80), ("white", 70)):
            await bench.shelf.put_paint(name, "enamel")
            await bench.shelf.put_limits(name, {"dries_by": "cure", "rh_max_pct": rh})

    run(two())
    assert bench.shelf.limits_of({"ochre": 3, "white": 30}).rh_max_pct == 70
    assert bench.shelf.limits_of({"unknown": 3}) is None
    assert bench.shelf.limits_of({}) is None


def test_what_an_import_brought_and_nobody_can_read_does_not_stop_the_watch(bench):
    """A record the rules of this version do not take is named; all else goes on."""
    details = {"swatches": [], "limits": {"name": "odd", "dries_by": "moonlight"}}
    odd = Paint(id="p-odd", bench="bench", name="odd", made_ms=0, type="enamel", details=details)
    bad = Reducer(id="r-odd", bench="bench", name="odd", made_ms=0, solvents={"toluene": "much"})
    run(bench.commit([odd, bad]))
    bench.shelf.take_over()
    assert bench.shelf.limits_of({"odd": 5}) is None
    assert bench.shelf.blend("r-odd") is None
    assert ["limits of odd" in w or "solvents of odd" in w for w in bench.notices] == [True, True]


@pytest.mark.parametrize("solvents", [{}, {"moonshine": 1.0}, {"toluene": -1.0}, {"toluene": 0.4}])
def test_a_reducer_whose_solvents_do_not_add_up_is_refused(bench, solvents):
    with pytest.raises(BadInput):
        run(bench.shelf.put_reducer("thinner", solvents))
    assert bench.reader.all(Reducer) == [] and bench.shelf.reducers == {}


def test_the_shelf_is_the_same_after_a_restart(bench):
    async def fill():
        await bench.shelf.put_paint("ochre", "enamel")
        await bench.shelf.put_reducer("thinner", {"toluene": 100})

    run(fill())
    again = bench.again()
    try:
        run(again.take_over())
        assert again.shelf.paints == bench.shelf.paints
        assert again.shelf.reducers == bench.shelf.reducers
    finally:
        again.close()


@pytest.mark.parametrize(
    ("line", "ml", "drops"),
    [
        ({"drops": 12}, 0.48, 12.0),
        ({"grams": 1.25}, 1.0, 25.0),
        ({"drops": 0}, None, 0.0),
        ({"grams": 0.0}, 0.0, 0.0),
    ],
)
def test_a_line_is_a_volume_and_drops_whichever_way_it_was_entered(bench, line, ml, drops):
    """0.04 mL a drop, 1.25 g/mL."""
    paint = run(bench.shelf.put_paint("ochre", "enamel", drop_ml=0.04, density_g_ml=1.25))
    entered = BatchAddition(id="a", bench="bench", batch="b", at_ms=0, paint=paint.id, **line)
    assert bench.shelf.ml_of(entered) == (None if ml is None else pytest.approx(ml))
    assert bench.shelf.drops_of(entered) == pytest.approx(drops)


def test_grams_of_an_unknown_density_are_no_volume_but_still_drops_with_a_note(bench):
    paint = run(bench.shelf.put_paint("ochre", "enamel", drop_ml=0.04))
    entered = BatchAddition(id="a", bench="bench", batch="b", at_ms=0, paint=paint.id, grams=1.0)
    assert bench.shelf.ml_of(entered) is None
    assert bench.shelf.drops_of(entered) == pytest.approx(25.0)
    (note,) = bench.shelf.weighed_blind([entered, entered])
    assert "ochre" in note and "density is not known" in note


LABEL = {"solvents": {"xylene": 0.5}, "two_part": False, "label": "enamel", "solids_g_ml": 0.5}


def test_a_cup_of_which_a_volume_is_not_known_cannot_be_assessed(bench):
    async def cup():
        for name in ("ochre", "umber"):
            await bench.shelf.put_paint(name, "enamel")
            await bench.shelf.put_label(name, LABEL)
        batch = await bench.matching.start_batch("cup")
        await bench.matching.add("umber", drops=20)
        known = bench.exposing.assess(1.0, 5.0, 1, UNKNOWN)
        weighed = BatchAddition(id="a", bench="bench", batch=batch.id, at_ms=bench.now_ms(),
                                paint=bench.shelf.paints["ochre"].id, grams=1.0)  # fmt: skip
        bench.matching.additions.append(weighed)  # as an import would leave it
        return known, bench.exposing.assess(1.0, 5.0, 1, UNKNOWN)

    known, blind = run(cup())
    assert product_of(known)["level"] == "no reason found to stop"
    found = product_of(blind)
    assert found["level"] == "cannot assess"
    assert "It is ochre (how much went in is not known)" in found["words"]


def product_of(assessment):
    return next(one for one in assessment["findings"] if one["key"] == "product")


def test_a_paint_taken_back_gives_no_limits_to_the_assessment(bench):
    async def cup():
        await bench.shelf.put_paint("ochre", "enamel")
        await bench.shelf.put_label("ochre", {**LABEL, "data_sheet_limits_ppm": {"xylene": 20}})
        await bench.matching.start_batch("cup")
        await bench.matching.add("ochre", 5)
        poured = bench.exposing._sheet()
        await bench.matching.undo()
        return poured, bench.exposing._sheet()

    assert run(cup()) == ({"data_sheet_limits_ppm": {"xylene": 20.0}}, {})


def test_what_a_cup_holds_is_assessed_alike_weighed_or_counted(bench):
    async def cup(**amount):
        await bench.matching.start_batch("cup")
        await bench.matching.add("ochre", **amount)
        return bench.exposing._product()

    run(bench.shelf.put_paint("ochre", "enamel", drop_ml=0.04, density_g_ml=1.25))
    counted, weighed = run(cup(drops=25)), run(cup(grams=1.25))
    assert counted["bottles"][0]["ml"] == weighed["bottles"][0]["ml"] == pytest.approx(1.0)
