"""Which swatch to measure next: the guided set of every paint, and what the next one is worth."""

import asyncio
from dataclasses import dataclass

from sprayout.acts.advising import NO_WHITE
from sprayout.acts.shelf import Shelf, swatches_of
from sprayout.errors import BadInput
from sprayout.journal.records import Paint
from sprayout.mixing.fit import ShelfModel
from sprayout.mixing.guide import (
    GuidedSwatch,
    SwatchAdvice,
    guided_set,
    has,
    next_of_each,
    wanted_steps,
)
from sprayout.mixing.values import Shelf as MixingShelf

#: A swatch that makes recipes no surer than this is not worth the card.
TELLS_LITTLE_DE00 = 0.1


@dataclass(frozen=True, slots=True)
class GuidedStep:
    """One step of a paint's guided set and whether it is on record."""

    swatch: GuidedSwatch
    done: bool


@dataclass(frozen=True, slots=True)
class PaintGuide:
    """What is known of a paint, and the swatch that would tell most.

    ``best`` is None for a paint without any swatch, which wants its masstone first, and for one
    whose set is complete.
    """

    paint: str
    swatches: int
    best: SwatchAdvice | None
    steps: tuple[GuidedStep, ...]
    words: str


@dataclass(frozen=True, slots=True)
class ShelfGuide:
    """The guide for every paint, the swatch that helps most named first; ``notes`` beside it."""

    paints: tuple[PaintGuide, ...]
    first: SwatchAdvice | None
    notes: tuple[str, ...]


class Guiding:
    """The swatches that are still worth making."""

    def __init__(self, shelf: Shelf) -> None:
        self._shelf = shelf
        self._known: tuple[int, ShelfGuide] | None = None

    async def guide(self) -> ShelfGuide:
        """Return the guide for the shelf as it is."""
        if self._known is None or self._known[0] != self._shelf.version:
            version = self._shelf.version
            self._known = (version, await self._worked_out())
        return self._known[1]

    async def _worked_out(self) -> ShelfGuide:
        paints = list(self._shelf.paints.values())
        if not paints:
            raise BadInput("guide: no paint on the shelf; put the bottles there first")
        known = any(swatches_of(paint) for paint in paints)
        best: dict[str, SwatchAdvice | None] = {}
        steps: dict[str, tuple[GuidedStep, ...]] = {}
        if known:
            shelf, model = await self._shelf.fitted()
            best = await asyncio.to_thread(next_of_each, shelf, model)
            steps = {name: _steps(shelf, model, i) for i, name in enumerate(shelf.names)}
        guides = tuple(_guide(paint, best, steps) for paint in paints)
        judged = [one for one in best.values() if one is not None]
        first = max(judged, key=lambda one: one.gain_de00, default=None)
        white = any(paint.details.get("white") for paint in paints)
        return ShelfGuide(guides, first, () if white else (NO_WHITE,))


def _steps(shelf: MixingShelf, model: ShelfModel, paint: int) -> tuple[GuidedStep, ...]:
    wanted = wanted_steps(shelf, model, paint)
    return tuple(GuidedStep(step, has(shelf, step.parts, step.over)) for step in wanted)


def _guide(
    paint: Paint,
    best: dict[str, SwatchAdvice | None],
    steps: dict[str, tuple[GuidedStep, ...]],
) -> PaintGuide:
    name, count = paint.name, len(swatches_of(paint))
    advice = best.get(name)
    if advice is not None and advice.gain_de00 < TELLS_LITTLE_DE00:
        words = (
            f"Recipes with {name} are sure to {advice.u95_before_de00:.1f} CIEDE2000; the next "
            f"swatch would tell little ({advice.what()})."
        )
    elif advice is not None:
        words = f"Next: {advice.words()}."
    elif name in best:
        words = "The guided set is complete; another swatch would tell little."
    else:
        words = (
            f"Next: {name} alone, brushed out until nothing shows through; until then no recipe "
            "can use it."
        )
    masstone = GuidedStep(guided_set(name, "", False)[0], False)
    return PaintGuide(name, count, advice, steps.get(name, (masstone,)), words)
