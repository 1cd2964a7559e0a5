"""How restless one reading is, channel by channel: assumed at first, learnt from repeats.

The variance of a reading of c counts is ``share² c² + root² c + floor²``: flicker and handling,
the light itself (its variance grows with its level), and the converter.  A channel that gets
little light lives near the floor, so one figure for all channels would trust it far too much.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from sprayout.colour.tables import FloatArray

READINGS = 4
"""Readings averaged per sample that the map is trained for."""
CALIBRATION_READINGS = 8
"""Readings taken to stand behind dark, tile and patch: the bench takes twelve, others four."""
PRIOR_FREEDOM = 8.0
_ROUNDS = 12
_PASSES = 2
_MATTERS = 1.3
_LIT, _DIM = 1.0, 0.05


@dataclass(frozen=True, slots=True)
class NoiseModel:
    """Noise of one reading: share of its counts, times their root, and counts."""

    share: float
    root: float
    floor: float

    def variance(self, counts: FloatArray) -> FloatArray:
        """Variance (...,) of one reading of ``counts`` (...,), in counts squared."""
        light = np.maximum(counts, 0.0)
        squared: FloatArray = (self.share * light) ** 2 + self.root**2 * light + self.floor**2
        return squared

    def sd(self, counts: FloatArray) -> FloatArray:
        """Noise (...,) of one reading of ``counts`` (...,), in counts."""
        return np.sqrt(self.variance(counts))

    def differs(self, other: NoiseModel, white: FloatArray) -> bool:
        """Whether the other would change what is trusted, between 5 % and 100 % of ``white``."""
        levels = np.concatenate([_LIT * white, _DIM * white])
        ratio = self.variance(levels) / other.variance(levels)
        return bool((ratio > _MATTERS).any() or (ratio < 1.0 / _MATTERS).any())


USUAL = NoiseModel(0.002, 0.25, 1.2)
"""Common practice for such chips, no source; repeated readings correct it."""


def noise_excess(squares: float, freedom: float) -> float:
    """Variance over the trained one from a sum of squared normed residuals, drawn to 1 when few."""
    return (squares + PRIOR_FREEDOM) / (freedom + PRIOR_FREEDOM)


def learnt(
    groups: Iterable[FloatArray], readings: int = 1, start: NoiseModel = USUAL
) -> NoiseModel:
    """The noise of one reading from repeats: each group (m, k) holds one surface.

    ``readings`` stand behind each row.  What moves all channels of a row together (a placement,
    the lamp) is taken out first, for it does not blur one channel against another.  ``start``
    counts as much as eight free repeats.
    """
    repeated = [group for group in groups if len(group) > 1]
    found = start
    for _ in range(_PASSES if repeated else 0):
        seen = [_scatter(group, found) for group in repeated]
        level, variance, freedom = (np.concatenate(part) for part in zip(*seen, strict=True))
        found = _fitted(level, variance * readings, freedom, start)
    return found


def _scatter(group: FloatArray, noise: NoiseModel) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Mean (k,), variance (k,) without the common part, and its degrees of freedom (k,)."""
    mean = group.mean(axis=0)
    away = group - mean
    # The common level is fitted with each channel by its precision; a channel's leverage on that
    # fit (its hat value) is the share of its own noise that goes with the common part.
    precision = mean**2 / noise.variance(mean)
    leverage = precision / max(float(precision.sum()), 1e-12)
    common = (away / np.where(mean > 0.0, mean, np.inf)) @ leverage
    rest = away - common[:, None] * mean
    freedom = (len(group) - 1.0) * np.maximum(1.0 - leverage, 0.02)
    return mean, (rest**2).sum(axis=0) / freedom, freedom


def _fitted(
    level: FloatArray, variance: FloatArray, freedom: FloatArray, start: NoiseModel
) -> NoiseModel:
    """Least squares with no negative part, each variance weighted by its own scatter 2 v²/f."""
    # Imported at use: only learning from repeats needs it.
    from scipy.optimize import nnls

    prior = np.array([start.share**2, start.root**2, start.floor**2])
    light = np.maximum(level, 0.0)
    design = np.stack([light**2, light, np.ones_like(light)], axis=1)
    squares = prior
    for _ in range(_ROUNDS):
        weight = np.sqrt(freedom / 2.0) / (design @ squares)
        held = np.sqrt(PRIOR_FREEDOM / 2.0) / np.maximum(squares, prior)
        rows = np.concatenate([design * weight[:, None], np.diag(held)])
        wanted = np.concatenate([variance * weight, held * prior])
        # Taken in shares of the prior, the three columns are of like size.
        found = nnls(rows * prior, wanted)[0] * prior
        squares = np.maximum(found, 1e-6 * prior)
    share, root, floor = np.sqrt(squares)
    return NoiseModel(float(share), float(root), float(floor))
