"""Wavelengths: where paints are modelled, what a sensor sees of it, and the way to CIE Lab.

Paints live on one fixed axis, every 20 nm from 400 to 700 (:data:`MODEL_NM`).  A measurement comes
through a :class:`Sight`: eight filter bands, or the points of a spectrum.  Both are linear in
reflectance up to XYZ, so that thousands of mixtures are judged at once.

Sources: CIE 15:2018 for the summation (tables of :mod:`sprayout.colour`); between points a natural
cubic spline, beyond them the end value, as CIE 15:2018, 7.2.3 allows.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import numpy.typing as npt

from sprayout.colour.lab import xyz_to_lab
from sprayout.colour.tables import GRID_NM, cie
from sprayout.colour.tristimulus import Spectrum

Array = npt.NDArray[np.float64]
Wavelengths = tuple[float, ...]

MODEL_NM: Wavelengths = tuple(float(v) for v in range(400, 701, 20))
COARSE_STEP_NM = 25.0
_CHIP_NM = (415.0, 445.0, 480.0, 515.0, 555.0, 590.0, 630.0, 680.0)
_FULL_WIDTH_NM = (26.0, 30.0, 36.0, 39.0, 39.0, 40.0, 50.0, 52.0)
"""Centre and full width at half height of the eight-band chip's filters, nm."""
_NARROWED = 0.75
"""A caller may give filter averages or values read off at the centres: the filters are taken
narrower than their data sheet says, so that either is about 0.4 CIEDE2000 off in Lab and the
difference of two such measurements far less."""
_CLOSENESS = 1e-4


@dataclass(frozen=True, slots=True)
class Axis:
    """Bands and what turns reflectances there into Lab D65/10°.

    ``to_xyz`` is (bands, 3) for a perfect diffuser of Y = 100; ``white`` its XYZ.
    """

    to_xyz: Array
    white: Array

    @property
    def bands(self) -> int:
        return len(self.to_xyz)

    def lab(self, reflectance: Array) -> Array:
        """Measured reflectance (..., bands) -> Lab D65/10° (..., 3)."""
        return xyz_to_lab(reflectance @ self.to_xyz, self.white)

    def lab_slope(self, reflectance: Array) -> Array:
        """Jacobian (..., 3, bands) of Lab with respect to the reflectances."""
        ratio = np.maximum((reflectance @ self.to_xyz) / self.white, 1e-9)
        curve = np.where(ratio > 216 / 24389, ratio ** (-2 / 3) / 3, 841 / 108) / self.white
        f = np.swapaxes(curve[..., None, :] * self.to_xyz, -1, -2)
        x, y, z = f[..., 0, :], f[..., 1, :], f[..., 2, :]
        return np.stack([116 * y, 500 * (x - y), 200 * (y - z)], axis=-2)


@dataclass(frozen=True, slots=True)
class Sight:
    """How a kind of measurement sees a surface.

    ``matrix`` (bands, 16): band reflectances of a reflectance on ``MODEL_NM``; ``reduce``
    (bands, given): band reflectances from the numbers as they were given; ``axis``: Lab from the
    bands; ``band_nm``: their centres.
    """

    band_nm: Wavelengths
    matrix: Array
    reduce: Array
    axis: Axis
    coarse: bool

    def bands_of(self, values: tuple[float, ...]) -> Array:
        """Band reflectances (bands,) of a measurement as given."""
        return np.asarray(self.reduce @ np.asarray(values))

    def model_axis(self, illuminant: str = "d65") -> Axis:
        """Lab as this sight gives it, straight from reflectances on ``MODEL_NM``."""
        own = self.axis if illuminant == "d65" else axis_on(self.band_nm, illuminant)
        return Axis(self.matrix.T @ own.to_xyz, own.white)


def is_coarse(wavelength_nm: Wavelengths) -> bool:
    """Bands further apart than a spectrum is usually sampled."""
    return float(np.median(np.diff(wavelength_nm))) > COARSE_STEP_NM


@lru_cache(maxsize=32)
def axis_on(wavelength_nm: Wavelengths, illuminant: str = "d65") -> Axis:
    """Lab from reflectances on these band centres (rising, nm); ``illuminant`` d65 or a."""
    table = cie()
    product = table.column(illuminant)[:, None] * np.stack(
        [table.column(name) for name in ("x10", "y10", "z10")], axis=1
    )
    product = product * (100.0 / product[:, 1].sum())
    to_xyz = _spectrum_matrix(wavelength_nm).T @ product
    return Axis(to_xyz, to_xyz.sum(axis=0))


