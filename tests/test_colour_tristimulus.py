"""Tables, white points, XYZ and Lab against CIE 15 and colour-science."""

import csv
import warnings
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sprayout.colour.lab import lab_to_lch, lab_to_srgb, lab_to_xyz, xyz_to_lab
from sprayout.colour.tables import GRID_NM, cie, colour_samples, published_chart
from sprayout.colour.tristimulus import (
    ILLUMINANTS,
    Illuminant,
    Spectrum,
    grid_to_lab,
    resample,
    spectrum_to_lab,
    spectrum_to_xyz,
    white_point,
)
from sprayout.errors import BadInput

TABLES = Path(__file__).parent / "tables"
LINES = (TABLES / "cie15_white_points.csv").read_text().splitlines()
WHITE_POINTS = list(csv.DictReader(line for line in LINES if not line.startswith("#")))
OBSERVERS = {2: "CIE 1931 2 Degree Standard Observer", 10: "CIE 1964 10 Degree Standard Observer"}
NAMES: dict[Illuminant, str] = {"d65": "D65", "d50": "D50", "a": "A", "led-b3": "LED-B3", "c": "C"}


@pytest.fixture(scope="module")
def peer() -> Any:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import colour
    return colour


@pytest.mark.parametrize("row", WHITE_POINTS, ids=lambda r: f"{r['illuminant']}-{r['observer']}")
def test_white_points_of_cie_15(row: dict[str, str]) -> None:
    found = white_point(row["illuminant"], int(row["observer"]))  # type: ignore[arg-type]
    published = [float(row[axis]) for axis in "XYZ"]
    np.testing.assert_allclose(found, published, atol=0.03)


def test_tables_are_the_published_numbers(peer: Any) -> None:
    for illuminant, name in NAMES.items():
        sd = peer.SDS_ILLUMINANTS[name]
        mine = cie().column(illuminant.replace("-", "_"))
        np.testing.assert_allclose(mine, [sd[float(nm)] for nm in GRID_NM], atol=1e-6)
    for degrees, name in OBSERVERS.items():
        cmf = peer.MSDS_CMFS[name]
        for i, axis in enumerate("xyz"):
            published = [cmf[float(nm)][i] for nm in GRID_NM]
            np.testing.assert_allclose(cie().column(f"{axis}{degrees}"), published, atol=1e-9)


@pytest.mark.parametrize("illuminant", ILLUMINANTS)
@pytest.mark.parametrize("observer", [2, 10])
def test_five_nm_sum_against_one_nm_sum(peer: Any, illuminant: Illuminant, observer: int) -> None:
    """Over 99 smooth surfaces: XYZ within 0.02; within 0.1 under LED-B3 with its narrow pump;
    within 0.05 under C, published at 5 nm only, so that the 1 nm values are interpolated."""
    cmf = peer.MSDS_CMFS[OBSERVERS[observer]].copy().align(peer.SpectralShape(380, 780, 1))
    fine = np.arange(380.0, 780.1, 1.0)
    power = peer.SDS_ILLUMINANTS[NAMES[illuminant]].copy()
    power = power.align(peer.SpectralShape(380, 780, 1)).values
    samples = np.array(
        [peer.SpragueInterpolator(GRID_NM, column)(fine) for column in colour_samples().values.T]
    )
    product = power[:, None] * cmf.values
    xyz = samples @ product * 100.0 / product[:, 1].sum()
    mine = spectrum_to_xyz(colour_samples().values.T, illuminant, observer)
    allowed = {"led-b3": 0.1, "c": 0.05}.get(illuminant, 0.02)
    assert float(np.abs(mine - xyz).max()) < allowed


def test_lab_of_the_24_patch_chart_against_colour_science(peer: Any) -> None:
    """Peer: colour-science, integration at 5 nm with its own white point; 0.05 in L, a, b."""
    chart = peer.SDS_COLOURCHECKERS["ISO 17321-1"]
    shape = peer.SpectralShape(380, 780, 5)
    for white, degrees, name in (("d65-10", 10, "D65"), ("d50-2", 2, "D50")):
        cmf = peer.MSDS_CMFS[OBSERVERS[degrees]].copy().align(shape)
        light = peer.SDS_ILLUMINANTS[name].copy().align(shape)
        for sd in chart.values():
            xyz = peer.sd_to_XYZ(sd, cmf, light, method="Integration") / 100
            lab = peer.XYZ_to_Lab(xyz, peer.CCS_ILLUMINANTS[OBSERVERS[degrees]][name])
            mine = spectrum_to_lab(Spectrum(tuple(sd.wavelengths), tuple(sd.values)), white)
            np.testing.assert_allclose(mine, lab, atol=0.05)


