"""How far the estimate may be from the true colour: ``u95`` as a radius in CIEDE2000.

The fit is repeated on half of the training surfaces and half of the unit's virtual sensors, and
judged on the other halves, so no surface and no sensor judges itself.  What is left there has a
part that repeats do not lessen (unknown sensor, metamerism) and a part from reading noise; both
are kept by place in Lab.  ``u95`` is the root of their sum times the factor that held 95 of 100
of those trials.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from sprayout.colour.tables import FloatArray

_NODES = (11, 15, 15)
_LOW = np.array([0.0, -105.0, -105.0])
_HIGH = np.array([100.0, 105.0, 105.0])
_FINER = 3
_NEIGHBOURS = 24
_LEARNT_FROM_HALF = 0.97
"""The whole fit has twice the surfaces of the ones on trial and errs a little less on them."""
SMALLEST_U95_DE00 = 0.10
"""Nothing here is better than this: certificate and tile alone leave as much."""

CLIPPED_U95_DE00 = 50.0
"""A clipped channel may stand for any amount of light: the colour is as good as unknown."""


def widen_clipped(u95_de00: FloatArray, clipped: NDArray[np.bool_]) -> FloatArray:
    """``u95_de00`` (n,) with the clipped rows (n,) made as wide as no knowledge."""
    return np.where(clipped, np.maximum(u95_de00, CLIPPED_U95_DE00), u95_de00)


@dataclass(frozen=True, slots=True)
class UncertaintyMap:
    """Squared differences by place in Lab, flattened fine grids; ``factor`` makes it 95 %."""

    lasting: FloatArray
    noise: FloatArray
    shape: tuple[int, int, int]
    factor: float

    def u95(self, lab: FloatArray, noise_share: FloatArray | float = 1.0) -> FloatArray:
        """Radius (...,) at Lab (..., 3); ``noise_share`` = noise variance over the trained one."""
        place = self._place(lab)
        variance = self.lasting[place] + noise_share * self.noise[place]
        radius: FloatArray = np.maximum(self.factor * np.sqrt(variance), SMALLEST_U95_DE00)
        return radius

    def u95_of_axes(self, lab: NDArray[np.float32], noise_share: FloatArray) -> FloatArray:
        """As :meth:`u95` for Lab (3, n), axes first: for very many samples."""
        size = np.array(self.shape)
        step = ((size - 1) / (_HIGH - _LOW)).astype(np.float32)[:, None]
        index = (lab - _LOW.astype(np.float32)[:, None]) * step + np.float32(0.5)
        np.clip(index, 0, (size - 1).astype(np.float32)[:, None], out=index)
        first, second, third = index.astype(np.int32)
        place = (first * size[1].astype(np.int32) + second) * size[2].astype(np.int32) + third
        variance = self.lasting[place] + noise_share * self.noise[place]
        radius: FloatArray = np.maximum(self.factor * np.sqrt(variance), SMALLEST_U95_DE00)
        return radius

    def noise_de00(self, lab: FloatArray, noise_share: FloatArray | float = 1.0) -> FloatArray:
        """Scatter (...,) that reading noise alone gives at Lab (..., 3), root mean square."""
        scatter: FloatArray = np.sqrt(noise_share * self.noise[self._place(lab)])
        return scatter

    def _place(self, lab: FloatArray) -> FloatArray:
        size = np.array(self.shape)
        step = (size - 1) / (_HIGH - _LOW)
        index = np.clip(np.rint((lab - _LOW) * step), 0, size - 1).astype(np.intp)
        flat: FloatArray = (index[..., 0] * size[1] + index[..., 1]) * size[2] + index[..., 2]
        return flat


def build(
    lab: FloatArray,
    clean: FloatArray,
    noisy: FloatArray,
    *,
    sensor_known: bool,
    widen: float = 1.0,
) -> UncertaintyMap:
    """From the Lab (t, 3) of surfaces and trials (n, t) on them, without and with noise.

    ``sensor_known``: patches have narrowed the sensor, so that the surfaces make the error.
    ``widen``: what the white tile says of this unit's own straying (see ``tile_posterior``).
    """
    lasting = (clean**2).mean(axis=0)
    noise = np.maximum((noisy**2).mean(axis=0) - lasting, 1e-6)
    near = _Neighbourhood.of(lab)
    at_surfaces = near.average(lab, np.stack([lasting, noise], axis=1))
    ratio = noisy / np.sqrt(at_surfaces.sum(axis=1))
    factor = float(np.quantile(ratio, 0.95)) * (_LEARNT_FROM_HALF if sensor_known else 1.0) * widen
    grid = near.average(_nodes(), np.stack([lasting, noise], axis=1))
    # Imported at use: only building a profile needs it.
    from scipy.ndimage import zoom

    fine = [zoom(column.reshape(_NODES), _FINER, order=1) for column in grid.T]
    return UncertaintyMap(fine[0].ravel(), fine[1].ravel(), fine[0].shape, factor)


def _nodes() -> FloatArray:
    axes = [np.linspace(low, high, n) for low, high, n in zip(_LOW, _HIGH, _NODES, strict=True)]
    return np.stack(np.meshgrid(*axes, indexing="ij"), axis=-1).reshape(-1, 3)


@dataclass(frozen=True, slots=True)
class _Neighbourhood:
    tree: cKDTree

    @staticmethod
    def of(lab: FloatArray) -> _Neighbourhood:
        return _Neighbourhood(cKDTree(lab))

    def average(self, at: FloatArray, values: FloatArray) -> FloatArray:
        """Bell-weighted means of ``values`` (t, c) over the surfaces nearest to ``at`` (m, 3)."""
        distance, index = self.tree.query(at, _NEIGHBOURS)
        reach = distance[:, _NEIGHBOURS // 2, None]
        weight = np.exp(-0.5 * (distance / reach) ** 2)
        weight /= weight.sum(axis=1, keepdims=True)
        mean: FloatArray = np.einsum("mn,mnc->mc", weight, values[index])
        return mean
