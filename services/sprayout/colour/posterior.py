"""Readings on the white tile and on known patches narrow the prior to this one unit.

Two steps, both on a cloud of virtual sensors:

1. the white tile's counts weigh the cloud by the relative level of the channels (which LED it is);
2. the patch readings move it, in the manner of an ensemble Kalman filter with perturbed
   observations (Evensen, Ocean Dynamics 53 (2003) 343-367).  How wrong the patches' references
   are, and how far this unit strays from the data sheet, is not known: a grid of both is tried
   and each hypothesis counts by the likelihood of the readings under it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sprayout.colour.sensors import BANDS, NARROW_LEAK, WIDE_LEAK, VirtualSensors, prior
from sprayout.colour.tables import FloatArray
from sprayout.colour.unit import Sensor

CLOUD = 800
MEMBERS = 160
_SEED = 30
REFERENCE_ERRORS = (0.0015, 0.003, 0.006, 0.012, 0.025, 0.05)
STRAY_SIZES = (0.7, 1.0, 1.5, 2.2)
_READING_FLOOR = 0.0002


@dataclass(frozen=True, slots=True)
class PatchReadings:
    """``ratio`` (p, k) to the tile; ``reflectance`` (p, 81); ``ways`` (p, w, 81): shapes of the
    reference's error, of a size to be found; ``doubt`` (p, q, 81): deviations that the reference
    leaves open, each one standard deviation long; ``own`` (p,): error of each channel by itself,
    in units of that size; ``noise`` (p, k): variance of the ratios by the readings' own noise."""

    ratio: FloatArray
    reflectance: FloatArray
    ways: FloatArray
    doubt: FloatArray
    own: FloatArray
    noise: FloatArray


def tile_misfit(
    cloud: VirtualSensors, sensor: Sensor, tile: FloatArray, white: FloatArray
) -> FloatArray:
    """How far (n, hypotheses) each virtual sensor's channel levels are from those read, rms log."""
    level = np.log(white) - np.log(white).mean()
    expected = np.log(cloud.response @ tile)
    misfits = []
    for response in BANDS[sensor].responses:
        gap = level - expected - np.log(response)
        misfits.append(np.sqrt(((gap - gap.mean(axis=1, keepdims=True)) ** 2).mean(axis=1)))
    return np.stack(misfits, axis=1)


def weigh_by_tile(
    sensor: Sensor, tile: FloatArray, white: FloatArray, *, leak_can_show: bool
) -> VirtualSensors:
    """``CLOUD`` virtual sensors that agree with the levels of the tile's counts (k,)."""
    cloud = prior(sensor, WIDE_LEAK if leak_can_show else NARROW_LEAK)
    channels = white.size
    misfit = tile_misfit(cloud, sensor, tile, white)
    # Gains stray by some 10 % with the unit, and the nominal heights are only roughly stated;
    # the wide third hypothesis keeps a chip of quite other heights from choosing a wrong LED.
    tight = 0.10 * cloud.spread[:, None] + 0.10
    logs = [
        _log_bell(misfit, tight, channels),
        _log_bell(misfit, np.full_like(tight, 0.7), channels),
    ]
    log_weight = np.logaddexp.reduce(np.concatenate(logs, axis=1), axis=1)
    weight = np.exp(log_weight - log_weight.max())
    rng = np.random.default_rng(_SEED)
    return cloud.take(_resample(weight / weight.sum(), CLOUD, rng))


def _log_bell(misfit: FloatArray, sd: FloatArray, channels: int) -> FloatArray:
    freedom = channels - 1
    value: FloatArray = -0.5 * channels * (misfit / sd) ** 2 - freedom * np.log(sd)
    return value


def _resample(weight: FloatArray, count: int, rng: np.random.Generator) -> NDArray[np.intp]:
    """Systematic resampling: each sensor comes in proportion to its weight."""
    points = (rng.random() + np.arange(count)) / count
    chosen: NDArray[np.intp] = np.searchsorted(np.cumsum(weight), points).clip(0, weight.size - 1)
    rng.shuffle(chosen)
    return chosen


