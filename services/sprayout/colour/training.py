"""The surfaces the estimator learns from.

Three named families, none of them used to judge it (the benchmark names its own):

1. the 99 test-colour samples of CIE 224:2017;
2. Kubelka-Munk mixtures of two to four of them (Kubelka and Munk 1931, thick film: K/S adds by
   share), because a painter's colours are mixtures;
3. thick films of made-up pigments: a grey ground, absorption bands and an absorption edge in K/S,
   at random.  They widen the family to spectra that no sample set holds.
"""

from __future__ import annotations

from functools import cache

import numpy as np

from sprayout.colour.tables import GRID_NM, FloatArray, colour_samples

MIXTURES = 320
MADE_UP = 320
_SEED = 20171


def absorption_ratio(reflectance: FloatArray) -> FloatArray:
    """K/S of a thick film from its reflectance (Kubelka and Munk 1931)."""
    inside = np.clip(reflectance, 0.004, 0.996)
    ratio: FloatArray = (1.0 - inside) ** 2 / (2.0 * inside)
    return ratio


def thick_film(ratio: FloatArray) -> FloatArray:
    """Reflectance of a thick film from its K/S, the inverse of :func:`absorption_ratio`."""
    reflectance: FloatArray = 1.0 + ratio - np.sqrt(ratio * (ratio + 2.0))
    return reflectance


def _mixtures(samples: FloatArray, rng: np.random.Generator) -> FloatArray:
    ratios = absorption_ratio(samples)
    chosen = np.stack([rng.choice(len(samples), 4, replace=False) for _ in range(MIXTURES)])
    # A low concentration gives mostly two partners and sometimes four.
    shares = rng.dirichlet(np.full(4, 0.6), MIXTURES)
    return thick_film(np.einsum("nk,nkw->nw", shares, ratios[chosen]))


def _log_uniform(low: float, high: float, rng: np.random.Generator) -> FloatArray:
    return np.exp(rng.uniform(np.log(low), np.log(high), MADE_UP))


def _made_up(rng: np.random.Generator) -> FloatArray:
    ground = _log_uniform(0.003, 1.5, rng) * rng.random(MADE_UP)
    ratio = np.repeat(ground[:, None], GRID_NM.size, axis=1)
    for _ in range(3):
        height = _log_uniform(0.05, 8.0, rng) * (rng.random(MADE_UP) < 0.6)
        centre = rng.uniform(380.0, 760.0, MADE_UP)[:, None]
        width = rng.uniform(20.0, 105.0, MADE_UP)[:, None]
        ratio += height[:, None] * np.exp(-0.7 * ((GRID_NM - centre) / width) ** 2)
    height = _log_uniform(0.1, 15.0, rng) * (rng.random(MADE_UP) < 0.5)
    centre = rng.uniform(400.0, 620.0, MADE_UP)[:, None]
    width = rng.uniform(8.0, 30.0, MADE_UP)[:, None]
    ratio += height[:, None] / (1.0 + np.exp((GRID_NM - centre) / width))
    return thick_film(ratio)


@cache
def surfaces() -> FloatArray:
    """Training reflectances (739, 81) on ``GRID_NM``; the same every time."""
    rng = np.random.default_rng(_SEED)
    samples = colour_samples().values.T
    together: FloatArray = np.vstack([samples, _mixtures(samples, rng), _made_up(rng)])
    together.setflags(write=False)
    return together
