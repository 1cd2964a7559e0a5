"""Calibrating and measuring on the board's own program, and the advice that rests on it."""

import asyncio
from dataclasses import replace

import pytest

from sprayout.acts.measuring import known_sensor
from sprayout.errors import BadInput, BoardFault, CalibrationRefused, LinkError
from sprayout.journal.records import Calibration, Paint, Swatch, Target
from sprayout.sim.painter import LIGHT_PAINT, TINTS
from tests.acts_bench import HandBench, hand_bench, spectrum_of

HULL = "pilot cutter hull blue"


@pytest.fixture
def bench(tmp_path):
    with hand_bench(tmp_path, board=True) as made:
        yield made


def run(act):
    return asyncio.run(act)


# -- the board ---------------------------------------------------------------------------------


def test_without_a_board_every_measurement_says_so(tmp_path):
    with hand_bench(tmp_path) as bench:
        for act in (bench.measuring.dark, bench.measuring.swatch, bench.measuring.place):
            with pytest.raises(LinkError, match="no board on the cable"):
                run(act())
        assert bench.reader.all(Swatch) == []


def test_a_board_pulled_out_in_the_middle_of_a_measurement_keeps_nothing(bench):
    run(bench.calibrate())
    bench.cabled.plugged_in = False
    with pytest.raises(LinkError):
        run(bench.measuring.swatch())
    bench.cabled.plugged_in = True
    run(bench.measuring.swatch())
    assert len(bench.reader.all(Swatch)) == 1


def test_a_sensor_of_another_kind_is_refused_in_words(bench):
    from dataclasses import replace

    hello = bench.cabled.hello
    for odd in (replace(hello, sensor="thermal-2"), replace(hello, channels=("f1", "f2"))):
        with pytest.raises(BoardFault, match="update the board's program"):
            known_sensor(odd)


# -- calibration -------------------------------------------------------------------------------


def test_no_colour_before_dark_and_white(bench):
    run(bench.measuring.meet_board())
    with pytest.raises(BadInput, match="put the sensor over the light trap and measure dark"):
        run(bench.measuring.swatch())
    bench.cabled.world.place("white tile")
    tile = spectrum_of(bench.cabled.world.white_certificate)
    with pytest.raises(BadInput, match="measure the light trap first"):
        run(bench.measuring.white(tile))
    assert bench.reader.all(Swatch) == bench.reader.all(Calibration) == []


def test_the_light_trap_must_be_dark(bench):
    run(bench.measuring.meet_board())
    bench.cabled.world.place("white tile")
    with pytest.raises(CalibrationRefused):
        run(bench.measuring.dark())
    assert bench.measuring.desk.dark is None


def test_a_tile_that_clips_is_refused_with_what_to_do(bench):
    async def too_bright():
        await bench.measuring.meet_board()
        await bench.configure_board(512, 50.0)
        bench.cabled.world.place("light trap")
        await bench.measuring.dark()
        bench.cabled.world.place("white tile")
        await bench.measuring.white(spectrum_of(bench.cabled.world.white_certificate))

    with pytest.raises(CalibrationRefused, match="gain"):
        run(too_bright())
    assert bench.reader.all(Calibration) == [] and bench.measuring.desk.profile is None


def test_the_light_trap_for_a_tile_is_refused(bench):
    async def wrong():
        await bench.measuring.meet_board()
        bench.cabled.world.place("light trap")
        await bench.measuring.dark()
        await bench.measuring.white(spectrum_of(bench.cabled.world.white_certificate))

    with pytest.raises(CalibrationRefused):
        run(wrong())
    assert bench.reader.all(Calibration) == []


def test_another_gain_between_dark_and_tile_is_refused(bench):
    async def changed():
        await bench.measuring.meet_board()
        await bench.configure_board(32, 50.0)
        bench.cabled.world.place("light trap")
        await bench.measuring.dark()
        await bench.configure_board(16, 50.0)
        bench.cabled.world.place("white tile")
        await bench.measuring.white(spectrum_of(bench.cabled.world.white_certificate))

    with pytest.raises(CalibrationRefused, match=r"gain 16, .* measure the dark again"):
        run(changed())


