"""Which paints, and how many whole drops of each.

Three steps.  (1) Every subset of up to four paints at once: near the target the miss in colour is
a linear function of the shares, so each subset is one small linear system, and subsets whose
solution asks for a negative share are represented by a smaller subset.  (2) The best subsets are
refined on the exact model.  (3) Shares are turned into whole drops at every cup size, rounding each
paint both ways.  What is in the cup already takes part as one more "paint" that must be used.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import combinations, product

import numpy as np
import numpy.typing as npt

from sprayout.mixing.goal import Goal, reflectance_slope, spectrum_scale
from sprayout.mixing.kubelka_munk import Surface, opaque_reflectance

Array = npt.NDArray[np.float64]
Indices = npt.NDArray[np.intp]

_SPECTRAL_WEIGHT = 0.25
_EXHAUSTIVE = 4
_MOST_SUBSETS = 16_000


@dataclass(frozen=True, slots=True)
class Palette:
    """K and S per drop of what may be mixed, (paints, bands).

    ``cup_k``, ``cup_s``: what the cup holds now, or None when it is empty; ``cup_drops`` how many
    drops that is; ``in_cup`` the paints that are in it.  ``shift`` (bands,) is added to ln K/S of
    every mixture: the model's error as far as it is known.
    """

    k: Array
    s: Array
    surface: Surface
    cup_k: Array | None = None
    cup_s: Array | None = None
    cup_drops: int = 0
    in_cup: tuple[int, ...] = ()
    shift: Array | float = 0.0

    def log_ratio(self, drops: Array) -> Array:
        """ln K/S (..., bands) after adding drops (..., paints)."""
        k, s = drops @ self.k, drops @ self.s
        if self.cup_k is not None and self.cup_s is not None:
            k, s = k + self.cup_k, s + self.cup_s
        return np.asarray(np.log(k / s) + self.shift)


@dataclass(frozen=True, slots=True)
class Blend:
    """Shares on a subset: ``shares`` (paints,) sum to one; ``cup_share`` of what was in the cup."""

    paints: tuple[int, ...]
    shares: Array
    cup_share: float
    de00: float


@lru_cache(maxsize=16)
def _subsets(paints: int, size: int) -> Indices:
    return np.array(list(combinations(range(paints), size)), dtype=np.intp).reshape(-1, size)


def _directions(palette: Palette, goal: Goal) -> tuple[Array, Array]:
    """Rows (rows, paints + cup) of weighted miss per share, and each column's scattering."""
    k, s = palette.k, palette.s
    if palette.cup_k is not None and palette.cup_s is not None:
        k, s = np.vstack([k, palette.cup_k]), np.vstack([s, palette.cup_s])
    ratio = np.exp(goal.log_ratio - palette.shift)
    typical = s.mean(axis=0) / s.mean()
    miss = (k / ratio - s) / typical
    rows = _weights(palette, goal, goal.log_ratio) @ miss.T
    return rows, s.mean(axis=1)


def _weights(palette: Palette, goal: Goal, log_ratio: Array) -> Array:
    """Matrix (rows, bands) from a miss in ln K/S to CIEDE2000, colour first, then spectrum."""
    slope = reflectance_slope(log_ratio, palette.surface)
    seen = palette.surface.seen(opaque_reflectance(np.exp(log_ratio)))
    colour = goal.root @ goal.axis.lab_slope(seen) * slope
    if goal.sight is None:
        return np.asarray(colour)
    scale = _SPECTRAL_WEIGHT * spectrum_scale(goal, goal.bands)
    return np.vstack([colour, scale[:, None] * goal.sight.matrix * slope])


def blends(
    palette: Palette,
    goal: Goal,
    paints_max: int,
    keep: int = 12,
    with_all: tuple[int, ...] = (),
) -> list[Blend]:
    """The best subsets of each size, refined; only those ``with_all`` of these paints."""
    found: list[Blend] = []
    rows, scatter = _directions(palette, goal)
    for subsets in _candidate_subsets(palette, rows, scatter, paints_max, keep, with_all):
        found += _refine(palette, goal, subsets, keep)
    if not goal.spectral and found:
        # A Lab alone has many spectra: solve again around the one that the best mixture has.
        best = min(found, key=lambda blend: blend.de00)
        around = palette.log_ratio(best.shares * _total_for(best, palette))
        nearer = replace(goal, log_ratio=around)
        rows, scatter = _directions(palette, nearer)
        for subsets in _candidate_subsets(palette, rows, scatter, paints_max, keep, with_all):
            found += _refine(palette, goal, subsets, keep)
    return found


