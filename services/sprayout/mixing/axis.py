"""The wavelengths a shelf is worked on, and the way from there to CIE Lab D65/10°.

Everything spectral in this room stands on one :class:`Axis`: the bands of the coarsest
measurement at hand, or every 20 nm when all are finer.  Working where the sensor sees keeps model,
readings and target comparable; the way to Lab is linear up to XYZ, so that thousands of mixtures
are judged at once.

Sources: CIE 15:2018 for the summation (tables of :mod:`sprayout.colour`); between the points of a
spectrum a natural cubic spline, beyond them the end value, as CIE 15:2018, 7.2.3 allows; between
filter bands the smoothest spectrum (least squared second difference) that the filters would report
so.  A caller may give filter averages or values read off at the centres; the filters are taken
narrower than their data sheet says (``_NARROWED``) so that either is about 0.4 CIEDE2000 off in Lab
and the differences between two such measurements far less.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import numpy.typing as npt

from sprayout.colour.lab import xyz_to_lab
from sprayout.colour.tables import GRID_NM, cie
from sprayout.errors import BadInput

Array = npt.NDArray[np.float64]

COARSE_STEP_NM = 25.0
FINE_STEP_NM = 20.0
LOW_NM, HIGH_NM = 400.0, 700.0
_CHIP_NM = (415.0, 445.0, 480.0, 515.0, 555.0, 590.0, 630.0, 680.0)
_FULL_WIDTH_NM = (26.0, 30.0, 36.0, 39.0, 39.0, 40.0, 50.0, 52.0)
"""Centre and full width at half height of the eight-band chip's filters, nm."""
_NARROWED = 0.75
_CLOSENESS = 1e-4


@dataclass(frozen=True, slots=True)
class Axis:
    """Band centres, nm, and what turns reflectances there into Lab.

    ``to_xyz`` is (bands, 3) for a perfect diffuser of Y = 100; ``white`` its XYZ.
    """

    wavelength_nm: tuple[float, ...]
    to_xyz: Array
    white: Array

    @property
    def bands(self) -> int:
        return len(self.wavelength_nm)

    @property
    def coarse(self) -> bool:
        """Whether these are filter bands rather than points of a spectrum."""
        return is_coarse(self.wavelength_nm)

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


def is_coarse(wavelength_nm: tuple[float, ...]) -> bool:
    """Bands further apart than a spectrum is usually sampled."""
    return float(np.median(np.diff(wavelength_nm))) > COARSE_STEP_NM


@lru_cache(maxsize=32)
def axis_on(wavelength_nm: tuple[float, ...], illuminant: str = "d65") -> Axis:
    """The axis on these band centres (rising, nm, at least five); ``illuminant`` d65 or a."""
    table = cie()
    product = table.column(illuminant)[:, None] * np.stack(
        [table.column(name) for name in ("x10", "y10", "z10")], axis=1
    )
    product = product * (100.0 / product[:, 1].sum())
    to_xyz = _spectrum_matrix(wavelength_nm).T @ product
    return Axis(wavelength_nm, to_xyz, to_xyz.sum(axis=0))


def _spectrum_matrix(wavelength_nm: tuple[float, ...]) -> Array:
    """Matrix (81, bands) from band values to the spectrum on ``GRID_NM``."""
    grid = tuple(GRID_NM)
    if not is_coarse(wavelength_nm):
        return spline_matrix(wavelength_nm, grid)
    filters = _mover(grid, wavelength_nm)
    rough = np.diff(np.eye(GRID_NM.size), 2, axis=0)
    system = rough.T @ rough + filters.T @ filters / _CLOSENESS
    return np.asarray(np.linalg.solve(system, filters.T / _CLOSENESS))


@lru_cache(maxsize=64)
def spline_matrix(nodes_nm: tuple[float, ...], at_nm: tuple[float, ...]) -> Array:
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


def shared_axis(measured_on: list[tuple[float, ...]]) -> Axis:
    """The axis on which measurements on all these wavelengths can be compared."""
    coarse = [nm for nm in measured_on if is_coarse(nm)]
    if coarse:
        return axis_on(min(coarse, key=len))
    if len(set(measured_on)) == 1 and float(np.diff(measured_on[0]).min()) >= FINE_STEP_NM - 1:
        return axis_on(measured_on[0])
    low = max([LOW_NM, *(nm[0] for nm in measured_on)])
    high = min([HIGH_NM, *(nm[-1] for nm in measured_on)])
    if high - low < 200:
        raise BadInput(
            f"wavelengths: the spectra share only {low:g}-{high:g} nm, wanted at least 430-630 nm; "
            "measure all swatches with one sensor"
        )
    count = round((high - low) / FINE_STEP_NM) + 1
    return axis_on(tuple(float(v) for v in np.linspace(low, high, count)))


def moved(wavelength_nm: tuple[float, ...], values: Array, axis: Axis) -> Array:
    """A measurement (..., n) as it would look on the axis (..., bands)."""
    if wavelength_nm == axis.wavelength_nm:
        return values
    return np.asarray(values @ _mover(wavelength_nm, axis.wavelength_nm).T)


@lru_cache(maxsize=64)
def _mover(from_nm: tuple[float, ...], to_nm: tuple[float, ...]) -> Array:
    """Weights (to, from): a fine spectrum seen through filters, or averaged over a step."""
    centre = np.asarray(to_nm)
    if is_coarse(from_nm):
        return spline_matrix(from_nm, to_nm)
    fine = np.arange(from_nm[0], from_nm[-1] + 0.5, 1.0)
    width = (
        _NARROWED * np.interp(centre, _CHIP_NM, _FULL_WIDTH_NM)
        if is_coarse(to_nm)
        else np.full(centre.size, 0.6 * float(np.median(np.diff(centre))))
    )
    away = np.abs(fine[None, :] - centre[:, None]) / width[:, None]
    weight = np.exp(-4 * np.log(2) * away**2)
    weight = weight / weight.sum(axis=1, keepdims=True)
    return np.asarray(weight @ spline_matrix(from_nm, tuple(fine)))
