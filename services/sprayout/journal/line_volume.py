"""The volume a line of a batch's ledger put into the cup, as every room reckons it.  Pure."""

from __future__ import annotations

from math import isfinite
from typing import Protocol

from sprayout.journal.records import Paint

USUAL_DROP_ML = 0.05


class Line(Protocol):
    """The amounts of a line; ``paint`` is None where it is of a reducer or of nothing."""

    @property
    def paint(self) -> str | None:
        """The paint's id."""

    @property
    def drops(self) -> int | None:
        """Counted drops."""

    @property
    def ml(self) -> float | None:
        """Millilitres."""

    @property
    def grams(self) -> float | None:
        """Weighed grams."""


def volume_ml(line: Line, paint: Paint | None, batch_drop_ml: float | None) -> float | None:
    """The volume of a line: grams by the bottle's density first, then drops, then millilitres.

    None for grams of an unknown density, and where no amount is stated.
    """
    if line.grams is not None:
        density = density_g_ml(paint)
        return None if density is None else line.grams / density
    if line.drops and line.paint:
        return line.drops * drop_ml(paint, batch_drop_ml)
    return line.ml


def drop_ml(paint: Paint | None, batch_drop_ml: float | None) -> float:
    """The drop of a bottle: its own, else the cup's, else the usual one."""
    return _stated(paint, "drop_ml") or batch_drop_ml or USUAL_DROP_ML


def density_g_ml(paint: Paint | None) -> float | None:
    """What a bottle's paint weighs; None where nobody has entered it."""
    return _stated(paint, "density_g_ml")


def _stated(paint: Paint | None, name: str) -> float | None:
    """A figure of a bottle; None where it is none, for an import may bring anything."""
    try:
        figure = float(str(paint.details.get(name))) if paint else 0.0
    except ValueError:
        return None
    return figure if isfinite(figure) and figure > 0 else None
