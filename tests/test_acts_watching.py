"""Flags from raised to read, and the coat assessed from what is on record: nothing reassures by
being absent."""

import asyncio
import sqlite3
from contextlib import closing

import pytest

from sprayout.acts.watching import paint_rh_max_pct
from sprayout.climate.flags import FlagCleared, Level
from sprayout.errors import BadInput, StoreError
from sprayout.journal.records import Booth, Flag
from sprayout.safety.cautions import forbidden_words_in
from sprayout.safety.interlock import FanState
from tests.acts_bench import HOUR_MS, MINUTE_MS, HandBench, hand_bench

AIR = {"air_temperature": 21.0, "relative_humidity": 50.0}
HUMID = {"air_temperature": 21.0, "relative_humidity": 93.0}
CONFIRMED = FanState("confirmed", "Fan confirmed.")
NOTHING_AGAINST = "no reason found to stop"


@pytest.fixture
def bench(tmp_path):
    with hand_bench(tmp_path, room_volume_m3=40.0) as made:
        yield made


def run(act):
    return asyncio.run(act)


def up(bench: HandBench, key: str) -> Flag | None:
    return bench.watching.book.up.get(key)


# -- flags -------------------------------------------------------------------------------------


def test_a_bench_without_any_reading_says_so(bench):
    run(bench.watch(1))
    assert up(bench, "probe_silent") is not None
    assert bench.watching.film is None and bench.watching.forecast is None


def test_humid_air_is_flagged_kept_and_cleared(bench):
    async def evening():
        await bench.watch(2, **HUMID)
        flag = up(bench, "humid_blush_risk")
        await bench.watch(10, **AIR)
        return flag

    flag = run(evening())
    assert flag.level == "caution"
    now = up(bench, "humid_blush_risk")  # the reducer is not known, so a note stays
    assert now.level == "note" and now.id != flag.id
    (kept,) = [f for f in bench.reader.all(Flag) if f.id == flag.id]
    assert kept.raised_ms < kept.cleared_ms


def test_a_probe_that_falls_silent_does_not_clear_the_humid_flag(bench):
    async def evening():
        await bench.watch(2, **HUMID)
        assert up(bench, "humid_blush_risk") is not None
        await bench.watch(20)

    run(evening())
    assert up(bench, "humid_blush_risk") is not None
    assert up(bench, "probe_silent") is not None


def test_a_flag_is_read_by_a_named_person_and_its_level_stays(bench):
    async def evening():
        await bench.watch(2, **HUMID)
        flag = up(bench, "humid_blush_risk")
        for nobody in ("", "  "):
            with pytest.raises(BadInput, match="enter your name"):
                await bench.watching.acknowledge(flag.id, nobody)
        read = await bench.watching.acknowledge(flag.id, "A. Volunteer")
        return flag, read

    flag, read = run(evening())
    assert (read.level, read.acknowledged_by) == (flag.level, "A. Volunteer")
    assert bench.reader.get(Flag, flag.id).acknowledged_by == "A. Volunteer"


def test_the_watch_goes_on_while_the_store_is_locked_and_its_flags_are_kept(bench):
    """A full disk or another program's lock must not stop the flags."""

    async def locked(other):
        other.execute("BEGIN IMMEDIATE")
        for _ in range(6):
            bench.clock.pass_ms(5_000)
            bench.watching.take(bench.arrived(**HUMID))
            await bench.look()
        shown = up(bench, "humid_blush_risk")
        on_record = bench.reader.all(Flag)
        other.execute("ROLLBACK")
        await asyncio.to_thread(bench.writer.flush, 30.0)
        return shown, on_record

    with closing(sqlite3.connect(bench.store, isolation_level=None)) as other:
        shown, on_record = run(locked(other))
    assert shown is not None and on_record == []
    assert bench.reader.get(Flag, shown.id) == shown


def test_a_flag_read_on_another_screen_or_never_raised_is_named(bench):
    with pytest.raises(BadInput, match="wanted one that is up"):
        run(bench.watching.acknowledge("flag-none", "A. Volunteer"))


def test_flags_of_an_earlier_run_are_closed_and_raised_again_if_they_still_hold(bench):
    run(bench.watch(2, **HUMID))
    flag = up(bench, "humid_blush_risk")
    bench.clock.pass_ms(5 * MINUTE_MS)
    again = bench.again()
    try:
        run(again.take_over())
        assert again.reader.get(Flag, flag.id).cleared_ms is not None
        run(again.watch(2, **HUMID))
        assert again.watching.book.up["humid_blush_risk"].id != flag.id
    finally:
        again.close()


