"""Surfaces of the virtual bench: inside 0..1, true to their names, checked when made."""

import warnings

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sprayout.errors import BadInput
from sprayout.sim import spectra
from sprayout.sim.targets import TARGET_NAMES, target_swatch

seeds = st.integers(min_value=0, max_value=10_000)


def lab_d65_10(reflectance: np.ndarray) -> np.ndarray:
    """Lab by colour-science, a general-purpose library (outside judge of the invented curves)."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import colour

        observer = "CIE 1964 10 Degree Standard Observer"
        curve = colour.SpectralDistribution(
            dict(zip(spectra.WAVELENGTH_NM.tolist(), reflectance.tolist(), strict=True))
        ).align(colour.SpectralShape(380, 780, 5))
        xyz = colour.sd_to_XYZ(curve, colour.MSDS_CMFS[observer], colour.SDS_ILLUMINANTS["D65"])
        return np.asarray(colour.XYZ_to_Lab(xyz / 100.0, colour.CCS_ILLUMINANTS[observer]["D65"]))


@given(seed=seeds)
@settings(deadline=None, max_examples=25)
def test_tile_and_patches_stay_near_their_certificates(seed: int) -> None:
    pairs = [spectra.white_tile(seed), spectra.check_tile(seed), *spectra.chart_patches(seed)]
    assert len(pairs) == 14
    for surface, certificate in pairs:
        at = np.interp(certificate.wavelength_nm, spectra.WAVELENGTH_NM, surface.reflectance)
        printed = np.array(certificate.reflectance)
        assert np.max(np.abs(at - printed) / printed) < 0.09, surface.name
        assert not np.allclose(at, printed, atol=1e-5), "a real surface differs from its paper"


# What the invented surface is called, and where colour-science must find it (D65, 10 degrees).
NAMED_COLOURS = [
    ("slate", (45, 58), (-4, 4), (-5, 5)),
    ("chalk", (76, 88), (-3, 3), (-3, 5)),
    ("buoy yellow", (74, 88), (-5, 15), (65, 95)),
    ("brick", (36, 50), (28, 48), (8, 28)),
    ("grass", (46, 60), (-40, -18), (22, 45)),
    ("deep water", (26, 42), (2, 22), (-55, -32)),
    ("lagoon", (50, 64), (-45, -24), (-28, -8)),
    ("plum", (26, 42), (18, 38), (-36, -14)),
]


@pytest.mark.parametrize(("name", "lightness", "a", "b"), NAMED_COLOURS)
def test_patches_look_like_their_names(
    name: str, lightness: tuple[int, int], a: tuple[int, int], b: tuple[int, int]
) -> None:
    surface = {s.name: s for s, _ in spectra.chart_patches(3)}[name]
    for value, (low, high) in zip(lab_d65_10(surface.reflectance), (lightness, a, b), strict=True):
        assert low <= value <= high


def test_white_tile_is_white_and_light_trap_is_black() -> None:
    white = lab_d65_10(spectra.white_tile(5)[0].reflectance)
    assert white[0] > 94.0
    assert np.hypot(white[1], white[2]) < 2.0
    assert lab_d65_10(spectra.light_trap().reflectance)[0] < 2.5


def test_targets_are_surface_colours_and_the_hull_is_blue() -> None:
    for name in TARGET_NAMES:
        curve = target_swatch(name).reflectance
        assert np.all((curve > 0.0) & (curve < 1.0))
    hull = lab_d65_10(target_swatch("pilot cutter hull blue").reflectance)
    assert 35 < hull[0] < 60
    assert hull[2] < -12


@given(seed=seeds)
@settings(deadline=None, max_examples=10)
def test_same_seed_same_surfaces(seed: int) -> None:
    assert np.array_equal(
        spectra.white_tile(seed)[0].reflectance, spectra.white_tile(seed)[0].reflectance
    )
    assert not np.array_equal(
        spectra.white_tile(seed)[0].reflectance, spectra.white_tile(seed + 1)[0].reflectance
    )


def test_on_grid_keeps_measured_points_and_holds_the_ends() -> None:
    curve = spectra.on_grid([400.0, 500.0, 700.0], [0.2, 0.4, 0.1])
    assert curve[0] == pytest.approx(0.2)
    assert curve[-1] == pytest.approx(0.1)
    assert curve[60] == pytest.approx(0.4)


@pytest.mark.parametrize(
    ("wavelengths", "values", "says"),
    [
        ([400.0, 500.0], [0.2], "2 wavelengths and 1 values"),
        ([500.0, 400.0], [0.2, 0.3], "do not rise"),
        ([400.0, 500.0], [0.2, 55.0], "wanted 0 to 1"),
        ([400.0, 500.0], [0.2, float("nan")], "wanted 0 to 1"),
    ],
)
def test_bad_spectra_are_refused(wavelengths: list[float], values: list[float], says: str) -> None:
    with pytest.raises(BadInput, match=says):
        spectra.on_grid(wavelengths, values)


def test_a_surface_checks_its_curve_and_cannot_be_changed() -> None:
    with pytest.raises(BadInput, match="shape"):
        spectra.Surface("short", np.full(10, 0.5))
    with pytest.raises(BadInput, match="unevenness"):
        spectra.Surface("rough", np.full_like(spectra.WAVELENGTH_NM, 0.5), unevenness=2.0)
    with pytest.raises(ValueError, match="read-only"):
        spectra.light_trap().reflectance[0] = 1.0


def test_a_certificate_must_be_a_curve() -> None:
    with pytest.raises(BadInput, match="2 wavelengths and 1 values"):
        spectra.Certificate("torn", (400.0, 500.0), (0.5,))


@pytest.mark.parametrize("seed", [-1, 1.5, True, "seven"])
def test_bad_seeds_are_refused(seed: object) -> None:
    with pytest.raises(BadInput, match="seed"):
        spectra.white_tile(seed)  # type: ignore[arg-type]