def test_patches_and_finish_want_a_tile_first(bench):
    run(bench.measuring.meet_board())
    with pytest.raises(BadInput, match="begin with dark"):
        run(bench.measuring.patch("red", None, (50.0, 40.0, 20.0)))
    with pytest.raises(BadInput, match="no patch measured"):
        run(bench.measuring.finish_calibration())
    run(bench.calibrate())
    for both in ((None, None), (spectrum_of(bench.cabled.world.white_certificate), (50, 0, 0))):
        with pytest.raises(BadInput, match="one of the two"):
            run(bench.measuring.patch("red", *both))


def test_a_swatch_at_another_gain_than_the_calibrations_is_refused(bench):
    """A board that was plugged in anew, or set by another program, measures at its own gain."""
    run(bench.calibrate())
    bench.cabled.world.place(HULL)
    run(bench.configure_board(1, 50.0))
    with pytest.raises(CalibrationRefused, match="wanted the calibration's"):
        run(bench.measuring.swatch())
    assert bench.reader.all(Swatch) == []


def test_the_calibration_is_in_force_again_after_a_restart_at_its_own_gain(bench):
    async def before():
        await bench.calibrate()
        bench.cabled.world.place(HULL)
        return await bench.measuring.swatch()

    first = run(before())
    run(bench.configure_board(1, 50.0))
    again = bench.again()
    try:
        run(again.measuring.meet_board())
        assert again.measuring.desk.calibration.id == first.calibration
        second = run(again.measuring.swatch())
        assert second.lab == pytest.approx(first.lab, abs=0.6)
    finally:
        again.close()


def test_a_new_gain_asks_for_dark_and_tile_again(bench):
    run(bench.calibrate())
    run(bench.measuring.choose_gain())
    with pytest.raises(BadInput, match="not calibrated"):
        run(bench.measuring.swatch())


def test_the_check_tile_is_held_against_its_first_look(bench):
    async def looks():
        await bench.calibrate()
        bench.cabled.world.place("check tile")
        first = await bench.measuring.check_tile("green")
        bench.clock.pass_ms(1000)
        return first, await bench.measuring.check_tile("green")

    first, second = run(looks())
    assert first.de00 is None and second.de00 < 0.5
    assert bench.matching.readings == []
    again = bench.again()
    try:
        run(again.measuring.meet_board())
        assert [swatch.id for swatch in again.measuring.calibrating.checks] == [first.id, second.id]
    finally:
        again.close()


# -- colours -----------------------------------------------------------------------------------


async def target_of(bench: HandBench, name: str = HULL) -> Target:
    bench.cabled.world.place(name)
    return await measured_target(bench, name)


async def measured_target(bench: HandBench, name: str) -> Target:
    async with bench.measuring.surface() as (step, estimate):
        swatch = bench.measuring.record(step, estimate, of_target=True)
        return await bench.matching.set_target(name, swatch.lab, swatch.white, None, swatch)


def test_a_measured_target_belongs_to_no_cup_and_reads_the_same_again(bench):
    async def measure():
        await bench.calibrate()
        await bench.matching.start_batch("cup")
        target = await target_of(bench)
        return target, await bench.measuring.swatch()

    target, swatch = run(measure())
    original = bench.reader.get(Swatch, target.swatch)
    assert (original.batch, original.target, original.de00) == (None, None, None)
    assert (swatch.target, swatch.batch) == (target.id, bench.matching.batch.id)
    assert swatch.de00 < 0.5 and len(swatch.reflectance) == len(target.reflectance)


@pytest.mark.parametrize("of", ["base", "coat", "dry card"])
def test_what_was_not_taken_of_the_cup_does_not_steer(bench, of):
    async def measure():
        await bench.calibrate()
        await bench.matching.start_batch("cup")
        bench.cabled.world.place("piece")
        return await bench.measuring.swatch("a look", of=of)

    assert run(measure()).note == f"{of} a look"
    assert bench.matching.readings == []


