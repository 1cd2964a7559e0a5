"""The fan: confirmed only by fresh air or suction, and by nothing that fell or went silent."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sprayout.errors import BadInput
from sprayout.safety.interlock import FanLimits, FanReadings, Reading, evaluate

GOOD = Reading(0.6, 1.0)
SUCK = Reading(-8.0, 1.0)
WATT = Reading(40.0, 1.0)
NONE = Reading(None, None)


@pytest.mark.parametrize(
    ("name", "readings", "state"),
    [
        ("nothing wired", FanReadings(), "unknown"),
        ("airflow good", FanReadings(GOOD), "confirmed"),
        ("suction good", FanReadings(None, SUCK), "confirmed"),
        ("all good", FanReadings(GOOD, SUCK, WATT), "confirmed"),
        ("power alone shows no air", FanReadings(None, None, WATT), "not confirmed"),
        ("airflow fell", FanReadings(Reading(0.1, 1.0)), "not confirmed"),
        ("airflow zero", FanReadings(Reading(0.0, 1.0), SUCK, WATT), "not confirmed"),
        ("power fell", FanReadings(GOOD, SUCK, Reading(0.0, 1.0)), "not confirmed"),
        ("hoses the other way round", FanReadings(None, Reading(8.0, 1.0)), "confirmed"),
        ("airflow stale", FanReadings(Reading(0.6, 60.0)), "unknown"),
        ("airflow silent, power good", FanReadings(NONE, None, WATT), "not confirmed"),
        ("airflow silent, suction good", FanReadings(NONE, SUCK), "not confirmed"),
        ("airflow NaN", FanReadings(Reading(math.nan, 1.0)), "unknown"),
        ("age NaN", FanReadings(Reading(0.6, math.nan)), "unknown"),
        ("age in the future", FanReadings(Reading(0.6, -5.0)), "unknown"),
        ("infinite", FanReadings(Reading(math.inf, 0.0)), "unknown"),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_state(name: str, readings: FanReadings, state: str) -> None:
    result = evaluate(readings)
    assert result.state == state
    assert result.confirmed == (state == "confirmed")
    assert result.words


maybe = st.none() | st.floats(allow_nan=True, allow_infinity=True)
reading = st.none() | st.builds(Reading, maybe, maybe)


@settings(deadline=None, max_examples=200)
@given(reading, reading, reading)
def test_a_missing_reading_never_confirms(
    air: Reading | None, pressure: Reading | None, power: Reading | None
) -> None:
    wired = [r for r in (air, pressure, power) if r is not None]
    if evaluate(FanReadings(air, pressure, power)).confirmed:
        assert all(r.value is not None and r.age_s is not None for r in wired)
        assert air is not None or pressure is not None


def test_a_blocked_filter_is_not_taken_for_a_running_fan() -> None:
    limits = FanLimits(suction_max_pa=40.0)
    assert evaluate(FanReadings(None, Reading(-60.0, 1.0)), limits).state == "not confirmed"
    assert evaluate(FanReadings(None, Reading(-20.0, 1.0)), limits).state == "confirmed"


@pytest.mark.parametrize("bad", [0.0, -1.0, math.nan])
def test_limits_that_would_always_confirm_are_refused(bad: float) -> None:
    with pytest.raises(BadInput, match="above 0"):
        FanLimits(air_speed_min_m_s=bad)
