"""What the white tile alone tells of an eight-band unit: which LED it has, and how far it strays.

The tile's counts give the channels' levels and nothing else.  Three things make a level: the LED,
the nominal heights of the filters (known only as a smooth curve is: the data sheet states counts
under one LED) and the straying of this unit, which is rough from channel to channel.  A pool of
white LEDs is weighed by how well each leaves a gap that is smooth and no rougher than usual.  The
same likelihood, summed over the pool, says how rough the levels are: the size of the straying.

That size is known to a third or so from eight levels.  It is taken with no prior of its own (any
size is as likely as its double) and widens or narrows the radius; the estimate itself is always
fitted for ``USUAL_STRAY``, for it hardly depends on it.  With the radius growing by ``GROWTH`` of
that size, a unit as stated and one that strays by half more both hold the true colour about 95
times in 100.  ``GROWTH`` and ``WIDTH`` were set on 310 virtual units of the benchmark's physics of
either kind (and 180 with a warm LED), seeds 500000 and up; the benchmark judges by others.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np

from sprayout.colour.sensors import (
    BANDS,
    NARROW_LEAK,
    Bands,
    VirtualSensors,
    filters,
    peak,
    white_leds,
)
from sprayout.colour.tables import FloatArray
from sprayout.colour.unit import Sensor

LEDS = 16_000
MEMBERS = 120
USUAL_STRAY = 1.2
GROWTH = 1.2
WIDTH = 1.31
_SEED = 77
_SIZES = np.exp(np.linspace(np.log(0.35), np.log(4.0), 15))
_GAIN_SD = 0.10
"""Gains stray by some 10 % from unit to unit: data sheets of low-cost filter chips."""
_HEIGHT_SD, _HEIGHT_REACH = 0.2, 2.0
"""Spread of the nominal heights, and over how many channels they go together."""
_LEVEL_SD = 5.0
"""The level of all channels together says nothing: distance, gain and LED current are in it."""
_ODD_SD, _ODD_SHARE = 0.7, 0.02
"""A chip of quite other heights, so that it cannot make a wrong LED certain."""


@dataclass(frozen=True, slots=True)
class TileStory:
    """``members``: sensors that agree with the tile; ``stray``: size of the straying, 1 = stated;
    ``widen``: what the radius is to be multiplied by."""

    members: VirtualSensors
    stray: float
    widen: float


@dataclass(frozen=True, slots=True)
class _Pool:
    """``leds`` (n, 81); ``nominal`` filters (k, 81) and their log ``heights`` (k,); ``rough`` (k,):
    scatter of a log level by straying centres, widths and leaks, at size 1."""

    leds: FloatArray
    nominal: FloatArray
    heights: FloatArray
    rough: FloatArray


@cache
def _pool(sensor: Sensor) -> _Pool:
    rng = np.random.default_rng(_SEED)
    bands = BANDS[sensor]
    leds = np.concatenate([white_leds(2000, rng) for _ in range(LEDS // 2000)])
    nominal = _nominal(bands)
    some = leds[:2000]
    strayed = filters(bands, np.ones(len(some)), NARROW_LEAK, rng)
    away = np.log(np.einsum("nkw,nw->nk", strayed, some)) - np.log(some @ nominal.T)
    heights = np.log(np.array(bands.responses)).mean(axis=0)
    return _Pool(leds, nominal, heights, away.std(axis=0))


def _nominal(bands: Bands) -> FloatArray:
    """The filters as stated (k, 81)."""
    centre, width = np.array(bands.centre_nm), np.array(bands.width_nm)
    stated: FloatArray = peak(centre, width, np.zeros(centre.size), np.full(centre.size, 2.15))
    return stated + bands.leak


def read_tile(sensor: Sensor, tile: FloatArray, white: FloatArray) -> TileStory:
    """The story of a unit by its counts (k,) on the white tile (81,), dark taken off."""
    pool = _pool(sensor)
    gap = np.log(white) - np.log((pool.leds * tile) @ pool.nominal.T) - pool.heights
    channel = np.arange(white.size)
    smooth = _HEIGHT_SD**2 * np.exp(-0.5 * ((channel[:, None] - channel) / _HEIGHT_REACH) ** 2)
    smooth += _LEVEL_SD**2
    rough = _GAIN_SD**2 + pool.rough**2
    odd = _log_bell(gap, _ODD_SD**2 * np.eye(white.size) + _LEVEL_SD**2) + np.log(_ODD_SHARE)
    usual = _log_bell(gap, smooth + USUAL_STRAY**2 * np.diag(rough))
    evidence = [
        np.logaddexp.reduce(np.logaddexp(_log_bell(gap, smooth + s * s * np.diag(rough)), odd))
        for s in _SIZES
    ]
    stray = float(np.exp(_mean_by(np.array(evidence), np.log(_SIZES))))
    members = _members(sensor, pool, np.logaddexp(usual, odd))
    return TileStory(members, stray, WIDTH * stray**GROWTH)


def _log_bell(gap: FloatArray, covariance: FloatArray) -> FloatArray:
    """Log density (n,) of gaps (n, k), without the constant."""
    lower = np.linalg.cholesky(covariance)
    whitened = np.linalg.solve(lower, gap.T)
    density: FloatArray = -0.5 * (whitened**2).sum(axis=0) - np.log(np.diag(lower)).sum()
    return density


def _mean_by(log_weight: FloatArray, values: FloatArray) -> float:
    weight = np.exp(log_weight - log_weight.max())
    return float(weight @ values / weight.sum())


def _members(sensor: Sensor, pool: _Pool, log_weight: FloatArray) -> VirtualSensors:
    rng = np.random.default_rng(_SEED + 1)
    weight = np.cumsum(np.exp(log_weight - log_weight.max()))
    points = (rng.random() + np.arange(MEMBERS)) / MEMBERS * weight[-1]
    chosen = np.searchsorted(weight, points).clip(0, weight.size - 1)
    rng.shuffle(chosen)
    spread = USUAL_STRAY * np.exp(0.1 * rng.standard_normal(MEMBERS))
    strayed = filters(BANDS[sensor], spread, NARROW_LEAK, rng)
    return VirtualSensors(
        strayed * pool.leds[chosen][:, None, :],
        throwback=rng.uniform(0.0, 0.08, MEMBERS),
        bend=0.005 * spread * rng.standard_normal(MEMBERS),
        # Whether the dark was right cannot be known from the tile, so it is believed.
        offset=np.zeros(MEMBERS),
        spread=spread,
    )
