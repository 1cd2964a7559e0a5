"""What is about to be sprayed, on what, and what its data sheet asks."""

from dataclasses import dataclass

from sprayout.climate.coat_clocks import ClockReading
from sprayout.climate.paint_limits import PaintLimits
from sprayout.climate.part import FOIL, Part
from sprayout.climate.reducer import Blend


@dataclass(frozen=True, slots=True)
class SprayPlan:
    """The cup's evaporating blend, the part and the paint's limits, each None where not known.

    ``film_unknown`` says why a cup that holds a reducer has no blend; ``pot_life`` is the cup's,
    where its data sheet states one.
    """

    blend: Blend | None = None
    part: Part = FOIL
    limits: PaintLimits | None = None
    coat: str | None = None
    film_unknown: str = ""
    pot_life: ClockReading | None = None
