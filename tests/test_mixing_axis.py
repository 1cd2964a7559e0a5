"""The way from bands to Lab, against the colour room and a general-purpose spline."""

import numpy as np
import pytest
from scipy.interpolate import CubicSpline

from sprayout.colour.difference import ciede2000
from sprayout.colour.tables import GRID_NM, colour_samples, published_chart
from sprayout.colour.tristimulus import grid_to_lab
from sprayout.mixing.axis import MODEL_NM, axis_on, model_axis, sight_on, spline_matrix

CHIP_NM = (415.0, 445.0, 480.0, 515.0, 555.0, 590.0, 630.0, 680.0)


def test_the_spline_is_the_natural_cubic_one():
    nodes, values = (
        np.array([400.0, 430, 480, 500, 580, 700]),
        np.array([0.1, 0.3, 0.2, 0.6, 0.5, 1]),
    )
    at = np.arange(400.0, 701.0, 7.0)
    ours = spline_matrix(tuple(nodes), tuple(at)) @ values
    np.testing.assert_allclose(ours, CubicSpline(nodes, values, bc_type="natural")(at), atol=1e-12)


@pytest.mark.parametrize("step", [5, 10])
def test_lab_of_fine_spectra_is_the_colour_rooms(step: int):
    """CIE 224:2017 samples; a smooth surface loses nothing at 10 nm that anyone would see."""
    nm = tuple(float(v) for v in range(380, 781, step))
    samples = colour_samples().values.T
    seen = samples[:, np.isin(GRID_NM, nm)]
    apart = ciede2000(grid_to_lab(samples), axis_on(nm).lab(seen))
    assert np.quantile(apart, 0.9) < (1e-9 if step == 5 else 0.1)


def test_lab_on_the_models_axis():
    """24 patches of ISO 17321-1 at 20 nm: what the coarser axis costs."""
    chart = published_chart().values.T
    seen = chart @ sight_on(tuple(GRID_NM)).reduce.T
    apart = ciede2000(grid_to_lab(chart), model_axis().lab(seen))
    assert np.median(apart) < 0.15
    assert apart.max() < 0.6


@pytest.mark.parametrize("averaged", [True, False], ids=["filter averages", "values at centres"])
def test_lab_from_eight_bands_either_way(averaged: bool):
    """The narrowed filters stand between the two meanings of *reflectance at a band centre*."""
    chart = published_chart().values.T
    width = np.interp(CHIP_NM, CHIP_NM, (26, 30, 36, 39, 39, 40, 50, 52)) if averaged else 1.0
    away = (GRID_NM[None, :] - np.asarray(CHIP_NM)[:, None]) / np.reshape(width, (-1, 1))
    weight = np.exp(-4 * np.log(2) * away**2)
    bands = chart @ (weight / weight.sum(axis=1, keepdims=True)).T
    apart = ciede2000(grid_to_lab(chart), axis_on(CHIP_NM).lab(bands))
    assert np.median(apart) < 0.6


def test_the_slope_of_lab_is_the_derivative():
    axis, step = model_axis(), 1e-6
    seen = np.linspace(0.05, 0.7, len(MODEL_NM))
    numeric = np.stack(
        [(axis.lab(seen + step * unit) - axis.lab(seen)) / step for unit in np.eye(seen.size)],
        axis=1,
    )
    np.testing.assert_allclose(axis.lab_slope(seen), numeric, rtol=1e-3, atol=1e-3)


def test_a_perfect_white_is_white_through_every_sight():
    for nm in (CHIP_NM, MODEL_NM, tuple(float(v) for v in range(400, 701))):
        sight = sight_on(nm)
        bands = sight.bands_of((1.0,) * len(nm))
        np.testing.assert_allclose(bands, 1.0)
        np.testing.assert_allclose(sight.matrix @ np.ones(16), 1.0, atol=1e-9)
        np.testing.assert_allclose(sight.axis.lab(bands), [100, 0, 0], atol=1e-6)