def test_placements_become_one_swatch_and_are_forgotten(bench):
    async def measure():
        await bench.calibrate()
        for _ in range(3):
            bench.cabled.world.place(HULL)
            await bench.measuring.place()
        return await bench.measuring.swatch()

    assert run(measure()).u95_de00 > 0
    assert bench.measuring.placements == []
    run(bench.measuring.place())
    bench.measuring.lift()
    assert bench.measuring.placements == []


def test_placements_so_far_are_looked_at_without_being_used_up(bench):
    run(bench.calibrate())
    assert bench.measuring.placed() is None
    for surface in (HULL, HULL, HULL, "brick"):
        bench.cabled.world.place(surface)
        run(bench.measuring.place())
    found = bench.measuring.placed()
    assert (found.outliers, found.n_used) == (("4",), 3)
    assert len(bench.measuring.placements) == 4


def test_a_dark_coloured_surface_is_no_light_trap_once_the_tile_is_known(bench):
    run(bench.calibrate())
    bench.cabled.world.place("slate")
    with pytest.raises(CalibrationRefused, match="too much for a light trap"):
        run(bench.measuring.dark())
    assert bench.measuring.desk.takes_patches()
    bench.cabled.world.place("light trap")
    assert run(bench.measuring.dark()).ok


def test_a_patch_is_taken_out_again_by_its_name(bench):
    run(bench.calibrate())
    desk = bench.measuring.desk
    for certificate in bench.cabled.world.chart_certificates[:2]:
        bench.cabled.world.place(certificate.name)
        run(bench.measuring.patch(certificate.name, spectrum_of(certificate), None))
    first, second = (patch.name for patch in desk.patches)
    assert desk.takes_patches() and desk.unused()
    bench.measuring.drop_patch(first)
    assert [patch.name for patch in desk.patches] == [second]
    with pytest.raises(BadInput, match=f"{first!r} was not measured .there: {second}."):
        bench.measuring.drop_patch(first)
    run(bench.measuring.finish_calibration())
    assert not desk.unused()


def test_two_screens_that_measure_at_once_both_get_whole_readings(bench):
    async def both():
        await bench.calibrate()
        bench.cabled.world.place(HULL)
        return await asyncio.gather(bench.measuring.swatch(), bench.measuring.swatch())

    one, other = run(both())
    assert one.id != other.id and one.lab == pytest.approx(other.lab, abs=0.5)


def test_lamps_want_a_measured_target_and_a_reading(bench):
    run(bench.calibrate())
    run(bench.matching.set_target("typed", (40.0, 0.0, -30.0)))
    with pytest.raises(BadInput, match="wanted a measured target and a reading"):
        bench.measuring.lamps()


# -- the advice, the coats to come and the ledger ----------------------------------------------


async def shelf_of(bench: HandBench) -> None:
    """Swatches of three bottles, each alone and the tints let down with the white."""
    world, tints = bench.cabled.world, tuple(TINTS)[:2]
    for name in (LIGHT_PAINT, *tints):
        bench.clock.pass_ms(1000)
        await bench.shelf.put_paint(name, "enamel", white=name == LIGHT_PAINT)
    for parts in (*({n: 20} for n in (LIGHT_PAINT, *tints)), *({LIGHT_PAINT: 20, n: 2}
                  for n in tints)):  # fmt: skip
        world.place(world.shelf.drawdown(parts))
        await bench.measuring.paint_swatch(bench.shelf, parts, None)


