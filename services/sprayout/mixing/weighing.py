"""A recipe in grams for a scale instead of drops."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sprayout.errors import BadInput
from sprayout.mixing.values import Shelf


@dataclass(frozen=True, slots=True)
class Weighed:
    """Grams of each paint, and what the scale's step does to the share of the worst of them."""

    grams: tuple[tuple[str, float], ...]
    total_g: float
    worst_share_error_pct: float


def weighed(
    drops: tuple[tuple[str, int], ...], shelf: Shelf, total_g: float, step_g: float = 0.01
) -> Weighed:
    """The recipe's drops as grams on a scale with this step, ``total_g`` in all.

    Drops count by their bottle's ``drop_ml`` and ``density_g_ml``.
    """
    if not drops:
        raise BadInput("grams: the recipe is empty; name paints and drops")
    if not (0 < step_g <= 10 and total_g >= 10 * step_g):
        raise BadInput(
            f"grams: got {total_g:g} g in steps of {step_g:g} g, wanted at least ten steps; mix "
            "more, or use a finer scale"
        )
    known = {paint.name: paint for paint in shelf.paints}
    stray = [name for name, _ in drops if name not in known]
    if stray:
        raise BadInput(f"grams: {stray[0]!r} is not on the shelf; name one of its paints")
    each = np.array([n * known[name].drop_ml * known[name].density_g_ml for name, n in drops])
    exact = each / each.sum() * total_g
    rounded = np.maximum(np.round(exact / step_g), 1.0) * step_g
    error = np.abs(rounded / rounded.sum() / (exact / total_g) - 1)
    grams = tuple((name, round(float(g), 6)) for (name, _), g in zip(drops, rounded, strict=True))
    return Weighed(grams, float(rounded.sum()), 100 * float(error.max()))
