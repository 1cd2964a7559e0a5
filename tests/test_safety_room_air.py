"""Well-mixed air: mass is kept, limiting flows behave, wrong input is named."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from sprayout.errors import BadInput
from sprayout.safety import exposure, room_air

volumes = st.floats(0.05, 500.0)
flows = st.one_of(st.just(0.0), st.floats(1e-6, 1e-2), st.floats(0.1, 5000.0))
rates = st.one_of(st.just(0.0), st.floats(1e-9, 5.0))
times = st.floats(0.1, 480.0)


@settings(deadline=None, max_examples=100)
@given(volumes, flows, rates, times, st.floats(0.0, 500.0), st.floats(1.0, 10.0))
def test_vapour_in_is_vapour_out_and_vapour_in_the_air(
    volume: float, flow: float, rate: float, minutes: float, start: float, k: float
) -> None:
    found = room_air.build_up(volume, flow, rate, minutes, start_ppm=start, divisor=k)
    came = rate * 1000.0 * minutes  # mL
    left = flow / 60.0 / k * found.ppm_mean * minutes
    stayed = volume * (found.ppm_end - start)
    assert came == pytest.approx(
        left + stayed, rel=1e-9, abs=1e-9 * (came + volume * start) + 1e-300
    )


@settings(deadline=None, max_examples=30)
@given(volumes, st.floats(0.1, 2000.0), st.floats(0.001, 5.0), st.floats(0.1, 60.0))
def test_end_and_mean_are_those_of_the_mass_balance(
    volume: float, flow: float, rate: float, minutes: float
) -> None:
    a, rise = flow / 60.0 / volume, rate * 1000.0 / volume
    found = room_air.build_up(volume, flow, rate, minutes, start_ppm=7.0)

    def change(_: float, c: list[float]) -> list[float]:
        return [rise - a * c[0], c[0]]  # concentration, and its integral

    solved = solve_ivp(change, (0, minutes), [7.0, 0.0], method="LSODA", rtol=1e-10, atol=1e-10)
    assert found.ppm_end == pytest.approx(float(solved.y[0, -1]), rel=1e-6)
    assert found.ppm_mean == pytest.approx(float(solved.y[1, -1]) / minutes, rel=1e-6)


def test_mean_runs_smoothly_into_the_case_without_flow() -> None:
    shut = room_air.build_up(10.0, 0.0, 1.0, 10.0)
    for flow in (1e-12, 1e-6, 1e-3):
        near = room_air.build_up(10.0, flow, 1.0, 10.0)
        assert near.ppm_mean == pytest.approx(shut.ppm_mean, rel=1e-3)
    assert shut.ppm_mean == pytest.approx(shut.ppm_end / 2.0)
    assert shut.ppm_steady is None


@settings(deadline=None, max_examples=60)
@given(volumes, st.floats(0.1, 500.0), st.floats(0.01, 5.0), st.floats(0.1, 60.0))
def test_time_to_reach_undoes_build_up(
    volume: float, flow: float, rate: float, minutes: float
) -> None:
    found = room_air.build_up(volume, flow, rate, minutes)
    assert found.ppm_steady is not None
    if found.ppm_end < 0.999 * found.ppm_steady:
        again = room_air.minutes_to_reach(volume, flow, rate, found.ppm_end)
        assert again == pytest.approx(minutes, rel=1e-6)


def test_a_concentration_over_the_steady_one_is_never_reached() -> None:
    assert room_air.minutes_to_reach(10.0, 600.0, 1.0, 101.0) is None
    assert room_air.minutes_to_reach(10.0, 0.0, 1.0, 100.0) == pytest.approx(1.0)


@settings(deadline=None, max_examples=60)
@given(volumes, st.floats(0.1, 5000.0), st.floats(1.0, 1e4), st.floats(0.001, 1.0))
def test_purge_ends_where_decay_ends(
    volume: float, flow: float, start: float, share: float
) -> None:
    taken = room_air.purge(volume, flow, start, start * share, 3.0)
    assert taken.air_changes == pytest.approx(flow * taken.minutes / 60.0 / volume)
    if taken.minutes > 0:
        left = room_air.decayed_ppm(volume, flow, start, taken.minutes, 3.0)
        assert left == pytest.approx(start * share, rel=1e-9)


@settings(deadline=None, max_examples=40)
@given(volumes, st.floats(0.0, 2000.0), st.floats(0.001, 2.0), st.floats(0.5, 60.0))
def test_worst_15_minutes_lies_between_mean_and_peak(
    volume: float, flow: float, rate: float, minutes: float
) -> None:
    worst = exposure.worst_15_min_ppm(volume, flow, rate, minutes)
    peak = room_air.build_up(volume, flow, rate, minutes).ppm_end
    assert worst <= peak * (1 + 1e-9)
    first = room_air.build_up(volume, flow, rate, min(minutes, 15.0))
    assert worst >= first.ppm_mean * min(minutes, 15.0) / 15.0 * (1 - 1e-9)


def test_eight_hours_hold_the_whole_dose() -> None:
    # 1 L/min for 48 min into 6 m³/min: 8 ppm-hours... dose 48 L / 6 m³/min / 480 min.
    assert exposure.eight_hour_ppm(30.0, 360.0, 1.0, 48.0) == pytest.approx(16.6667, rel=1e-4)
    assert exposure.eight_hour_ppm(30.0, 0.0, 1.0, 48.0) == pytest.approx(1600.0)


@pytest.mark.parametrize(
    ("wrong", "says"),
    [
        (lambda: room_air.purge(0.0, 1.0, 2.0, 1.0), "volume"),
        (lambda: room_air.purge(1.0, 0.0, 2.0, 1.0), "never clears"),
        (lambda: room_air.purge(1.0, 1.0, 2.0, 0.0), "never reaches 0"),
        (lambda: room_air.purge(1.0, 1.0, 1.0, 2.0), "swap"),
        (lambda: room_air.purge(1.0, 1.0, 2.0, 1.0, 0.5), "divides the flow.*enter 2"),
        (lambda: room_air.purge(1.0, 1.0, 2.0, 1.0, 0.0), "divides the flow"),
        (lambda: room_air.build_up(1.0, -1.0, 1.0, 1.0), "flow"),
        (lambda: room_air.build_up(1.0, 1.0, math.nan, 1.0), "generation"),
        (lambda: room_air.build_up(1.0, 1.0, 1.0, math.inf), "minutes"),
        (lambda: room_air.dilution_m3h(1.0, 0.0), "target"),
        (lambda: room_air.dilution_m3h(1.0, 5.0, supply_ppm=5.0), "supply"),
        (lambda: room_air.vapour_l_min(1.0, 0.0), "molar mass"),
        (lambda: exposure.time_weighted_ppm([1.0], []), "time"),
        (lambda: exposure.mixture_index([(1.0, 0.0)]), "limit"),
        (lambda: exposure.mixture_index([]), "no parts"),
    ],
)
def test_wrong_input_is_named(wrong: object, says: str) -> None:
    with pytest.raises(BadInput, match=says) as error:
        wrong()  # type: ignore[operator]
    assert "\n" not in str(error.value)
