"""The pot life of the cup in hand: counted at the pace of its air, open where nobody watched."""

import asyncio

import pytest

from sprayout.acts.potting import Potting
from sprayout.climate.flags import Level
from tests.acts_bench import HandBench, hand_bench

AIR = {"air_temperature": 23.0, "relative_humidity": 40.0, "part_temperature": 23.0}
WARM = {**AIR, "air_temperature": 33.0}
SHEET = {"dries_by": "cure", "pot_life_h": 2.0, "reference_c": 23.0}


@pytest.fixture
def bench(tmp_path):
    with hand_bench(tmp_path) as made:
        yield made


def run(act):
    return asyncio.run(act)


async def mixed(bench: HandBench, minutes: float, **channels: float) -> None:
    await bench.shelf.put_paint("ochre", "enamel")
    await bench.shelf.put_limits("ochre", SHEET)
    await bench.watch(1, **channels)
    await bench.matching.start_batch("cup")
    await bench.matching.add("ochre", 60)
    await bench.watch(minutes, **channels)


def test_without_a_cup_or_a_pot_life_on_its_sheet_there_is_no_clock(bench):
    run(bench.watch(1, **AIR))
    assert bench.potting.reading() is None


def test_at_the_sheets_own_temperature_it_runs_as_the_sheet_says(bench):
    run(mixed(bench, 30, **AIR))
    reading = bench.potting.reading()
    assert reading.next_min == pytest.approx(90.0, abs=1.0)
    assert reading.level is Level.NONE


def test_ten_kelvin_warmer_it_is_over_in_half_the_time(bench):
    run(mixed(bench, 50, **WARM))
    reading = bench.potting.reading()
    assert reading.next_min == pytest.approx(10.0, abs=1.0)
    assert reading.level is Level.CAUTION and "usable for about 10 minutes" in reading.words


def test_when_it_is_over_the_flag_of_the_data_sheet_says_so(bench):
    run(mixed(bench, 125, **AIR))
    assert bench.potting.reading().level is Level.STOP
    standing = bench.watching.state.standing("outside_paint_limits")
    assert standing.level is Level.CAUTION and "pot life is over" in standing.words


def test_a_restart_leaves_open_what_nobody_watched(bench):
    run(mixed(bench, 10, **AIR))
    bench.clock.pass_ms(40 * 60_000)
    again = Potting(bench)
    again.look(bench.watching.inputs(None, False), bench.plan(), bench.matching.batch)
    assert again.reading().level is Level.UNKNOWN  # the air is silent
    run(bench.watch(1, **AIR))
    again.look(bench.watching.inputs(None, False), bench.plan(), bench.matching.batch)
    # 51 minutes unwatched count as at 35 °C, the worst that may have been: 51 · 2^1.2 of 120
    assert again.reading().next_min == pytest.approx(120 - 51 * 2**1.2, abs=3.0)
