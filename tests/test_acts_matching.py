"""Target, cup and ledger: what is refused, what two screens may do at once, what a restart does."""

import asyncio
import math

import pytest

from sprayout.acts.advising import in_order
from sprayout.acts.matching import is_of_cup, noted
from sprayout.errors import BadInput
from sprayout.journal.records import Batch, BatchAddition, Paint, Reducer, Swatch
from tests.acts_bench import HOUR_MS, HandBench, hand_bench

LAB = (46.0, 2.0, -28.0)


@pytest.fixture
def bench(tmp_path):
    with hand_bench(tmp_path) as made:
        yield made


def run(act):
    return asyncio.run(act)


async def cup_of(bench: HandBench, **drops: int) -> Batch:
    batch = await bench.matching.start_batch("cup")
    for paint, count in drops.items():
        await bench.matching.add(paint, count)
    return batch


@pytest.mark.parametrize(
    ("lab", "words"),
    [
        ((140.0, 0.0, 0.0), "L* 140, wanted 0 to 100"),
        ((-1.0, 0.0, 0.0), "L* -1"),
        ((math.nan, 0.0, 0.0), "wanted 0 to 100"),
        ((50.0, math.inf, 0.0), "wanted 0 to 100"),
        ((50.0, 0.0, 400.0), "check the signs"),
    ],
)
def test_a_lab_that_no_surface_has_is_refused(bench, lab, words):
    with pytest.raises(BadInput, match=words.replace("*", r"\*")):
        run(bench.matching.set_target("hull", lab))
    assert bench.matching.target is None and bench.told == []


@pytest.mark.parametrize("name", ["", "   ", "\t\n", "x" * 121])
def test_what_has_no_name_is_refused(bench, name):
    acts = (bench.matching.set_target(name, LAB), bench.matching.start_batch(name))
    for act in acts:
        with pytest.raises(BadInput, match="wanted 1 to 120"):
            run(act)
    assert bench.reader.all(Batch) == []


def test_names_are_put_in_order(bench):
    assert run(bench.matching.set_target("  hull \n blue ", LAB)).name == "hull blue"


def test_drops_before_a_cup_are_refused_and_put_no_bottle_on_the_shelf(bench):
    with pytest.raises(BadInput, match="no batch yet; start one first"):
        run(bench.matching.add("smokebox red oxide", 3))
    assert bench.reader.all(Paint) == [] and bench.shelf.paints == {}


@pytest.mark.parametrize("drops", [0, -3, 2001])
def test_impossible_drops_are_refused(bench, drops):
    run(cup_of(bench))
    with pytest.raises(BadInput, match=f"got {drops} drops, wanted 1 to 2000"):
        run(bench.matching.add("ice-van white", drops))
    assert bench.matching.contents() == {}


@pytest.mark.parametrize("drop_ml", [0.0, -0.05, 3.0, math.nan])
def test_a_drop_that_no_dropper_gives_is_refused(bench, drop_ml):
    with pytest.raises(BadInput, match=r"wanted 0\.005 to 0\.5 mL"):
        run(bench.matching.start_batch("cup", drop_ml))
    assert bench.matching.batch is None


def test_a_paint_that_is_not_on_the_shelf_is_put_there_with_its_first_drops(bench):
    run(cup_of(bench, ochre=4))
    (paint,) = bench.reader.all(Paint)
    assert (paint.name, paint.details["swatches"]) == ("ochre", [])
    assert bench.matching.contents() == {"ochre": 4}


def test_a_reducer_nobody_knows_is_refused_with_those_that_are_there(bench):
    run(cup_of(bench, ochre=4))
    with pytest.raises(BadInput, match=r"'thiner' is not on the shelf \(there: none yet\)"):
        run(bench.matching.reduce("thiner", 1.0))
    run(bench.shelf.put_reducer("thinner", {"toluene": 1.0}))
    with pytest.raises(BadInput, match=r"there: thinner"):
        run(bench.matching.reduce("thiner", 1.0))
    assert bench.matching.blend() is None


