"""How far every coat lay beyond the start of harm of one cause, in widths.  Pure.

Two ways of placing that start stand side by side: the trade's (or the data sheet's) limit, and the
owner's own good coats (their median and 2.6 of their standard deviations).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sprayout.review.blame import strikes
from sprayout.review.cause import Cause
from sprayout.review.columns import Columns, quantile, robust_spread
from sprayout.review.exact import Harm
from sprayout.review.quantities import BY_KEY

Floats = NDArray[np.float64]
OUTLYING = 3.2
OUTLYING_WIDTH = 0.75
FEWEST_USUAL = 3
#: Quantities whose limit is one of physics or of the clock, not of the owner's hand: a value that
#: is merely unusual is no cause while it stays this many widths short of the limit.
BOUNDED = frozenset(
    {
        "relative_humidity",
        "air_temperature",
        "air_speed",
        "part_minus_air",
        "batch_age_h",
        "cup_excess_de00",
        "calibration_overdue_h",
        "swatch_spread",
        "filter_days",
        "base_contrast",
        "wrinkle_depth_h",
    }
)
SHORT_OF_LIMIT = 0.4
#: Film margin (K) at which blush is as good as not possible, and how sharply; the model is
#: true to about 1 K (climate.blush).
GATE_K, GATE_WIDTH_K, GATE_FLOOR = 1.5, 0.8, 0.08


@dataclass(frozen=True, slots=True)
class Exposed:
    """One cause over all coats: grid of chances, which coats are known, and by which quantity.

    ``grid`` is None where no coat tells anything; ``used`` names the quantity by which the judged
    coat (the first) is known, empty where it is not.
    """

    cause: Cause
    grid: Floats | None
    known: NDArray[np.bool_]
    applies: NDArray[np.bool_]
    used: str


def expose(cause: Cause, columns: Columns) -> Exposed:
    """The cause's grid over the coats."""
    count = len(columns.coats)
    ways = ((cause.quantity, cause.harm, cause.limit, cause.width), *cause.instead)
    applies = np.array([cause.quantity not in c.beside_point for c in columns.coats], dtype=bool)
    used = np.full(count, "", dtype=object)
    own, stated = np.full(count, math.nan), np.full(count, math.nan)
    for quantity, harm, limit, width in ways:
        free = np.isfinite(columns.of(quantity)) & (used == "") & applies
        if not free.any():
            continue
        relative = _relative(columns, quantity, harm)
        sheet = cause.sheet if quantity == cause.quantity else None
        absolute = _absolute(columns, quantity, harm, limit, width, sheet)
        told = free & (np.isfinite(relative) | np.isfinite(absolute))
        own[told], stated[told], used[told] = relative[told], absolute[told], quantity
    known = np.asarray(used != "", dtype=bool)
    if not known.any():
        return Exposed(cause, None, known, applies, str(used[0]))
    grid = _grid(cause, own, stated, known, applies)
    if cause.gate is not None:
        grid = grid * _gate(columns.of(cause.gate))[None, :]
    return Exposed(cause, grid, known, applies, str(used[0]))


def _relative(columns: Columns, quantity: str, harm: Harm) -> Floats:
    """Excess over the owner's usual, in widths; NaN where there are too few good coats."""
    values = columns.of(quantity)
    found = np.full(len(values), math.nan)
    sign = 1.0 if harm == "high" else -1.0
    apart = columns.kinds_for(quantity)
    for kind in apart:
        usual = columns.usual(quantity, kind)
        if len(usual) < FEWEST_USUAL:
            continue
        # With few coats the spread itself is unsure: a wider one, as Student's t would have it.
        spread = robust_spread(usual, BY_KEY[quantity].floor) * (1.0 + 3.0 / len(usual))
        start = sign * quantile(usual, 0.5) + OUTLYING * spread
        excess = (sign * values - start) / (OUTLYING_WIDTH * spread)
        found = np.where(columns.kinds == kind, excess, found) if len(apart) > 1 else excess
    return found


def _absolute(
    columns: Columns,
    quantity: str,
    harm: Harm,
    limit: float | None,
    width: float,
    sheet: str | None,
) -> Floats:
    """Excess over the limit, the data sheet's before the trade's; a sheet's is half as unsure."""
    sign = 1.0 if harm == "high" else -1.0
    ours = math.nan if limit is None else limit
    stated = [getattr(c.sheet, sheet) if sheet and c.sheet else None for c in columns.coats]
    limits = np.array([ours if s is None else s for s in stated], dtype=float)
    widths = np.array([width if s is None else width / 2.0 for s in stated], dtype=float)
    return np.asarray(sign * (columns.of(quantity) - limits) / widths)


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
    if cause.quantity in BOUNDED:
        own = np.minimum(own, stated + SHORT_OF_LIMIT)
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
