"""One row of the table of causes, and the sources that rows share."""

from __future__ import annotations

from dataclasses import dataclass

from sprayout.review.exact import Harm

NO_SOURCE = "common practice, no source"
FILM_SOURCE = "film temperature by wet-bulb balance against the dew point (climate.blush)"
SURFACE_SOURCE = "3 K over the dew point: usual reading of ISO 8502-4 and ISO 12944-7"
SHEET_SOURCE = "the paint's data sheet where entered, else common practice, no source"


@dataclass(frozen=True, slots=True)
class Cause:
    """One condition that may be behind one finding."""

    defect: str
    key: str
    words: str
    quantity: str
    harm: Harm
    limit: float | None
    width: float
    weight: float
    change: str
    source: str = NO_SOURCE
    sheet: str | None = None
    instead: tuple[tuple[str, Harm, float | None, float], ...] = ()
    shown: tuple[str, ...] = ()
    gate: str | None = None