def test_advice_says_what_is_missing_step_by_step(bench):
    async def steps():
        said = []
        await bench.advising.refresh()
        said.append(bench.advising.said.words)
        await bench.matching.set_target("typed", (40.0, 0.0, -30.0), "d50-2")
        await bench.advising.refresh()
        said.append(bench.advising.said.words)
        await bench.matching.set_target("typed", (40.0, 0.0, -30.0))
        await bench.advising.refresh()
        said.append(bench.advising.said.words)
        return said

    no_target, no_spectrum, no_paints = run(steps())
    assert "set a target" in no_target
    assert "has no spectrum to mix by" in no_spectrum
    assert "add a paint with a swatch" in no_paints
    for act in (bench.advising.what_if({"ochre": 3}), bench.advising.recipe()):
        with pytest.raises(BadInput):
            run(act)


def test_the_advice_follows_pour_reading_and_undo_and_survives_a_restart(bench):
    async def evening():
        world, tints = bench.cabled.world, tuple(TINTS)[:2]
        await bench.calibrate()
        await shelf_of(bench)
        world.place(world.shelf.drawdown({LIGHT_PAINT: 30, tints[0]: 6}))
        await measured_target(bench, "a mix of ours")
        await bench.matching.start_batch("cup")
        await bench.advising.refresh()
        first = bench.advising.said.advice
        assert first.add and not bench.advising.said.advice.done
        for paint, drops in first.add:
            world.add_drops(paint, drops)
            await bench.matching.add(paint, drops)
        assert not bench.advising.current
        world.stir()
        world.place("cup")
        await bench.measuring.swatch()
        await bench.advising.refresh()
        assert bench.advising.current
        with pytest.raises(BadInput):
            await bench.advising.what_if({"no such paint": 3})
        return bench.advising.said.advice

    said = run(evening())
    again = bench.again()
    try:
        run(again.take_over())
        run(again.advising.refresh())
        assert again.advising.said.advice == said  # the record is the only memory
        assert again.advising.said.steering.total_drops == sum(again.matching.contents().values())
        run(again.matching.undo())
        assert not again.advising.current
        run(again.advising.refresh())
        # The reading cannot be of a cup without these drops, and that is said.
        assert "from what this cup should show" in again.advising.said.words
    finally:
        again.close()


def test_coats_ahead_want_a_base_and_a_cup(bench):
    with pytest.raises(BadInput, match="wanted a target and a mixed cup"):
        run(bench.coating.ahead())
    with pytest.raises(BadInput, match="no reading of the cup yet"):
        bench.coating.dry()


def test_the_ledger_holds_an_efflux_time_and_what_was_taken_back(bench):
    async def evening():
        with pytest.raises(BadInput, match="no batch yet"):
            await bench.ledger.efflux("ISO 2431 4", 30.0, 22.0)
        batch = await bench.matching.start_batch("cup")
        await bench.matching.add("ochre", 10)
        with pytest.raises(BadInput):
            await bench.ledger.efflux("tin can", 30.0, 22.0)
        await bench.ledger.efflux("ISO 2431 4", 30.0, 22.0)
        await bench.matching.add("ochre", 4)
        await bench.matching.undo()
        return batch

    batch = run(evening())
    cup = bench.ledger.batch(batch.id)
    assert cup.drops == {"ochre": 10}
    assert [line.note for line in bench.matching.additions][1].startswith("efflux ISO 2431 4")
    assert [entry["id"] for entry in bench.ledger.listed()] == [batch.id]
    with pytest.raises(BadInput, match="wanted one on record"):
        bench.ledger.batch("batch-none")
    with pytest.raises(BadInput, match="no target in hand"):
        bench.ledger.drift()
    assert [paint.name for paint in bench.reader.all(Paint)] == ["ochre"]


def test_a_surface_darker_than_the_light_trap_is_refused(bench):
    run(bench.calibrate())
    desk = bench.measuring.desk
    unit = desk.profile.unit
    wrong = replace(unit, dark=tuple(0.4 * count for count in unit.white.counts))
    desk.profile = replace(desk.profile, unit=wrong)
    bench.cabled.world.place("light trap")
    with pytest.raises(BadInput, match=r"swatch: f1 reads .* below the dark reading"):
        run(bench.measuring.swatch())
    assert bench.reader.all(Swatch) == []
