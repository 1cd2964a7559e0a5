"""How far every coat lay beyond the start of harm of one cause, in widths.  Pure.

Two ways of placing that start stand side by side: the trade's (or the data sheet's) limit, and the
owner's own good coats (their median and 2.6 of their standard deviations).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sprayout.review.blame import strikes
from sprayout.review.causes import Cause
from sprayout.review.exact import Harm, robust_spread
from sprayout.review.quantities import BY_KEY, CoatFacts

Floats = NDArray[np.float64]
OUTLYING = 2.6
OUTLYING_WIDTH = 0.75
FEWEST_USUAL = 3
FEWEST_OF_KIND = 5
#: Film margin (K) at which blush is as good as not possible, and how sharply; the model is
#: true to about 1 K (climate.blush).
GATE_K, GATE_WIDTH_K, GATE_FLOOR = 1.5, 0.8, 0.08


@dataclass(frozen=True, slots=True)
class Exposed:
    """One cause over all coats: grid of chances, which coats are known, and by which quantity.

    ``grid`` is None where no coat tells anything; ``used`` names the quantity for each coat, empty
    where it is not known.
    """

    cause: Cause
    grid: Floats | None
    known: NDArray[np.bool_]
    applies: NDArray[np.bool_]
    used: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Usual:
    """The owner's good coats that a coat's quantity is compared with."""

    values: Floats
    same_kind: bool


def column(coats: Sequence[CoatFacts], quantity: str) -> Floats:
    """One quantity of every coat, NaN where it is not known."""
    return np.array([coat.values.get(quantity, math.nan) for coat in coats], dtype=float)


def usual_of(coats: Sequence[CoatFacts], quantity: str, kind: str | None) -> Usual:
    """The good coats' known values, of the same kind where that matters and there are enough."""
    good = [c for c in coats if c.is_good and quantity in c.values]
    if BY_KEY[quantity].by_kind and kind is not None:
        alike = [c for c in good if c.kind == kind]
        if len(alike) >= FEWEST_OF_KIND:
            return Usual(np.array([c.values[quantity] for c in alike]), True)
    return Usual(np.array([c.values[quantity] for c in good]), False)


def expose(cause: Cause, coats: Sequence[CoatFacts]) -> Exposed:
    """The cause's grid over the coats."""
    count = len(coats)
    ways = ((cause.quantity, cause.harm, cause.limit, cause.width), *cause.instead)
    applies = np.array([cause.quantity not in c.beside_point for c in coats], dtype=bool)
    used = [""] * count
    own = np.full(count, math.nan)
    stated = np.full(count, math.nan)
    for quantity, harm, limit, width in ways:
        values = column(coats, quantity)
        free = np.isfinite(values) & np.array([not name for name in used]) & applies
        if not free.any():
            continue
        sheet = cause.sheet if quantity == cause.quantity else None
        relative = _relative(coats, quantity, harm, values)
        absolute = _absolute(coats, harm, limit, width, values, sheet)
        told = free & (np.isfinite(relative) | np.isfinite(absolute))
        own[told], stated[told] = relative[told], absolute[told]
        for i in np.flatnonzero(told):
            used[i] = quantity
    known = np.array([bool(name) for name in used])
    if not known.any():
        return Exposed(cause, None, known, applies, tuple(used))
    grid = _grid(cause, own, stated, known, applies)
    if cause.gate is not None:
        grid = grid * _gate(column(coats, cause.gate))[None, :]
    return Exposed(cause, grid, known, applies, tuple(used))


def _relative(coats: Sequence[CoatFacts], quantity: str, harm: Harm, values: Floats) -> Floats:
    """Excess over the owner's usual, in widths; NaN where there are too few good coats."""
    found = np.full(len(values), math.nan)
    sign = 1.0 if harm == "high" else -1.0
    kinds = [coat.kind for coat in coats]
    for kind in dict.fromkeys(kinds):
        usual = usual_of(coats, quantity, kind).values
        if len(usual) < FEWEST_USUAL:
            continue
        # With few coats the spread itself is unsure: a wider one, as Student's t would have it.
        spread = robust_spread(usual, BY_KEY[quantity].floor) * (1.0 + 3.0 / len(usual))
        start = sign * float(np.median(usual)) + OUTLYING * spread
        of_kind = np.array([name == kind for name in kinds])
        found[of_kind] = (sign * values[of_kind] - start) / (OUTLYING_WIDTH * spread)
    return found


def _absolute(
    coats: Sequence[CoatFacts],
    harm: Harm,
    limit: float | None,
    width: float,
    values: Floats,
    sheet: str | None,
) -> Floats:
    """Excess over the limit, the data sheet's before the trade's; a sheet's is half as unsure."""
    sign = 1.0 if harm == "high" else -1.0
    ours = math.nan if limit is None else limit
    stated = [getattr(c.sheet, sheet) if sheet and c.sheet else None for c in coats]
    limits = np.array([ours if s is None else s for s in stated], dtype=float)
    widths = np.array([width if s is None else width / 2.0 for s in stated], dtype=float)
    return np.asarray(sign * (values - limits) / widths)


def _grid(
    cause: Cause,
    own: Floats,
    stated: Floats,
    known: NDArray[np.bool_],
    applies: NDArray[np.bool_],
) -> Floats:
    """Both ways of placing the start; one that is unknown for a coat takes the other's place."""
    own = np.where(np.isfinite(own), own, stated)
    stated = np.where(np.isfinite(stated), stated, own)
    pair = [own, stated] if cause.limit is not None or cause.sheet else [own]
    grid = strikes([np.where(known, x, 0.0) for x in pair], cause.weight)
    # A coat whose value is not known may have been like any other.
    grid[:, ~known] = grid[:, known].mean(axis=1, keepdims=True)
    grid[:, ~applies] = 0.0
    return grid


def _gate(margin_k: Floats) -> Floats:
    """Water can only have formed where the film came near the dew point."""
    near = 1.0 / (1.0 + np.exp((margin_k - GATE_K) / GATE_WIDTH_K))
    return np.where(np.isfinite(margin_k), GATE_FLOOR + (1.0 - GATE_FLOOR) * near, 1.0)
