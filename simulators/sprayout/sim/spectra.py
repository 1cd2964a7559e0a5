"""Surfaces that may lie under the virtual sensor, as reflectance over wavelength.

Everything here is invented: smooth curves that behave like surfaces of a workshop.  A
*certificate* is what the paper that came with a tile or chart says; the surface itself differs
from it a little, as real ones do.  Reflectance is the reflectance factor 0..1 at 45/0 without
the gloss, on ``WAVELENGTH_NM``.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sprayout.errors import BadInput

Spectrum = NDArray[np.float64]

WAVELENGTH_NM: Spectrum = np.arange(380.0, 1001.0, 2.0)
CERTIFICATE_NM: tuple[float, ...] = tuple(float(nm) for nm in range(380, 781, 10))


@dataclass(frozen=True, slots=True)
class Surface:
    """Something to lay under the sensor: a name and its reflectance on ``WAVELENGTH_NM``.

    ``unevenness`` is the relative scatter (one standard deviation) of the level from one
    placement of the sensor to the next: gloss, tilt and texture.
    """

    name: str
    reflectance: Spectrum
    unevenness: float = 0.001

    def __post_init__(self) -> None:
        """Check the curve and keep an own, read-only copy of it."""
        curve = checked_reflectance(self.reflectance, f"surface {self.name!r}")
        curve.flags.writeable = False
        object.__setattr__(self, "reflectance", curve)
        if not 0.0 <= self.unevenness <= 0.5:
            raise BadInput(
                f"surface {self.name!r}: unevenness is {self.unevenness}, wanted 0 to 0.5; "
                "give the scatter between placements as a share of the level"
            )


@dataclass(frozen=True, slots=True)
class Certificate:
    """What the paper says: reflectance at the wavelengths the maker chose to print."""

    name: str
    wavelength_nm: tuple[float, ...]
    reflectance: tuple[float, ...]

    def __post_init__(self) -> None:
        """Refuse unequal lengths and anything that is no curve of a surface."""
        on_grid(self.wavelength_nm, self.reflectance)


def checked_reflectance(values: Spectrum | Sequence[float], what: str) -> Spectrum:
    """Return a copy of ``values`` on the grid, or raise BadInput with the offending value."""
    curve = np.array(values, dtype=np.float64)
    if curve.shape != WAVELENGTH_NM.shape:
        raise BadInput(
            f"{what}: reflectance has shape {curve.shape}, wanted {WAVELENGTH_NM.shape}; "
            "put it on the grid with on_grid() first"
        )
    bad = ~((curve >= 0.0) & (curve <= 1.0))
    if bad.any():
        at = int(np.argmax(bad))
        raise BadInput(
            f"{what}: reflectance is {curve[at]} at {WAVELENGTH_NM[at]:.0f} nm, wanted 0 to 1; "
            "give a reflectance factor, not per cent"
        )
    return curve


def on_grid(wavelength_nm: Sequence[float], reflectance: Sequence[float]) -> Spectrum:
    """Put a measured curve on the simulator's grid; the ends are held level beyond its range."""
    wavelengths, values = np.asarray(wavelength_nm, float), np.asarray(reflectance, float)
    if wavelengths.shape != values.shape or wavelengths.ndim != 1 or wavelengths.size < 2:
        raise BadInput(
            f"spectrum: {wavelengths.size} wavelengths and {values.size} values, wanted two or "
            "more of each in equal number"
        )
    if not np.all(np.diff(wavelengths) > 0):
        raise BadInput("spectrum: wavelengths do not rise, wanted them sorted in nm; sort them")
    return checked_reflectance(np.interp(WAVELENGTH_NM, wavelengths, values), "spectrum")


def rise(centre_nm: float, width_nm: float) -> Spectrum:
    """An edge from 0 to 1, half way at ``centre_nm``."""
    edge: Spectrum = 1.0 / (1.0 + np.exp(-(WAVELENGTH_NM - centre_nm) / width_nm))
    return edge


def bump(centre_nm: float, width_nm: float) -> Spectrum:
    """A bell of height 1; ``width_nm`` is its standard deviation."""
    bell: Spectrum = np.exp(-0.5 * ((WAVELENGTH_NM - centre_nm) / width_nm) ** 2)
    return bell


def wander(rng: np.random.Generator, scale: float, reach_nm: float = 90.0) -> Spectrum:
    """A smooth random curve of about ``scale`` standard deviation, correlated over reach_nm."""
    knots = np.arange(200.0, 1200.0, reach_nm)
    heights = rng.standard_normal(knots.size)
    bells = np.exp(-0.5 * ((WAVELENGTH_NM[:, None] - knots[None, :]) / reach_nm) ** 2)
    curve: Spectrum = scale * (bells @ heights) / np.sqrt((bells**2).sum(axis=1))
    return curve


