"""Small-sample statistics: exact tests, exact intervals, error rates over many tests.  Pure.

Written on ``scipy.special`` because ``scipy.stats`` costs a second of every start; the tests hold
each against ``scipy.stats``.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import betaincinv, gammaln, ndtr

Floats = NDArray[np.float64]
Harm = Literal["high", "low"]
#: Above this many pairs the rank-sum test uses the normal curve with its tie correction.
EXACT_PAIRS = 600


@dataclass(frozen=True, slots=True)
class Rate:
    """``bad`` of ``n``: a rate and the bounds that hold it 95 times in 100."""

    bad: int
    n: int
    rate: float
    low: float
    high: float


def clopper_pearson(bad: int, n: int, level: float = 0.95) -> tuple[float, float]:
    """Exact binomial interval (Clopper and Pearson, Biometrika 26 (1934) 404-413)."""
    tail = (1.0 - level) / 2.0
    low = 0.0 if bad == 0 else float(betaincinv(bad, n - bad + 1, tail))
    high = 1.0 if bad == n else float(betaincinv(bad + 1, n - bad, 1.0 - tail))
    return low, high


def beta_rate(bad: int, n: int, prior: tuple[float, float] = (0.5, 0.5)) -> Rate:
    """Bayesian rate; the prior is Beta(0.5, 0.5) unless said (Jeffreys' prior)."""
    a, b = prior[0] + bad, prior[1] + n - bad
    low, high = (float(betaincinv(a, b, tail)) for tail in (0.025, 0.975))
    return Rate(bad, n, a / (a + b), low, high)


def _log_choose(n: ArrayLike, k: ArrayLike) -> Floats:
    n, k = np.asarray(n, float), np.asarray(k, float)
    return np.asarray(gammaln(n + 1) - gammaln(k + 1) - gammaln(n - k + 1))


def fisher_p(a: int, b: int, c: int, d: int) -> float:
    """Two-sided exact test of the table ((a, b), (c, d)) (Fisher 1934).

    Adds up every table with the same margins that is no likelier than the one seen.
    """
    row, column, total = a + b, a + c, a + b + c + d
    if not 0 < row < total or not 0 < column < total:
        return 1.0
    cells = np.arange(max(0, row + column - total), min(row, column) + 1)
    logs = _log_choose(row, cells) + _log_choose(total - row, column - cells)
    chance = np.exp(logs - _log_choose(total, column))
    seen = chance[a - cells[0]]
    return float(min(1.0, chance[chance <= seen * (1.0 + 1e-7)].sum()))


def rank_p(value: float, usual: Floats, harm: Harm) -> float:
    """Chance of so extreme a value if this coat were one of the usual ones: (k + 1)/(n + 1).

    Exact for exchangeable coats; with n usual coats it cannot go below 1/(n + 1).
    """
    beyond = int(np.sum(usual >= value) if harm == "high" else np.sum(usual <= value))
    return (beyond + 1) / (len(usual) + 1)


def percentile(value: float, usual: Floats) -> float:
    """Share of usual values below, ties half, in per cent."""
    if not len(usual):
        return math.nan
    return float(100.0 * (np.sum(usual < value) + 0.5 * np.sum(usual == value)) / len(usual))


def rank_sum_p(one: Floats, other: Floats) -> float:
    """Two-sided Wilcoxon-Mann-Whitney test; the exact permutation law where it is affordable.

    Ties take mid-ranks; p counts every split whose rank sum lies as far from its mean or farther.
    """
    n, m = len(one), len(other)
    if n == 0 or m == 0:
        return 1.0
    ranks = _mid_ranks(np.concatenate((one, other)))
    if n * m > EXACT_PAIRS:
        return _normal_p(ranks, n, m)
    doubled = np.rint(2.0 * ranks).astype(int)
    ways = _subset_sums(doubled, n)
    distance = np.abs(np.arange(len(ways)) - n * (n + m + 1))
    seen = abs(int(doubled[:n].sum()) - n * (n + m + 1))
    return float(ways[distance >= seen].sum() / ways.sum())


def _mid_ranks(values: Floats) -> Floats:
    _, index, counts = np.unique(values, return_inverse=True, return_counts=True)
    ends = np.cumsum(counts)
    return np.asarray((ends - (counts - 1) / 2.0)[index], float)


def _subset_sums(weights: NDArray[np.int_], size: int) -> Floats:
    """In how many ways ``size`` of the weights add up to each sum."""
    most = int(np.sort(weights)[-size:].sum())
    ways = np.zeros((size + 1, most + 1))
    ways[0, 0] = 1.0
    for weight in weights:
        ways[1:, weight:] += ways[:-1, : most + 1 - weight].copy()
    return np.asarray(ways[size], float)


def _normal_p(ranks: Floats, n: int, m: int) -> float:
    total = n + m
    _, counts = np.unique(ranks, return_counts=True)
    ties = float((counts**3 - counts).sum()) / (total * (total - 1))
    variance = n * m / 12.0 * (total + 1 - ties)
    if variance <= 0.0:
        return 1.0
    off = abs(ranks[:n].sum() - n * (total + 1) / 2.0)
    return float(min(1.0, 2.0 * ndtr(-max(0.0, off - 0.5) / math.sqrt(variance))))


def cliffs_delta(one: Floats, other: Floats) -> float:
    """How often a value of ``one`` is above one of ``other``, less how often below: -1 to 1."""
    if not len(one) or not len(other):
        return 0.0
    return float(np.sign(one[:, None] - other[None, :]).mean())


def benjamini_hochberg(p: Sequence[float]) -> list[float]:
    """Adjusted p for the false discovery rate (Benjamini and Hochberg, JRSS B 57 (1995) 289)."""
    m = len(p)
    order = np.argsort(p)[::-1]
    scaled = np.asarray(p, float)[order] * m / np.arange(m, 0, -1)
    adjusted = np.empty(m)
    adjusted[order] = np.minimum(1.0, np.minimum.accumulate(scaled)) if m else []
    return [float(v) for v in adjusted]


def holm(p: Sequence[float]) -> list[float]:
    """Adjusted p for the family-wise error rate (Holm, Scand. J. Statist. 6 (1979) 65)."""
    m = len(p)
    order = np.argsort(p)
    scaled = np.asarray(p, float)[order] * np.arange(m, 0, -1)
    adjusted = np.empty(m)
    adjusted[order] = np.minimum(1.0, np.maximum.accumulate(scaled)) if m else []
    return [float(v) for v in adjusted]