def _total_for(blend: Blend, palette: Palette) -> float:
    """Drops added for these shares to come about."""
    if palette.cup_k is None:
        return 1.0
    return palette.cup_drops * (1 / max(blend.cup_share, 1e-3) - 1)


def _candidate_subsets(
    palette: Palette,
    rows: Array,
    scatter: Array,
    paints_max: int,
    keep: int,
    with_all: tuple[int, ...],
) -> list[tuple[Indices, Array]]:
    """For each size the most promising subsets with their starting shares."""
    paints = palette.k.shape[0]
    with_cup = palette.cup_k is not None
    gram = rows.T @ rows
    gram = gram + 1e-6 * np.trace(gram) / len(gram) * np.eye(len(gram))
    lowest = 0 if with_cup else 1
    chosen: list[tuple[Indices, Array]] = []
    last: Indices | None = None
    for size in range(lowest, min(paints, paints_max) + 1):
        if size < len(with_all):
            continue
        subsets = _of_size(paints, size, last, with_all)
        subsets = _allowed(subsets, palette.in_cup, paints_max, with_all)
        if not len(subsets):
            continue
        columns = subsets
        if with_cup:
            columns = np.column_stack([subsets, np.full(len(subsets), paints, dtype=np.intp)])
        small = gram[columns[:, :, None], columns[:, None, :]]
        weight = scatter[columns]
        solved = np.linalg.solve(small, weight[:, :, None])[:, :, 0]
        gain = np.sum(solved * weight, axis=1)
        shares = solved / gain[:, None]
        positive = np.all(shares > 1e-6, axis=1)
        order = np.flatnonzero(positive)[np.argsort(-gain[positive])][: max(keep, 1) * 2]
        last = subsets[np.argsort(-gain)[: 8 * keep]]
        if len(order):
            chosen.append((subsets[order], shares[order]))
    return chosen


def _of_size(paints: int, size: int, last: Indices | None, with_all: tuple[int, ...]) -> Indices:
    """All subsets of a size, or those that grow from the best smaller ones when too many."""
    if size == 0:
        return np.zeros((1, 0), dtype=np.intp)
    count = 1
    for i in range(size):
        count = count * (paints - i) // (i + 1)
    if size <= _EXHAUSTIVE and count <= _MOST_SUBSETS:
        return _subsets(paints, size)
    if last is None:
        return np.array([sorted(with_all)], dtype=np.intp)
    grown = {
        tuple(sorted((*row, extra)))
        for row in last.tolist()
        for extra in range(paints)
        if extra not in row
    }
    return np.array(sorted(grown), dtype=np.intp).reshape(-1, size)


def _allowed(
    subsets: Indices, in_cup: tuple[int, ...], paints_max: int, with_all: tuple[int, ...]
) -> Indices:
    """Subsets with the paints asked for that keep within the limit of paints in the cup."""
    for paint in with_all:
        subsets = subsets[(subsets == paint).any(axis=1)]
    if not in_cup or subsets.shape[1] == 0:
        return subsets
    new = ~np.isin(subsets, np.array(in_cup))
    return np.asarray(subsets[new.sum(axis=1) + len(in_cup) <= paints_max])


def _refine(
    palette: Palette, goal: Goal, start: tuple[Indices, Array], keep: int, rounds: int = 5
) -> list[Blend]:
    """Gauss–Newton on the exact model for many subsets of one size at once."""
    subsets, amounts = start
    with_cup = palette.cup_k is not None
    k, s = palette.k[subsets], palette.s[subsets]
    if with_cup:
        shape = (len(subsets), 1, palette.k.shape[1])
        k = np.concatenate([k, np.broadcast_to(palette.cup_k, shape)], axis=1)  # type: ignore[arg-type]
        s = np.concatenate([s, np.broadcast_to(palette.cup_s, shape)], axis=1)  # type: ignore[arg-type]
    for _ in range(rounds):
        amounts = _newton(palette, goal, k, s, amounts)
    lab = goal.axis.lab(_seen(palette, k, s, amounts)[1])
    de00 = goal.de00(lab)
    order = np.argsort(de00)[:keep]
    return [_blend(palette, subsets[i], amounts[i], float(de00[i])) for i in order]