@pytest.mark.parametrize("ml", [0.0, -1.0, 501.0, math.nan, math.inf])
def test_an_impossible_volume_of_reducer_is_refused(bench, ml):
    run(cup_of(bench, ochre=4))
    run(bench.shelf.put_reducer("thinner", {"toluene": 1.0}))
    with pytest.raises(BadInput, match="wanted more than 0 and at most 500"):
        run(bench.matching.reduce("thinner", ml))


def test_undo_takes_back_one_line_at_a_time_and_keeps_what_it_said(bench):
    run(cup_of(bench, ochre=4, white=7))
    changed = run(bench.matching.undo())
    assert (changed.drops, changed.note) == (0, "taken back: 7 drops")
    assert bench.matching.contents() == {"ochre": 4}
    run(bench.matching.undo())
    with pytest.raises(BadInput, match="nothing to take back"):
        run(bench.matching.undo())
    assert [line.drops for line in bench.reader.all(BatchAddition)] == [0, 0]
    assert len(bench.matching.additions) == 2  # the lines stay


def test_undo_of_a_reducer_takes_it_out_of_the_blend(bench):
    run(cup_of(bench, ochre=4))
    run(bench.shelf.put_reducer("thinner", {"toluene": 1.0}))
    run(bench.matching.reduce("thinner", 2.0))
    assert bench.matching.blend() is not None
    assert run(bench.matching.undo()).note == "taken back: 2 mL"
    assert bench.matching.blend() is None


def test_two_screens_that_tap_one_dose_pour_it_once(bench):
    async def tap():
        await cup_of(bench, ochre=4)
        lines = len(bench.matching.additions)
        return await asyncio.gather(
            *(bench.matching.add("white", 9, lines) for _ in range(3)), return_exceptions=True
        )

    answers = run(tap())
    refused = [str(a) for a in answers if isinstance(a, BadInput)]
    assert len(refused) == 2 and "another screen has written" in refused[0]
    assert bench.matching.contents() == {"ochre": 4, "white": 9}


def test_a_double_tap_on_undo_takes_back_two_lines_and_no_line_twice(bench):
    async def tap():
        await cup_of(bench, ochre=4, white=7, blue=1)
        return await asyncio.gather(bench.matching.undo(), bench.matching.undo())

    first, second = run(tap())
    assert first.id != second.id
    assert bench.matching.contents() == {"ochre": 4}


def test_drops_poured_while_a_new_cup_is_begun_stay_in_their_own_cup(bench):
    async def at_once():
        old = await cup_of(bench)
        poured, new = await asyncio.gather(
            bench.matching.add("ochre", 4), bench.matching.start_batch("next cup")
        )
        return old, poured, new

    old, poured, new = run(at_once())
    assert poured.batch == old.id
    assert bench.matching.batch.id == new.id and bench.matching.additions == []


def test_a_restart_goes_on_with_cup_ledger_and_what_was_taken_back(bench):
    async def before():
        await bench.matching.set_target("hull", LAB)
        await cup_of(bench, ochre=4, white=7)
        await bench.matching.undo()

    run(before())
    again = bench.again()
    try:
        run(again.take_over())
        assert again.matching.target.name == "hull"
        assert again.matching.contents() == {"ochre": 4}
        assert [a.drops for a in again.matching.additions] == [4, 0]
        with pytest.raises(BadInput, match="another screen has written"):
            run(again.matching.add("white", 1, lines=1))
    finally:
        again.close()


def test_a_restart_steers_the_cup_to_the_target_it_was_begun_for(bench):
    async def before():
        first = await bench.matching.set_target("hull", LAB)
        bench.clock.pass_ms(1000)
        await bench.matching.set_target("ochre", (60.0, 10.0, 40.0))
        bench.clock.pass_ms(1000)
        await bench.matching.choose_target(first.id)
        await cup_of(bench, ochre=4)

    run(before())
    again = bench.again()
    try:
        run(again.take_over())
        assert again.matching.target.name == "hull"
    finally:
        again.close()


