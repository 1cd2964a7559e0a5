"""How much to mix so that one batch does all coats.

Area times wet film is what has to land on the piece; more has to leave the cup, for most of an
airbrush's mist misses a small piece, and some stays in cup and brush.  The figures a person does
not give are common practice, no source, and are named in the answer.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from sprayout.errors import BadInput

TRANSFER = 0.35
LEFT_BEHIND_ML = 1.0
SPARE = 0.2


@dataclass(frozen=True, slots=True)
class Amount:
    """Volumes in mL: thinned paint to mix, the paint in it before the reducer, the reducer.

    ``drops`` of paint at the bottle's drop; ``assumed`` names what was not given.
    """

    thinned_ml: float
    paint_ml: float
    reducer_ml: float
    drops: int
    assumed: tuple[str, ...]


def how_much(
    area_cm2: float,
    coats: int,
    wet_um_per_coat: float,
    *,
    reducer_parts: float = 0.0,
    transfer: float | None = None,
    left_behind_ml: float | None = None,
    spare: float | None = None,
    drop_ml: float = 0.05,
) -> Amount:
    """Volume to mix for these coats.

    ``reducer_parts``: reducer per part of paint; ``transfer``: the part that stays on the piece;
    ``left_behind_ml``: in cup and brush; ``spare``: on top, as a fraction.
    """
    _check(area_cm2, coats, wet_um_per_coat, reducer_parts, drop_ml)
    assumed = []
    if transfer is None:
        transfer = TRANSFER
        assumed.append(f"{TRANSFER:.0%} of the spray stays on the piece")
    if left_behind_ml is None:
        left_behind_ml = LEFT_BEHIND_ML
        assumed.append(f"{LEFT_BEHIND_ML:g} mL stays in cup and brush")
    if spare is None:
        spare = SPARE
        assumed.append(f"{SPARE:.0%} spare, for a second batch seldom matches")
    if not (0 < transfer <= 1 and left_behind_ml >= 0 and spare >= 0):
        raise BadInput(
            f"how much: transfer {transfer:g} must be above 0 and at most 1, what stays behind "
            f"({left_behind_ml:g} mL) and spare ({spare:g}) 0 or more"
        )
    # 1 um over 1 cm2 is 1e-4 mL.
    on_piece = area_cm2 * coats * wet_um_per_coat * 1e-4
    thinned = (on_piece / transfer) * (1 + spare) + left_behind_ml
    paint = thinned / (1 + reducer_parts)
    return Amount(thinned, paint, thinned - paint, math.ceil(paint / drop_ml), tuple(assumed))


def _check(area: float, coats: int, film: float, reducer: float, drop: float) -> None:
    for name, value, low, high in (
        ("area", area, 0.1, 1e5),
        ("coats", coats, 1, 30),
        ("wet film", film, 1, 500),
        ("reducer parts", reducer, 0, 10),
        ("drop", drop, 0.005, 1),
    ):
        if not low <= value <= high:
            raise BadInput(
                f"how much: {name} is {value:g}, wanted {low:g} to {high:g}; measure it again"
            )