def _seen(palette: Palette, k: Array, s: Array, amounts: Array) -> tuple[Array, Array]:
    log_ratio = np.log(np.einsum("np,npb->nb", amounts, k) / np.einsum("np,npb->nb", amounts, s))
    log_ratio = log_ratio + palette.shift
    return log_ratio, palette.surface.seen(opaque_reflectance(np.exp(log_ratio)))


def _newton(palette: Palette, goal: Goal, k: Array, s: Array, amounts: Array) -> Array:
    """One step in ln of the amounts, which keeps them positive."""
    log_ratio, seen = _seen(palette, k, s, amounts)
    sum_k = np.einsum("np,npb->nb", amounts, k)[:, None, :]
    sum_s = np.einsum("np,npb->nb", amounts, s)[:, None, :]
    by_amount = amounts[:, :, None] * (k / sum_k - s / sum_s)
    slope = reflectance_slope(log_ratio, palette.surface)
    to_lab = np.einsum("ij,njb->nib", goal.root, goal.axis.lab_slope(seen)) * slope[:, None, :]
    jacobian = np.einsum("nib,npb->nip", to_lab, by_amount)
    miss = (goal.axis.lab(seen) - goal.lab) @ goal.root.T
    if goal.sight is not None:
        bands = seen @ goal.sight.matrix.T
        scale = _SPECTRAL_WEIGHT * spectrum_scale(goal, bands)
        jacobian = np.concatenate(
            [
                jacobian,
                scale[:, :, None]
                * np.einsum("cb,npb->ncp", goal.sight.matrix, slope[:, None, :] * by_amount),
            ],
            axis=1,
        )
        miss = np.concatenate([miss, scale * (bands - goal.bands)], axis=1)
    normal = np.einsum("nip,niq->npq", jacobian, jacobian)
    damped = normal + (1e-3 + 1e-3 * np.trace(normal, axis1=1, axis2=2))[:, None, None] * np.eye(
        amounts.shape[1]
    )
    step = np.linalg.solve(damped, -np.einsum("nip,ni->np", jacobian, miss)[:, :, None])[:, :, 0]
    return np.asarray(amounts * np.exp(np.clip(step, -1.0, 1.0)))


def _blend(palette: Palette, subset: Indices, amounts: Array, de00: float) -> Blend:
    """Amounts of the subset (and of the cup, counted whole) as shares of drops."""
    shares = np.zeros(palette.k.shape[0])
    added, cup = amounts, 0.0
    if palette.cup_k is not None:
        added, cup = amounts[:-1], float(amounts[-1]) * palette.cup_drops
    total = float(added.sum()) + cup
    shares[subset] = added / total
    return Blend(tuple(int(p) for p in subset), shares, cup / total, de00)


def whole_drops(
    blend: Blend, totals: Array, cup_drops: int, drops_max: int
) -> npt.NDArray[np.int64]:
    """Whole drops (candidates, paints) to add for the blend, near each cup size in ``totals``."""
    index = np.array(blend.paints, dtype=np.intp)
    shares = blend.shares[index]
    if cup_drops:
        # Only the paints to add share the room that the cup leaves.
        room = np.maximum(totals - cup_drops, 0)
        exact = room[:, None] * shares / max(float(shares.sum()), 1e-9)
    else:
        exact = totals[:, None] * shares
    drops = both_ways(exact)
    drops = drops[(drops.sum(axis=1) > 0) & (drops.sum(axis=1) + cup_drops <= drops_max)]
    full = np.zeros((len(drops), blend.shares.size), dtype=np.int64)
    full[:, index] = drops
    return full


def both_ways(exact: Array) -> npt.NDArray[np.int64]:
    """Every row (n, paints) rounded down and up in each paint, never below zero."""
    floor = np.maximum(np.floor(exact), 0)
    ways = np.array(list(product((0, 1), repeat=exact.shape[1])))
    return np.asarray((floor[:, None, :] + ways[None]).reshape(-1, exact.shape[1]), dtype=np.int64)


def each_once(drops: npt.NDArray[np.int64]) -> npt.NDArray[np.int64]:
    """The different rows (n, paints) of whole drops, in no order that matters."""
    # One random projection tells rows apart many times faster than sorting them by columns.
    mark = drops @ np.random.default_rng(7).random(drops.shape[1])
    return np.asarray(drops[np.unique(mark, return_index=True)[1]])
