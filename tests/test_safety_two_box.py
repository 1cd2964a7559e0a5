"""The closed form of the two boxes against numerical integration, and its limiting cases."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from sprayout.errors import BadInput
from sprayout.safety.two_box import TwoBox, after, hemisphere, steady


def integrated(
    rate: float, flow: float, beta: float, near: float, room: float, minutes: float
) -> tuple[float, float]:
    """Both boxes by an implicit solver of general use, from the two mass balances."""
    far = room - near

    def change(_: float, c: np.ndarray) -> list[float]:
        crossing = beta * (c[0] - c[1])
        return [(rate - crossing) / near, (crossing - flow * c[1]) / far]

    found = solve_ivp(change, (0.0, minutes), [0.0, 0.0], method="LSODA", rtol=1e-10, atol=1e-12)
    return float(found.y[0, -1]), float(found.y[1, -1])


@settings(deadline=None, max_examples=60)
@given(
    rate=st.floats(1.0, 5000.0),
    flow=st.one_of(st.just(0.0), st.floats(1e-9, 1e-3), st.floats(0.01, 100.0)),
    beta=st.one_of(st.just(0.0), st.floats(1e-6, 1e-2), st.floats(0.01, 30.0)),
    near=st.floats(0.05, 5.0),
    far=st.floats(0.5, 500.0),
    minutes=st.floats(0.1, 240.0),
)
def test_closed_form_is_the_numerical_integral_to_1e_4(
    rate: float, flow: float, beta: float, near: float, far: float, minutes: float
) -> None:
    found = after(rate, flow, beta, near, near + far, minutes)
    near_c, far_c = integrated(rate, flow, beta, near, near + far, minutes)
    assert found.near_mg_m3 == pytest.approx(near_c, rel=1e-4, abs=1e-9)
    assert found.far_mg_m3 == pytest.approx(far_c, rel=1e-4, abs=1e-6)


@settings(deadline=None, max_examples=60)
@given(
    rate=st.floats(1.0, 5000.0),
    beta=st.floats(0.01, 30.0),
    near=st.floats(0.05, 5.0),
    far=st.floats(0.5, 500.0),
    minutes=st.floats(0.1, 240.0),
)
def test_without_ventilation_all_vapour_stays(
    rate: float, beta: float, near: float, far: float, minutes: float
) -> None:
    found = after(rate, 0.0, beta, near, near + far, minutes)
    assert found.near_mg_m3 is not None
    assert found.far_mg_m3 is not None
    kept = found.near_mg_m3 * near + found.far_mg_m3 * far
    assert kept == pytest.approx(rate * minutes, rel=1e-9)


@settings(deadline=None, max_examples=60)
@given(flow=st.floats(0.1, 100.0), beta=st.floats(0.1, 30.0), k=st.floats(1.0, 10.0))
def test_it_settles_at_the_steady_state(flow: float, beta: float, k: float) -> None:
    long = after(100.0, flow, beta, 1.0, 20.0, 1e5, k)
    end = steady(100.0, flow, beta, k)
    assert long.near_mg_m3 == pytest.approx(end.near_mg_m3, rel=1e-6)
    assert long.far_mg_m3 == pytest.approx(end.far_mg_m3, rel=1e-6)


@pytest.mark.parametrize(
    ("case", "found", "wanted"),
    [
        ("no flow: far rises without end", steady(10.0, 0.0, 3.0), TwoBox(None, None)),
        ("no exchange: far stays clean", steady(10.0, 5.0, 0.0), TwoBox(None, 0.0)),
        ("neither", steady(10.0, 0.0, 0.0), TwoBox(None, None)),
        ("no vapour", steady(0.0, 5.0, 3.0), TwoBox(0.0, 0.0)),
        ("no time", after(10.0, 5.0, 3.0, 1.0, 20.0, 0.0), TwoBox(0.0, 0.0)),
        (
            "no exchange fills the near box",
            after(10.0, 5.0, 0.0, 2.0, 20.0, 4.0),
            TwoBox(20.0, 0.0),
        ),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_limiting_cases(case: str, found: TwoBox, wanted: TwoBox) -> None:
    assert found == wanted


@pytest.mark.parametrize(
    ("wrong", "says"),
    [
        (lambda: hemisphere(0.0, 3.0), "radius"),
        (lambda: hemisphere(0.5, -1.0), "air speed"),
        (lambda: after(1.0, 1.0, 1.0, 2.0, 2.0, 1.0), "room volume"),
        (lambda: steady(float("nan"), 1.0, 1.0), "generation"),
        (lambda: steady(1.0, 1.0, 1.0, 0.5), "mixing divisor"),
    ],
)
def test_wrong_input_is_named(wrong: object, says: str) -> None:
    with pytest.raises(BadInput, match=says):
        wrong()  # type: ignore[operator]