def test_a_target_that_is_not_on_record_is_refused(bench):
    run(bench.matching.set_target("hull", LAB))
    with pytest.raises(BadInput, match="wanted one on record"):
        run(bench.matching.choose_target("target-none"))
    assert bench.matching.target.name == "hull"


def test_a_clock_set_back_does_not_turn_the_ledger_round(bench):
    async def evening():
        await cup_of(bench, ochre=4)
        bench.clock.set_by(-3 * HOUR_MS)
        await bench.matching.add("white", 7)
        await bench.matching.undo()
        await bench.matching.add("blue", 2)

    run(evening())
    again = bench.again()
    try:
        run(again.take_over())
        names = [again.shelf.name_of(a.paint) for a in again.matching.additions]
        assert names == ["ochre", "white", "blue"]
    finally:
        again.close()


def test_a_reading_after_the_clock_was_set_back_counts_for_the_drops_before_it(bench):
    async def evening():
        batch = await cup_of(bench, ochre=4)
        bench.clock.set_by(-HOUR_MS)
        swatch = reading(bench, batch.id, bench.matching.moment_ms())
        await bench.commit([swatch])
        bench.matching.take_swatch(swatch)
        await bench.matching.add("white", 1)

    run(evening())
    order = in_order(bench.matching.additions, bench.matching.readings)
    assert [type(event).__name__ for event in order] == [
        "BatchAddition", "Swatch", "BatchAddition",
    ]  # fmt: skip


def reading(bench: HandBench, batch: str, at_ms: int, note: str = "") -> Swatch:
    return Swatch(
        id=bench.new_id("swatch"), bench=bench.bench, device="board", at_ms=at_ms,
        channels=("f1",), counts=(1.0,), white="d65-10", lab=LAB, u95_de00=0.3, batch=batch,
        note=note,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("of", "note", "kept"),
    [
        ("cup", "", ""),
        ("cup", "stirred twice", "stirred twice"),
        ("cup", "coated stick", "cup coated stick"),
        ("cup", "base of the jar", "cup base of the jar"),
        ("base", "", "base"),
        ("dry card", "an hour old", "dry card an hour old"),
    ],
)
def test_a_note_does_not_change_what_a_swatch_was_taken_of(bench, of, note, kept):
    assert noted(of, note) == kept
    assert is_of_cup(reading(bench, "b", 0, noted(of, note))) == (of == "cup")


def test_a_reading_of_a_cup_put_away_is_not_taken_for_the_one_in_hand(bench):
    old = run(cup_of(bench, ochre=4))
    run(cup_of(bench, white=1))
    bench.matching.take_swatch(reading(bench, old.id, 0))
    assert bench.matching.readings == []


def test_a_blend_is_by_volume_over_several_reducers(bench):
    async def thin():
        await cup_of(bench, ochre=4)
        await bench.shelf.put_reducer("fast", {"acetone": 1.0})
        await bench.shelf.put_reducer("slow", {"n-butanol": 1.0})
        await bench.matching.reduce("fast", 1.0)
        await bench.matching.reduce("slow", 2.0)
        await bench.matching.reduce("fast", 1.0)

    run(thin())
    words = bench.matching.blend().words()
    assert "50 % acetone" in words and "50 % n-butanol" in words


def test_one_reducer_that_cannot_be_read_leaves_the_whole_blend_unknown(bench):
    async def thin():
        await cup_of(bench, ochre=4)
        await bench.shelf.put_reducer("fast", {"acetone": 1.0})
        await bench.matching.reduce("fast", 1.0)
        odd = Reducer(id="r-odd", bench="bench", name="odd", made_ms=0, solvents={"moonshine": 1.0})
        await bench.commit([odd])  # as an import may bring it
        bench.shelf.take_over()
        await bench.matching.reduce("odd", 1.0)

    run(thin())
    assert bench.matching.blend() is None
    assert bench.matching.film_unknown() == "no data on moonshine in odd"
