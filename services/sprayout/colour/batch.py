"""Lab of very many samples: the same sums as for one, laid out for speed.

Rows are taken in blocks that stay in the processor's cache, channels lie along memory, and the
arithmetic is single precision: Lab differs from double precision by less than 0.002
(tests/test_colour_profile.py).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sprayout.colour.regression import LEAST_RATIO
from sprayout.colour.tables import FloatArray
from sprayout.colour.uncertainty import UncertaintyMap, widen_clipped
from sprayout.colour.unit_check import CLIP_SHARE, check_counts

BLOCK = 4096
_EPSILON = np.float32((24.0 / 116.0) ** 3)
_SLOPE = np.float32(841.0 / 108.0)
_SHIFT = np.float32(16.0 / 116.0)
Single = NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class LabBatch:
    """Many colours at once: ``lab`` (n, 3), ``u95_de00`` (n,), ``clipped`` (n,)."""

    lab: FloatArray
    u95_de00: FloatArray
    clipped: NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class BatchMap:
    """One unit's map to X, Y, Z over white: ``coefficients`` (features, 3), ``dark`` and ``white``
    (k,) the counts at ``columns`` of a row, ``top`` the highest count."""

    channels: tuple[str, ...]
    columns: tuple[int, ...]
    dark: FloatArray
    white: FloatArray
    coefficients: FloatArray
    top: float

    def lab(
        self, counts: FloatArray, u95: UncertaintyMap, noise_share: FloatArray | float
    ) -> LabBatch:
        """Lab, uncertainty and clipping of raw counts (n, channels)."""
        total = len(counts)
        found = LabBatch(np.empty((total, 3)), np.empty(total), np.empty(total, dtype=bool))
        share = np.broadcast_to(np.asarray(noise_share, dtype=float), (total,))
        for start in range(0, total, BLOCK):
            block = slice(start, start + BLOCK)
            signal = self._signal(counts[block])
            found.clipped[block] = signal.max(axis=0) >= CLIP_SHARE * self.top
            lab = _to_lab(self._over_white(signal))
            found.lab[block] = lab.T
            radius = u95.u95_of_axes(lab, share[block])
            found.u95_de00[block] = widen_clipped(radius, found.clipped[block])
        return found

    def _signal(self, counts: FloatArray) -> Single:
        """The colour channels (k, n); refuses what is no count."""
        columns: slice | list[int] = list(self.columns)
        if self.columns == tuple(range(self.columns[0], self.columns[-1] + 1)):
            columns = slice(self.columns[0], self.columns[-1] + 1)
        signal = np.array(counts.T[columns], dtype=np.float32, order="C")
        if signal.size and not (signal.min() >= 0.0 and signal.max() < np.inf):
            check_counts(counts, self.channels, "sample")
        return signal

    def _over_white(self, signal: Single) -> Single:
        dark = self.dark.astype(np.float32)[:, None]
        scale = (1.0 / (self.white - self.dark)).astype(np.float32)[:, None]
        ratio = np.maximum((signal - dark) * scale, np.float32(LEAST_RATIO))
        features = _features(ratio)
        coefficients = np.ascontiguousarray(self.coefficients.T.astype(np.float32))
        relative: Single = np.maximum(coefficients @ features, np.float32(0.0))
        return relative


def _features(ratio: Single) -> Single:
    """As ``regression.features``, with channels first: (features, n)."""
    channels, count = ratio.shape
    out = np.empty((channels * (channels + 1) // 2, count), dtype=np.float32)
    out[:channels] = ratio
    root = np.sqrt(ratio)
    place = channels
    for first in range(channels - 1):
        more = channels - 1 - first
        np.multiply(root[first], root[first + 1 :], out=out[place : place + more])
        place += more
    return out


def _to_lab(ratio: Single) -> Single:
    """Lab (3, n) of X, Y, Z over white (3, n); see ``lab.xyz_to_lab``."""
    f = np.cbrt(ratio)
    if ratio.min(initial=1.0) <= _EPSILON:
        f = np.where(ratio > _EPSILON, f, _SLOPE * ratio + _SHIFT)
    lab = np.empty_like(f)
    np.multiply(f[1], np.float32(116.0), out=lab[0])
    lab[0] -= np.float32(16.0)
    np.multiply(f[0] - f[1], np.float32(500.0), out=lab[1])
    np.multiply(f[1] - f[2], np.float32(200.0), out=lab[2])
    return lab