def test_xyz_to_lab_agrees_with_colour_science(peer: Any) -> None:
    rng = np.random.default_rng(3)
    white = np.array([94.811, 100.0, 107.304])
    xyz = rng.random((200, 3)) ** 3 * white
    xy = white[:2] / white.sum()
    np.testing.assert_allclose(xyz_to_lab(xyz, white), peer.XYZ_to_Lab(xyz / 100, xy), atol=2e-6)


def test_screen_colour_agrees_with_colour_science(peer: Any) -> None:
    """Against its Bradford path from D50; 8-bit values may differ by the last step."""
    white = white_point("d50", 2)
    for lab in ((50.0, 10.0, 20.0), (80.0, -20.0, 30.0), (30.0, 20.0, -30.0), (96.0, 0.0, 2.0)):
        xyz = lab_to_xyz(lab, white) / 100
        xy = white[:2] / white.sum()
        rgb = peer.XYZ_to_sRGB(xyz, xy, chromatic_adaptation_transform="Bradford") * 255
        mine = lab_to_srgb(lab, white)
        assert mine.in_gamut
        np.testing.assert_allclose([mine.red, mine.green, mine.blue], rgb, atol=1.0)


def test_a_colour_no_screen_shows_is_marked() -> None:
    vivid = lab_to_srgb((60.0, -90.0, 10.0), white_point("d65", 10))
    assert not vivid.in_gamut
    assert vivid.hex.startswith("#00")
    white = lab_to_srgb((100.0, 0.0, 0.0), white_point("d65", 10))
    assert (white.hex, white.in_gamut) == ("#ffffff", True)


@settings(deadline=None, max_examples=100)
@given(st.tuples(st.floats(0, 100), st.floats(-120, 120), st.floats(-120, 120)))
def test_lab_to_xyz_and_back(lab: tuple[float, float, float]) -> None:
    white = white_point("d50", 2)
    np.testing.assert_allclose(xyz_to_lab(lab_to_xyz(lab, white), white), lab, atol=1e-9)


def test_perfect_white_is_100_0_0() -> None:
    for white in ("d65-10", "d50-2"):
        np.testing.assert_allclose(grid_to_lab(np.ones(81), white), [100, 0, 0], atol=1e-9)


def test_hue_angle_and_chroma() -> None:
    np.testing.assert_allclose(lab_to_lch([50.0, 0.0, -20.0]), [50.0, 20.0, 270.0])


@pytest.mark.parametrize("step", [1, 5, 10, 20])
def test_any_grid_gives_the_same_colour(step: int) -> None:
    """A chart spectrum thinned to 1, 5, 10 and 20 nm: Lab within 0.15 (0.5 at 20 nm)."""
    fine = np.arange(380.0, 780.1, 1.0)
    for column in published_chart().values.T:
        whole = np.interp(fine, GRID_NM, column)
        thin = Spectrum(tuple(fine[::step]), tuple(whole[::step]))
        gap = np.abs(np.array(spectrum_to_lab(thin)) - grid_to_lab(column))
        assert gap.max() < (0.5 if step == 20 else 0.15)


@pytest.mark.parametrize(
    ("nm", "values", "match"),
    [
        (range(400, 701, 50), [50.0] * 7, "give fractions, not per cent"),
        (range(400, 701, 50), [0.5] * 6, "the same number of both"),
        (range(700, 399, -50), [0.5] * 7, "do not rise"),
        (range(500, 801, 50), [0.5] * 7, "wanted at least 430-660 nm"),
        (range(400, 701, 50), [float("nan")] * 7, "got reflectances"),
    ],
)
def test_spectra_that_cannot_be_are_refused(nm: range, values: list[float], match: str) -> None:
    with pytest.raises(BadInput, match=match):
        resample(Spectrum(tuple(float(v) for v in nm), tuple(values)), "tile")
