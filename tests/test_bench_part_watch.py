"""The part's temperature: by infrared as the surface allows, entered by a person before that."""

import asyncio

import pytest

from sprayout.climate.flags import Level
from sprayout.errors import BadInput
from sprayout.journal.records import Piece, Reading
from tests.acts_bench import MINUTE_MS, HandBench, hand_bench

AIR = {"air_temperature": 24.0, "relative_humidity": 50.0, "part_temperature": 20.0}


@pytest.fixture
def bench(tmp_path):
    with hand_bench(tmp_path) as made:
        yield made


def run(act):
    return asyncio.run(act)


async def on(bench: HandBench, surface: str | None, minutes: float = 1, **channels: float) -> None:
    await bench.spraying.choose_piece("van", "steel", 0.3, surface)
    await bench.watch(minutes, **{**AIR, **channels})


def part(bench: HandBench):
    return bench.watching.part(bench.watching.inputs(None, False).fresh_air_c())


def test_a_painted_surface_is_read_as_it_is(bench):
    run(on(bench, "painted"))
    assert part(bench).measured.value == pytest.approx(20.0, abs=0.01)
    assert part(bench).by == "infrared" and "on painted, ± 0." in part(bench).words


def test_a_surface_nobody_has_named_is_taken_as_painted_and_said_to_be(bench):
    run(on(bench, None))
    assert part(bench).measured.value == 20.0
    assert "bare metal mirrors the room" in part(bench).words


def test_rusted_steel_is_corrected_for_what_it_mirrors(bench):
    run(on(bench, "rusted steel"))
    # 0.95 T_read⁴ + 0.05 T_air⁴ = 0.75 T⁴ + 0.25 T_air⁴, in kelvin
    read, air = 293.15**4, 297.15**4
    true = ((0.95 * read - 0.20 * air) / 0.75) ** 0.25 - 273.15
    assert part(bench).measured.value == pytest.approx(true, abs=0.01)
    assert true < 19.0


def test_bare_tinplate_gives_no_part_temperature_and_the_flag_says_why(bench):
    run(on(bench, "tinplate"))
    assert part(bench).measured.value is None
    standing = bench.watching.state.standing("surface_near_dew_point")
    assert standing.level is Level.UNKNOWN
    assert "sees the room mirrored" in standing.words and "contact thermometer" in standing.words


def test_what_a_person_measured_counts_for_half_an_hour_and_is_on_record(bench):
    async def evening():
        await on(bench, "tinplate")
        await bench.watching.enter_part(18.5)
        await bench.watch(1, **AIR)
        early = part(bench)
        await bench.watch(31, every_ms=60_000, **AIR)
        return early, part(bench)

    early, late = run(evening())
    assert (early.measured.value, early.by) == (18.5, "entered")
    assert "entered 1 min ago" in early.words
    assert late.measured.value is None and late.by == "infrared"
    strip = bench.reader.strip(
        bench.bench, ["part_temperature"], bench.now_ms() - 60 * MINUTE_MS, bench.now_ms(), points=9
    )
    assert "by hand" in {channel.device for channel in strip.channels}


@pytest.mark.parametrize("part_c", [-40.0, 120.0, float("nan")])
def test_a_part_temperature_that_cannot_be_is_refused(bench, part_c):
    with pytest.raises(BadInput, match="part temperature: got"):
        run(bench.watching.enter_part(part_c))
    assert bench.watching.booth.all_latest() == []


def test_a_surface_nobody_knows_is_refused_with_the_list(bench):
    with pytest.raises(BadInput, match="surface: got 'chrome', wanted one of painted"):
        run(bench.spraying.choose_piece("van", "steel", 0.3, "chrome"))
    assert bench.reader.all(Piece) == []


def test_the_surface_stays_with_the_piece(bench):
    run(on(bench, "Tinplate"))
    (piece,) = bench.reader.all(Piece)
    assert piece.surface == "tinplate"
    run(bench.spraying.choose_piece("van"))
    assert bench.spraying.piece.surface == "tinplate"


def test_readings_of_the_thermometer_itself_stay_as_read(bench):
    run(on(bench, "rusted steel"))
    read = Reading(bench.bench, "door", "part_temperature", 20.0, "Cel", bench.now_ms())
    latest = {e.channel: e.value for e in bench.watching.booth.all_latest()}
    assert latest["part_temperature"] == read.value