def test_a_clock_set_back_does_not_make_an_old_reading_fresh(bench):
    async def evening():
        await bench.watch(2, **AIR)
        bench.clock.set_by(-HOUR_MS)
        await bench.watch(10)

    run(evening())
    assert bench.watching.inputs(None, True).fresh_air_c() is None
    assert up(bench, "probe_silent") is not None


def test_readings_dated_before_a_clock_was_set_back_give_way_to_new_ones(bench):
    """The wall clock is put right by an hour; what the probe says from then on must count."""

    async def evening():
        await bench.watch(2, **AIR)
        bench.clock.set_by(-HOUR_MS)
        await bench.watch(10, **HUMID)

    run(evening())
    assert bench.watching.inputs(None, True).fresh_rh_pct() == 93.0
    assert up(bench, "humid_blush_risk") is not None


def test_the_fan_is_asked_for_while_a_coat_is_sprayed(bench):
    async def evening():
        await bench.ready_to_spray()
        coat = await bench.spraying.start("goods van", "tack coat")
        await bench.watch(2, **AIR)
        return coat

    coat = run(evening())
    flag = up(bench, "fan_not_confirmed")
    assert flag is not None and flag.coat == coat.id


def test_a_reducer_in_the_cup_makes_a_film_and_a_silent_probe_takes_it_away(bench):
    async def evening():
        await bench.shelf.put_reducer("thinner", {"acetone": 0.5, "toluene": 0.5})
        await bench.matching.start_batch("cup")
        await bench.matching.add("ochre", 20)
        await bench.matching.reduce("thinner", 1.0)
        await bench.watch(2, **HUMID)
        film = bench.watching.film
        await bench.watch(10)
        return film

    film = run(evening())
    assert film is not None and film.blush.margin_k < 0
    assert any("part is taken as warm as the air" in words for words in film.assumptions())
    assert bench.watching.film is None


def test_a_paint_without_a_sheet_is_held_to_the_usual_limit():
    assert paint_rh_max_pct(None) == 85.0


# -- the coat as a whole -----------------------------------------------------------------------


async def booth_of(bench: HandBench) -> None:
    await bench.ventilating.set_booth(
        Booth(
            id=bench.new_id("booth"), bench=bench.bench, name="booth", made_ms=bench.now_ms(),
            width_m=0.5, height_m=0.4, volume_m3=0.12, flow_m3h=360.0, note="ducted",
        )
    )  # fmt: skip


async def labelled(bench: HandBench, paint: str = "ochre", **label: object) -> None:
    usual = {"solvents": {"white spirit": 0.5}, "two_part": False, "solids_g_ml": 0.5}
    await bench.shelf.put_paint(paint, "enamel")
    await bench.shelf.put_label(paint, {**usual, **label})
    await bench.matching.start_batch("cup")
    await bench.matching.add(paint, 60)


def assessed(bench: HandBench, fan: FanState = CONFIRMED) -> dict:
    found = bench.exposing.assess(3.0, 10.0, 2, fan)
    assert forbidden_words_in(repr(found)) == ()
    assert len(found["cautions"]) >= 8
    return found


def findings(found: dict) -> dict[str, dict]:
    return {finding["key"]: finding for finding in found["findings"]}


def test_with_everything_entered_it_is_a_caution_at_best(bench):
    run(booth_of(bench))
    run(labelled(bench))
    found = assessed(bench)
    assert found["level"] != NOTHING_AGAINST
    assert findings(found)["product"]["level"] == NOTHING_AGAINST


def test_an_empty_cup_cannot_be_assessed(bench):
    run(booth_of(bench))
    found = assessed(bench)
    assert found["level"] not in (NOTHING_AGAINST, "caution")
    assert "product" in findings(found)


@pytest.mark.parametrize(
    "label",
    [
        {"two_part": True},
        {"label": "contains hexamethylene diisocyanate"},
        {"pigments": ["lead chromate"]},
    ],
)
def test_what_only_professionals_spray_is_refused_without_any_figure(bench, label):
    run(booth_of(bench))
    run(labelled(bench, **label))
    found = assessed(bench)
    assert found["level"] == "do not spray, get professional help"
    assert not {"breathing", "mist"} & findings(found).keys()


