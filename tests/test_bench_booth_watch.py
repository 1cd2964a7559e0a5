"""Which reading stands for the booth: fresh before stale, own before foreign, one device's air."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sprayout.bench.booth_watch import SILENT_AT_MOST_MS, BoothWatch
from sprayout.intake.events import ChannelReading, ReadingsArrived
from sprayout.safety.interlock import FanLimits

SILENT_MS = 15_000


def watch() -> BoothWatch:
    return BoothWatch(SILENT_MS, FanLimits(suction_min_pa=5.0, oldest_s=15.0), own_device="board")


def arrived(device: str, at_ms: int, **channels: float) -> ReadingsArrived:
    units = {"air_temperature": "Cel", "relative_humidity": "%RH"}
    readings = tuple(
        ChannelReading(name, value, units.get(name, "Pa"), at_ms)
        for name, value in channels.items()
    )
    return ReadingsArrived("bench", device, at_ms, readings, None, None)


def air(device: str, at_ms: int, air_c: float = 21.0, rh_pct: float = 50.0) -> ReadingsArrived:
    return arrived(device, at_ms, air_temperature=air_c, relative_humidity=rh_pct)


def test_the_own_board_speaks_for_the_booth_while_it_speaks() -> None:
    booth = watch()
    booth.take(air("board", 1_000, 21.0), 1_000)
    booth.take(air("door", 9_000, 18.0), 9_000)
    assert booth.channel("air_temperature", 10_000, 10_000).value == 21.0
    assert booth.channel("air_temperature", 17_000, 17_000).value == 18.0  # the board is silent


def test_air_and_humidity_come_from_one_device() -> None:
    booth = watch()
    booth.take(arrived("board", 1_000, air_temperature=21.0), 1_000)  # no humidity from it
    booth.take(air("door", 1_000, 18.0, 70.0), 1_000)
    inputs = booth.inputs(2_000, 2_000, calibration_age_days=None, fan_wanted=False)
    assert (inputs.air_c.value, inputs.rh_pct.value) == (18.0, 70.0)


def test_nothing_read_is_missing_and_has_no_dew_point() -> None:
    inputs = watch().inputs(0, 0, calibration_age_days=None, fan_wanted=True)
    assert inputs.air_c.value is None and inputs.dew_point_c() is None
    assert inputs.part_c is None and inputs.fan_state == "unknown"


@pytest.mark.parametrize(
    ("at_ms", "arrived_ms", "now_ms", "monotonic_ms", "age_ms"),
    [
        (1_000, 500, 3_000, 2_500, 2_000),  # the usual case
        (1_000, 500, 900, 2_500, 2_000),  # the wall clock was set back
        (-600_000, 500, 3_000, 600, 603_000),  # the broker kept it for ten minutes
        (9_000, 500, 3_000, 500, 0),  # dated ahead
    ],
)
def test_age_is_the_larger_of_arrival_and_time_stamp(
    at_ms: int, arrived_ms: int, now_ms: int, monotonic_ms: int, age_ms: int
) -> None:
    booth = watch()
    booth.take(air("board", at_ms), arrived_ms)
    latest = booth.channel("air_temperature", now_ms, monotonic_ms)
    assert latest.age_ms(now_ms, monotonic_ms) == age_ms


def test_an_older_reading_that_comes_late_changes_nothing() -> None:
    booth = watch()
    booth.take(air("board", 5_000, 21.0), 5_000)
    booth.take(air("board", 2_000, 99.0), 6_000)
    assert booth.channel("air_temperature", 6_000, 6_000).value == 21.0


def test_a_probe_that_speaks_once_a_minute_is_not_called_silent_between() -> None:
    booth = watch()
    for beat in range(10):
        booth.take(air("door", beat * 60_000), beat * 60_000)
    last = booth.channel("air_temperature", 600_000, 600_000)
    assert not booth.is_silent(last, 600_000, 600_000)
    assert booth.is_silent(last, 540_000 + 181_000, 540_000 + 181_000)


@settings(deadline=None, max_examples=50)
@given(st.lists(st.integers(1, 4_000_000), min_size=1, max_size=20))
def test_silence_is_called_after_five_minutes_at_the_latest(gaps_ms: list[int]) -> None:
    booth, now_ms = watch(), 0
    for gap_ms in gaps_ms:
        now_ms += gap_ms
        booth.take(air("door", now_ms), now_ms)
    last = booth.channel("air_temperature", now_ms, now_ms)
    later_ms = now_ms + SILENT_AT_MOST_MS + 1
    assert booth.is_silent(last, later_ms, later_ms)


@pytest.mark.parametrize(
    ("pressure_pa", "age_ms", "state"),
    [
        (12.0, 0, "confirmed"),
        (-12.0, 0, "confirmed"),  # the two hoses the other way round
        (0.4, 0, "not confirmed"),
        (12.0, 16_000, "unknown"),
        (float("nan"), 0, "unknown"),
    ],
)
def test_the_fan_is_confirmed_by_a_fresh_pressure_only(
    pressure_pa: float, age_ms: int, state: str
) -> None:
    booth = watch()
    booth.take(arrived("board", 1_000, booth_pressure=pressure_pa), 1_000)
    assert booth.fan(1_000 + age_ms, 1_000 + age_ms).state == state
