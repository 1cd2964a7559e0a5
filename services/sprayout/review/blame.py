"""How much of a finding each condition explains: a noisy-or model learned from the owner's coats.

A coat shows a finding if one of its causes strikes or something unrecorded does:
P(finding) = 1 - (1 - leak) * product over causes (1 - h(x)), with
h(x) = height * logistic((x - threshold) / slope) (Pearl, Probabilistic Reasoning in Intelligent
Systems (1988), section 4.3).  Threshold, height and leak have the stated priors below; the
owner's own coats move them (grid posterior, the causes taken in turn with the others at their
mean).  What a cause explains is its share of the total intensity -log(1 - h).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

#: Threshold in widths from where harm is taken to begin, and the prior weight of each.
OFFSETS = np.array([-1.6, -0.8, 0.0, 0.8, 1.6])
OFFSET_WEIGHTS = np.exp(-0.5 * OFFSETS**2) / np.exp(-0.5 * OFFSETS**2).sum()
#: How often a cause strikes once far beyond its threshold.
HEIGHTS = np.array([0.12, 0.45, 0.85])
HEIGHT_WEIGHTS = np.array([0.35, 0.4, 0.25])
PER_MODEL = len(OFFSETS) * len(HEIGHTS)
SLOPE = 0.3
#: Spread and multiples of the rate at which unrecorded causes strike.
LEAKS = np.array([0.25, 0.6, 1.5, 4.0, 10.0])
LEAK_WEIGHTS = np.array([0.15, 0.3, 0.3, 0.17, 0.08])
SWEEPS = 3
_TINY = 1e-9


@dataclass(frozen=True, slots=True)
class Learned:
    """Posterior weights over each cause's grid, and the mean rate of unrecorded causes."""

    weights: tuple[Floats, ...]
    leak: float


def grid_weights(models: int) -> Floats:
    """Prior weights of the grid, flat over ``models`` ways of placing the threshold."""
    one = (OFFSET_WEIGHTS[:, None] * HEIGHT_WEIGHTS[None, :]).ravel()
    return np.tile(one / models, models)


def strikes(excess: Sequence[Floats], weight: float) -> Floats:
    """Grid of chances, shape (grid, coats), from excess over the start of harm in widths.

    One excess array for each way of placing the threshold; -inf means no harm at all.
    """
    rows = []
    for x in excess:
        steps = np.clip((x[None, :] - OFFSETS[:, None]) / SLOPE, -40.0, 40.0)
        curve = 1.0 / (1.0 + np.exp(-steps))
        rows.append((curve[:, None, :] * (weight * HEIGHTS)[None, :, None]).reshape(-1, x.size))
    return np.concatenate(rows)


def learn(grids: Sequence[Floats], seen: NDArray[np.bool_], leak: float) -> Learned:
    """Posterior means from which coats showed the finding; ``leak`` is the prior's middle rate."""
    weights = [grid_weights(g.shape[0] // PER_MODEL) for g in grids]
    strike = np.array([w @ g for w, g in zip(weights, grids, strict=True)]).reshape(
        len(grids), len(seen)
    )
    rates = np.clip(leak * LEAKS, 0.0, 0.5)
    rate = float(rates @ LEAK_WEIGHTS)
    for _ in range(SWEEPS):
        spared = np.clip(1.0 - strike, _TINY, 1.0)
        whole = spared.prod(axis=0)
        rate = _leak(rates, whole, seen)
        for i, grid in enumerate(grids):
            others = (1.0 - rate) * np.delete(spared, i, axis=0).prod(axis=0)
            weights[i] = _posterior(grid, others, seen)
            spared[i] = np.clip(1.0 - weights[i] @ grid, _TINY, 1.0)
        strike = 1.0 - spared
    return Learned(tuple(weights), rate)


def _leak(rates: Floats, spared: Floats, seen: NDArray[np.bool_]) -> float:
    clean = (1.0 - rates)[:, None] * spared[None, :]
    logs = _log_likelihood(clean, seen) + np.log(LEAK_WEIGHTS)
    weights = np.exp(logs - logs.max())
    return float(rates @ weights / weights.sum())


def _posterior(grid: Floats, others: Floats, seen: NDArray[np.bool_]) -> Floats:
    clean = others[None, :] * (1.0 - grid)
    logs = _log_likelihood(clean, seen) + np.log(grid_weights(grid.shape[0] // PER_MODEL))
    weights = np.exp(logs - logs.max())
    return np.asarray(weights / weights.sum())


def _log_likelihood(clean: Floats, seen: NDArray[np.bool_]) -> Floats:
    clean = np.clip(clean, _TINY, 1.0 - _TINY)
    return np.asarray(np.log1p(-clean[:, seen]).sum(axis=1) + np.log(clean[:, ~seen]).sum(axis=1))


def intensity(chance: float | Floats) -> Floats:
    """-log(1 - chance)."""
    return np.asarray(-np.log1p(-np.clip(chance, 0.0, 1.0 - _TINY)))