def test_one_two_part_bottle_in_a_cup_of_others_is_enough(bench):
    async def mix():
        await booth_of(bench)
        await labelled(bench)
        await bench.shelf.put_paint("hull lacquer", "lacquer")
        await bench.shelf.put_label("hull lacquer", {"two_part": True})
        await bench.matching.add("hull lacquer", 1)

    run(mix())
    assert assessed(bench)["level"] == "do not spray, get professional help"
    run(bench.matching.undo())  # it was not poured after all
    assert assessed(bench)["level"] != "do not spray, get professional help"


@pytest.mark.parametrize("missing", ["solvents", "two_part"])
def test_a_label_with_a_gap_cannot_be_assessed(bench, missing):
    async def mix():
        await booth_of(bench)
        await bench.shelf.put_paint("ochre", "enamel")
        label = {"solvents": {"white spirit": 0.5}, "two_part": False, "solids_g_ml": 0.5}
        del label[missing]
        await bench.shelf.put_label("ochre", label)
        await bench.matching.start_batch("cup")
        await bench.matching.add("ochre", 60)

    run(mix())
    assert assessed(bench)["level"] not in (NOTHING_AGAINST, "caution")


def test_a_bottle_whose_label_nobody_entered_spoils_the_assessment_of_the_cup(bench):
    async def mix():
        await booth_of(bench)
        await labelled(bench)
        await bench.matching.add("unlabelled blue", 1)

    run(mix())
    assert assessed(bench)["level"] not in (NOTHING_AGAINST, "caution")


def test_a_solvent_nobody_knows_is_no_reassurance(bench):
    run(booth_of(bench))
    run(labelled(bench, solvents={"moonshine": 0.5}, no_data=["moonshine"]))
    assert assessed(bench)["level"] not in (NOTHING_AGAINST, "caution")


def test_a_reducer_that_is_no_longer_on_the_shelf_cannot_be_assessed(bench):
    async def mix():
        await booth_of(bench)
        await labelled(bench)
        await bench.shelf.put_reducer("thinner", {"toluene": 1.0})
        await bench.matching.reduce("thinner", 1.0)
        bench.shelf.reducers.clear()

    run(mix())
    assert assessed(bench)["level"] not in (NOTHING_AGAINST, "caution")


def test_no_booth_no_assessment(bench):
    run(labelled(bench))
    assert assessed(bench)["level"] not in (NOTHING_AGAINST, "caution")


def test_a_fan_that_is_not_confirmed_is_never_better_than_one_that_is(bench):
    run(booth_of(bench))
    run(labelled(bench))
    unknown = findings(assessed(bench, FanState("unknown", "Fan not read.")))["fan"]
    assert unknown["level"] not in (NOTHING_AGAINST, "caution")


def test_words_on_the_cup_name_the_refusal(bench):
    run(labelled(bench, label="contains isocyanates"))
    assert bench.exposing.refusals()
    run(bench.matching.undo())
    assert bench.exposing.refusals() == ()


def test_a_flag_whose_reading_could_not_be_kept_is_not_shown_as_read(bench):
    """Another program holds the store: the act fails with words, the flag still asks to be read."""

    async def evening(other):
        await bench.watch(2, **HUMID)
        flag = up(bench, "humid_blush_risk")
        await asyncio.to_thread(bench.writer.flush, 30.0)
        other.execute("BEGIN IMMEDIATE")
        with pytest.raises(StoreError):
            await bench.watching.acknowledge(flag.id, "A. Volunteer")
        other.execute("ROLLBACK")
        await asyncio.to_thread(bench.writer.flush, 30.0)
        return flag

    with closing(sqlite3.connect(bench.store, isolation_level=None)) as other:
        flag = run(evening(other))
    assert up(bench, "humid_blush_risk").acknowledged_by is None
    assert bench.reader.get(Flag, flag.id).acknowledged_by is None


def flag_ids(bench):
    return {f.id for f in bench.watching.book.shown() if f.key == "humid_blush_risk"}


def test_a_flag_that_comes_down_while_it_is_read_is_both_on_record(bench):
    async def evening():
        await bench.watch(2, **HUMID)
        flag = up(bench, "humid_blush_risk")
        read = bench.watching.book.acknowledged(flag.id, "A. Volunteer", bench.now_ms())
        (closed,) = bench.watching.book.apply(
            [FlagCleared(flag.key, flag.title, Level.CAUTION, bench.now_ms(), "dry again")], None
        )
        return closed, bench.watching.book.take_read(read)

    closed, together = run(evening())
    assert together.cleared_ms == closed.cleared_ms is not None
    assert together.acknowledged_by == "A. Volunteer"
    assert flag_ids(bench) == set()