def checked_seed(seed: int) -> int:
    """Return ``seed`` if it is a whole number of 0 or more."""
    if isinstance(seed, bool) or not isinstance(seed, int) or seed < 0:
        raise BadInput(f"seed: got {seed!r}, wanted a whole number of 0 or more")
    return seed


def light_trap() -> Surface:
    """A black-lined open box under the aperture: next to nothing comes back."""
    return Surface("light trap", 0.0012 + 0.0006 * rise(720.0, 60.0), unevenness=0.0)


def white_tile(seed: int) -> tuple[Surface, Certificate]:
    """A glazed white tile and its certificate.

    The tile differs from its paper by about 0.3 % in level and 0.2 % in shape, and has
    yellowed a little since it was measured.
    """
    rng = np.random.default_rng((checked_seed(seed), 0x11))
    printed = 0.915 * (1.0 - 0.20 * (1.0 - rise(396.0, 9.0))) * (1.0 - 0.012 * bump(620.0, 90.0))
    yellowed = 1.0 - abs(0.003 * rng.standard_normal()) * (1.0 - rise(450.0, 25.0))
    true = printed * yellowed * (1.0 + 0.003 * rng.standard_normal() + wander(rng, 0.002))
    surface = Surface("white tile", np.clip(true, 0.0, 0.99), unevenness=0.0008)
    return surface, _certificate("white tile", printed)


def check_tile(seed: int) -> tuple[Surface, Certificate]:
    """The grey-green tile for the daily check, with its certificate."""
    rng = np.random.default_rng((checked_seed(seed), 0x22))
    printed = 0.26 + 0.13 * bump(535.0, 48.0) - 0.05 * bump(430.0, 40.0) + 0.10 * rise(725.0, 20.0)
    true = printed * (1.0 + 0.003 * rng.standard_normal() + wander(rng, 0.002))
    surface = Surface("check tile", np.clip(true, 0.0, 0.99), unevenness=0.001)
    return surface, _certificate("check tile", printed)


def _certificate(name: str, printed: Spectrum) -> Certificate:
    """The paper: every ten nanometres, four decimals."""
    values = np.interp(CERTIFICATE_NM, WAVELENGTH_NM, printed)
    return Certificate(name, CERTIFICATE_NM, tuple(round(float(v), 4) for v in values))


def _patch_curves() -> dict[str, Spectrum]:
    """Twelve patches of the workshop's printed chart, named after what they look like."""
    flat = np.ones_like(WAVELENGTH_NM)
    return {
        "rope": 0.10 + 0.42 * rise(545.0, 52.0),
        "brick": 0.055 + 0.47 * rise(604.0, 17.0) + 0.03 * bump(440.0, 40.0),
        "pennant orange": 0.05 + 0.62 * rise(578.0, 13.0),
        "buoy yellow": 0.06 + 0.70 * rise(518.0, 12.0),
        "grass": 0.06 + 0.26 * bump(548.0, 33.0) + 0.32 * rise(722.0, 14.0),
        "bottle": 0.04 + 0.15 * bump(512.0, 36.0) + 0.12 * rise(745.0, 22.0),
        "lagoon": 0.06 + 0.42 * bump(486.0, 46.0) + 0.22 * rise(735.0, 24.0),
        "deep water": 0.045 + 0.28 * bump(452.0, 31.0) + 0.18 * rise(742.0, 20.0),
        "plum": 0.05 + 0.19 * bump(428.0, 30.0) + 0.25 * rise(636.0, 24.0),
        "shell pink": 0.33 + 0.33 * rise(588.0, 26.0) + 0.12 * bump(440.0, 44.0),
        "slate": 0.19 * flat + 0.012 * bump(470.0, 60.0),
        "chalk": 0.60 * flat - 0.14 * (1.0 - rise(402.0, 11.0)),
    }


def chart_patches(seed: int) -> tuple[tuple[Surface, Certificate], ...]:
    """The twelve patches of one printed chart, each with its certificate.

    Print varies: level 0.5 %, shape 0.3 %, and edges that sit a nanometre off.
    """
    rng = np.random.default_rng((checked_seed(seed), 0x33))
    return tuple(_printed_patch(name, curve, rng) for name, curve in _patch_curves().items())


def _printed_patch(
    name: str, printed: Spectrum, rng: np.random.Generator
) -> tuple[Surface, Certificate]:
    """One patch as it came from the press beside what the certificate says."""
    moved = np.interp(WAVELENGTH_NM + 0.5 * rng.standard_normal(), WAVELENGTH_NM, printed)
    true = moved * (1.0 + 0.005 * rng.standard_normal() + wander(rng, 0.003))
    surface = Surface(name, np.clip(true, 0.0, 0.99), unevenness=0.002)
    return surface, _certificate(name, printed)