def model_axis(illuminant: str = "d65") -> Axis:
    """Lab from reflectances on ``MODEL_NM``."""
    return axis_on(MODEL_NM, illuminant)


def sight_of(spectrum: Spectrum) -> Sight:
    """The sight that this spectrum was measured with."""
    return sight_on(spectrum.wavelength_nm)


@lru_cache(maxsize=32)
def sight_on(wavelength_nm: Wavelengths) -> Sight:
    """Filter bands as they are; a finer spectrum at the model's wavelengths that it covers."""
    if is_coarse(wavelength_nm):
        matrix = _filters(MODEL_NM, wavelength_nm)
        own = np.eye(len(wavelength_nm))
        return Sight(wavelength_nm, matrix, own, axis_on(wavelength_nm), True)
    low, high = wavelength_nm[0] - 5, wavelength_nm[-1] + 5
    covered = [i for i, nm in enumerate(MODEL_NM) if low <= nm <= high]
    band_nm = tuple(MODEL_NM[i] for i in covered)
    matrix = np.eye(len(MODEL_NM))[covered]
    return Sight(band_nm, matrix, _filters(wavelength_nm, band_nm), axis_on(band_nm), False)


def _spectrum_matrix(wavelength_nm: Wavelengths) -> Array:
    """Matrix (81, bands) from band values to the spectrum on ``GRID_NM``.

    Between filter bands: the smoothest spectrum (least squared second difference) that the filters
    would report so.
    """
    grid = tuple(GRID_NM)
    if not is_coarse(wavelength_nm):
        return spline_matrix(wavelength_nm, grid)
    filters = _filters(grid, wavelength_nm)
    rough = np.diff(np.eye(GRID_NM.size), 2, axis=0)
    system = rough.T @ rough + filters.T @ filters / _CLOSENESS
    return np.asarray(np.linalg.solve(system, filters.T / _CLOSENESS))


@lru_cache(maxsize=64)
def spline_matrix(nodes_nm: Wavelengths, at_nm: Wavelengths) -> Array:
    """Matrix (at, nodes) of the natural cubic spline through the nodes, ends held."""
    x = np.asarray(nodes_nm)
    t = np.clip(np.asarray(at_nm), x[0], x[-1])
    h = np.diff(x)
    count = x.size
    inner = np.arange(1, count - 1)
    system, right = np.eye(count), np.zeros((count, count))
    system[inner, inner - 1], system[inner, inner + 1] = h[:-1], h[1:]
    system[inner, inner] = 2 * (h[:-1] + h[1:])
    right[inner, inner - 1], right[inner, inner + 1] = 6 / h[:-1], 6 / h[1:]
    right[inner, inner] = -6 / h[:-1] - 6 / h[1:]
    bend = np.linalg.solve(system, right)
    i = np.clip(np.searchsorted(x, t, side="right") - 1, 0, count - 2)
    u, w = t - x[i], x[i + 1] - t
    rows = np.arange(t.size)
    value = np.zeros((t.size, count))
    value[rows, i] += w / h[i]
    value[rows, i + 1] += u / h[i]
    low, high = (w**3 / h[i] - h[i] * w) / 6, (u**3 / h[i] - h[i] * u) / 6
    return np.asarray(value + low[:, None] * bend[i] + high[:, None] * bend[i + 1])


@lru_cache(maxsize=64)
def _filters(from_nm: Wavelengths, to_nm: Wavelengths) -> Array:
    """Weights (to, from): a spectrum seen through the chip's filters, or averaged over a step."""
    centre = np.asarray(to_nm)
    fine = np.arange(350.0, 820.5, 1.0)
    width = (
        _NARROWED * np.interp(centre, _CHIP_NM, _FULL_WIDTH_NM)
        if is_coarse(to_nm)
        else np.full(centre.size, min(12.0, 1.2 * float(np.median(np.diff(from_nm)))))
    )
    if not is_coarse(to_nm) and set(to_nm) <= set(from_nm) and np.median(np.diff(from_nm)) > 8:
        return np.asarray((np.asarray(from_nm)[None, :] == centre[:, None]).astype(float))
    away = (fine[None, :] - centre[:, None]) / width[:, None]
    weight = np.exp(-4 * np.log(2) * away**2)
    weight = weight / weight.sum(axis=1, keepdims=True)
    return np.asarray(weight @ spline_matrix(from_nm, tuple(fine)))