@dataclass(frozen=True, slots=True)
class _State:
    """The cloud flattened: ``mean`` (d,), ``away`` (n, d); its readings of the patches alike."""

    mean: FloatArray
    away: FloatArray
    read_mean: FloatArray
    read_away: FloatArray


def _flatten(cloud: VirtualSensors, tile: FloatArray, patches: PatchReadings) -> _State:
    level = cloud.response @ tile
    flat = (cloud.response / level[..., None]).reshape(len(level), -1)
    faults = np.stack([cloud.throwback, cloud.bend, cloud.offset], axis=1)
    state = np.concatenate([flat, faults], axis=1)
    read = cloud.ratios(patches.reflectance, tile).reshape(len(level), -1)
    mean, read_mean = state.mean(axis=0), read.mean(axis=0)
    return _State(mean, state - mean, read_mean, read - read_mean)


def _unflatten(state: FloatArray, channels: int) -> VirtualSensors:
    response = state[:, :-3].reshape(len(state), channels, -1)
    throwback, bend, offset = state[:, -3:].T
    return VirtualSensors(
        response, np.clip(throwback, 0.0, 0.15), bend, offset, np.ones(len(state))
    )


def _observation_covariance(
    patches: PatchReadings, cloud: VirtualSensors, tile: FloatArray, size: float
) -> FloatArray:
    """Covariance (p*k, p*k) of reading and reference errors; blocks by patch."""
    count, channels = patches.ratio.shape
    total = np.zeros((count * channels, count * channels))
    response = cloud.response.mean(axis=0)
    response = response / (response @ tile)[:, None]
    for i in range(count):
        block = slice(i * channels, (i + 1) * channels)
        open_ways = np.concatenate([size * patches.ways[i], patches.doubt[i]]) @ response.T
        own = patches.noise[i] + _READING_FLOOR**2
        own = own + (patches.own[i] * size * patches.ratio[i]) ** 2
        total[block, block] = open_ways.T @ open_ways + np.diag(own)
    return total


def update_by_patches(
    cloud: VirtualSensors, tile: FloatArray, patches: PatchReadings
) -> VirtualSensors:
    """The cloud after the patches: ``MEMBERS`` sensors, drawn over all hypotheses."""
    state = _flatten(cloud, tile, patches)
    observed = patches.ratio.reshape(-1)
    scale = 1.0 / (len(state.away) - 1)
    spread = state.read_away.T @ state.read_away * scale
    shared = state.read_away.T @ state.away * scale
    errors = [_observation_covariance(patches, cloud, tile, e) for e in REFERENCE_ERRORS]
    gap = observed - state.read_mean
    trials = [(e, s) for e in range(len(errors)) for s in STRAY_SIZES]
    logs = np.array([_log_likelihood(gap, s * s * spread + errors[e]) for e, s in trials])
    weight = np.exp(logs - logs.max())
    rng = np.random.default_rng(_SEED + 1)
    members = []
    for (e, s), share in zip(trials, _shares(weight / weight.sum()), strict=True):
        if share:
            rows = rng.choice(len(state.away), share, replace=False)
            gain = np.linalg.solve(s * s * spread + errors[e], s * s * shared)
            noise = rng.multivariate_normal(np.zeros(gap.size), errors[e], share, method="cholesky")
            wrong = gap + noise - s * state.read_away[rows]
            members.append(state.mean + s * state.away[rows] + wrong @ gain)
    return _unflatten(np.concatenate(members), patches.ratio.shape[1])


def _log_likelihood(gap: FloatArray, covariance: FloatArray) -> float:
    lower = np.linalg.cholesky(covariance)
    white = np.linalg.solve(lower, gap)
    return float(-0.5 * white @ white - np.log(np.diag(lower)).sum())


def _shares(weight: FloatArray) -> list[int]:
    """Whole numbers of members per hypothesis, ``MEMBERS`` in all."""
    edges = np.rint(np.cumsum(weight) * MEMBERS).astype(int)
    return [int(n) for n in np.diff(edges, prepend=0)]
