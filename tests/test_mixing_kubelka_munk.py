"""Kubelka–Munk and the surface against published check values and the theory's own limits."""

import csv
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from sprayout.mixing.kubelka_munk import (
    BARE,
    FRESNEL_N_1_5,
    Surface,
    film_reflectance,
    k_over_s,
    mixed,
    opaque_reflectance,
    scattering_power,
)

TABLE = Path(__file__).parent / "tables" / "kubelka_munk_checks.csv"
fraction = st.floats(0.01, 0.98)
coefficient = st.floats(0.01, 20.0)


def table() -> dict[str, np.ndarray]:
    lines = [x for x in TABLE.read_text(encoding="utf-8").splitlines() if not x.startswith("#")]
    rows = list(csv.DictReader(lines))
    return {key: np.array([float(row[key]) for row in rows]) for key in rows[0]}


def test_the_published_mixture_and_its_surface():
    t = table()
    k = np.stack([t["k_first"], t["k_second"], t["k_third"]])
    s = np.stack([t["s_first"], t["s_second"], t["s_third"]])
    shares = np.array([0.5, 0.3, 0.2])
    opaque = opaque_reflectance(mixed(shares, k) / mixed(shares, s))
    np.testing.assert_allclose(opaque, t["opaque"], atol=1e-14)
    np.testing.assert_allclose(Surface(0.033, 0.66).seen(opaque), t["measured"], atol=1e-14)


def test_fresnel_at_index_1_5_is_four_per_cent():
    assert pytest.approx(0.04, abs=1e-15) == FRESNEL_N_1_5


@given(fraction)
@settings(deadline=None, max_examples=50)
def test_k_over_s_and_back(reflectance: float):
    assert opaque_reflectance(k_over_s(np.array(reflectance))) == pytest.approx(reflectance)


@given(fraction, st.floats(0, 0.06), st.floats(0, 0.7), st.booleans())
@settings(deadline=None, max_examples=50)
def test_the_surface_and_back(inside: float, k1: float, k2: float, included: bool):
    surface = Surface(k1, k2, included)
    assert surface.below(surface.seen(np.array(inside))) == pytest.approx(inside, abs=1e-12)


@given(fraction)
@settings(deadline=None, max_examples=30)
def test_the_surface_slope_is_the_derivative(inside: float):
    surface, step = Surface(), 1e-6
    up, down = surface.seen(np.array([inside + step, inside - step]))
    assert (up - down) / (2 * step) == pytest.approx(
        float(surface.slope(np.array(inside))), rel=1e-5
    )


@given(coefficient, coefficient, fraction)
@settings(deadline=None, max_examples=50)
def test_film_limits(k: float, s: float, base: float):
    """Kubelka 1948: no film shows the base, a thick film the opaque colour."""
    arrays = np.array(k), np.array(s)
    assert film_reflectance(*arrays, 0.0, np.array(base)) == pytest.approx(base)
    thick = film_reflectance(*arrays, 1e4, np.array(base))
    assert thick == pytest.approx(float(opaque_reflectance(np.array(k / s))), rel=1e-9)


@given(coefficient, coefficient, fraction, st.floats(0.05, 2.0))
@settings(deadline=None, max_examples=50)
def test_film_is_the_hyperbolic_form(k: float, s: float, base: float, thickness: float):
    """R = (1 - Rg (a - b coth bSX)) / (a - Rg + b coth bSX), Kubelka 1948, as it is printed."""
    a = 1 + k / s
    b = np.sqrt(a * a - 1)
    coth = 1 / np.tanh(b * s * thickness)
    printed = (1 - base * (a - b * coth)) / (a - base + b * coth)
    ours = film_reflectance(np.array(k), np.array(s), thickness, np.array(base))
    assert ours == pytest.approx(printed, rel=1e-9)


@given(coefficient, coefficient, fraction, st.floats(0.05, 1.0), st.floats(0.05, 1.0))
@settings(deadline=None, max_examples=50)
def test_two_films_are_one_thicker_film(k: float, s: float, base: float, one: float, two: float):
    arrays = np.array(k), np.array(s)
    under = film_reflectance(*arrays, one, np.array(base))
    both = film_reflectance(*arrays, one + two, np.array(base))
    assert film_reflectance(*arrays, two, under) == pytest.approx(float(both), rel=1e-9)


def test_a_film_without_absorption_is_sx_over_one_plus_sx():
    """Kubelka 1948, K = 0 over a black base."""
    sx = np.array([0.1, 1.0, 5.0])
    ours = film_reflectance(np.zeros(3), sx, 1.0, np.zeros(3))
    np.testing.assert_allclose(ours, sx / (1 + sx), rtol=1e-9)


def test_scattering_power_is_recovered_from_a_film_over_black():
    k, s, black = np.array([0.2, 1.0, 3.0]), np.array([1.0, 0.5, 2.0]), np.full(3, 0.02)
    film = film_reflectance(k, s, 0.4, black)
    np.testing.assert_allclose(
        scattering_power(film, opaque_reflectance(k / s), black), 0.4 * s, rtol=1e-9
    )


def test_a_bare_surface_changes_nothing():
    values = np.array([0.01, 0.5, 0.9])
    np.testing.assert_allclose(BARE.seen(values), values)


@pytest.mark.parametrize("k", [0.0, 0.3, 4.0])
@pytest.mark.parametrize("base", [0.02, 0.5, 0.8])
def test_film_solves_the_differential_equation(k: float, base: float):
    """Kubelka and Munk 1931: dR/dX = S - 2 (K + S) R + S R^2, integrated by scipy."""
    s, thickness = 1.7, 0.9
    found = solve_ivp(
        lambda _, r: s - 2 * (k + s) * r + s * r * r, (0, thickness), [base], rtol=1e-11, atol=1e-13
    )
    ours = film_reflectance(np.array(k), np.array(s), thickness, np.array(base))
    assert ours == pytest.approx(float(found.y[0, -1]), rel=1e-8)


@given(st.floats(0.02, 5.0), st.floats(0.2, 3.0), st.floats(0.05, 1.5), st.floats(0.5, 0.9))
@settings(deadline=None, max_examples=50)
def test_black_and_white_together_tell_the_opaque_colour(
    k: float, s: float, thickness: float, white: float
):
    """Kubelka 1948, as used with ASTM D2805: a = (R + (R0 - R + Rg) / (R0 Rg)) / 2.

    R0 over black (0), R over a white of Rg; then the opaque colour is a - sqrt(a^2 - 1).  The
    contrast ratio of the two follows from it.  Equation from memory.
    """
    film = np.array(k), np.array(s)
    over_black = float(film_reflectance(*film, thickness, np.array(0.0)))
    over_white = float(film_reflectance(*film, thickness, np.array(white)))
    a = 0.5 * (over_white + (over_black - over_white + white) / (over_black * white))
    assert a == pytest.approx(1 + k / s, rel=1e-7)
    assert a - np.sqrt(a * a - 1) == pytest.approx(float(opaque_reflectance(np.array(k / s))))
