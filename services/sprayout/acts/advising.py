"""The next drop: the cup in hand replayed through the mixing room, reading by reading.

House rule: the ledger and the swatches on record are the only memory.  The advice is worked out
from them anew whenever they change, so it is the same after a restart and on every screen.
"""

import asyncio
from collections.abc import Mapping
from dataclasses import dataclass

from sprayout.acts.bench import Bench
from sprayout.acts.matching import Matching
from sprayout.acts.shelf import Shelf
from sprayout.colour.tristimulus import Spectrum
from sprayout.errors import BadInput
from sprayout.journal.records import BatchAddition, Swatch
from sprayout.journal.records import Target as TargetOnRecord
from sprayout.mixing.fit import ShelfModel, fit_shelf
from sprayout.mixing.recipe import RecipeBook, recipes
from sprayout.mixing.steer import Advice, Steering, WhatIf, advise, start
from sprayout.mixing.values import Shelf as MixingShelf
from sprayout.mixing.values import Target

PAINTS_WANTED = 2


@dataclass(frozen=True, slots=True)
class Said:
    """The advice for the cup as it is, or the words why there is none."""

    advice: Advice | None
    words: str
    steering: Steering | None = None


class Advising:
    """The advice for the cup in hand."""

    def __init__(self, bench: Bench, matching: Matching, shelf: Shelf) -> None:
        self.said = Said(None, "no advice yet")
        self._bench = bench
        self._matching = matching
        self._shelf = shelf
        self._known: tuple[object, ...] = ()
        self._model: tuple[int, MixingShelf, ShelfModel] | None = None
        self._one_at_a_time = asyncio.Lock()

    async def refresh(self) -> None:
        """Work the advice out anew if target, cup or shelf have changed."""
        async with self._one_at_a_time:
            key = self._key()
            if key == self._known:
                return
            self.said = await self._work_out()
            self._known = key
            self._bench.tell("state")

    @property
    def current(self) -> bool:
        """Whether what was said is about the target, cup and shelf as they are now."""
        return self._key() == self._known

    def _key(self) -> tuple[object, ...]:
        matching = self._matching
        return (
            matching.target.id if matching.target else None,
            matching.batch.id if matching.batch else None,
            len(matching.additions),
            matching.version,
            len(matching.readings),
            self._shelf.version,
        )

    async def _work_out(self) -> Said:
        target = self._matching.target
        if target is None:
            return Said(None, "set a target, then the next addition is worked out")
        try:
            wanted = mixing_target(target)
            shelf, model = await self._fitted()
            events = in_order(self._matching.additions, self._matching.readings)
            steering = await asyncio.to_thread(self._replay, shelf, model, wanted, events)
            advice = await asyncio.to_thread(advise, steering)
        except BadInput as error:
            return Said(None, str(error))
        return Said(advice, advice_words(advice), steering)

    async def _fitted(self) -> tuple[MixingShelf, ShelfModel]:
        if self._model is None or self._model[0] != self._shelf.version:
            version, shelf = self._shelf.version, self._shelf.mixing_shelf()
            if len(shelf.paints) < PAINTS_WANTED:
                raise BadInput(
                    f"{len(shelf.paints)} paints have swatches, wanted {PAINTS_WANTED} or more; "
                    "measure a swatch of each paint you may mix with, and one let down with white"
                )
            self._model = (version, shelf, await asyncio.to_thread(fit_shelf, shelf))
        return self._model[1], self._model[2]

    def _replay(
        self,
        shelf: MixingShelf,
        model: ShelfModel,
        target: Target,
        events: list[BatchAddition | Swatch],
    ) -> Steering:
        steering = start(shelf, target, model=model)
        for event in events:
            if isinstance(event, Swatch):
                if steering.total_drops:
                    steering = steering.read(Spectrum(event.wavelength_nm, event.reflectance))
            elif event.paint and event.drops:
                steering = steering.add({self._shelf.name_of(event.paint): event.drops})
        return steering

    async def what_if(self, drops: Mapping[str, int]) -> WhatIf:
        """Say what these drops would do; nothing is poured."""
        await self.refresh()
        steering = self.said.steering
        if steering is None:
            raise BadInput(f"what if: {self.said.words}")
        return await asyncio.to_thread(steering.what_if, dict(drops))

    async def recipe(self) -> RecipeBook:
        """Return recipes for the target in hand from an empty cup."""
        target = self._matching.target
        if target is None:
            raise BadInput("recipe: no target yet; set one first")
        shelf, model = await self._fitted()
        empty = start(shelf, mixing_target(target), model=model)
        return await asyncio.to_thread(recipes, empty)


def mixing_target(target: TargetOnRecord) -> Target:
    """Return the target as the mixing room takes it; its spectrum where it was measured."""
    if target.reflectance:
        spectrum = Spectrum(target.wavelength_nm, target.reflectance)
        return Target(spectrum, None, target.tolerance_de00)
    if target.white != "d65-10":
        raise BadInput(
            "a target typed for D50/2° has no spectrum to mix by; type it for D65/10° or measure it"
        )
    return Target(None, target.lab, target.tolerance_de00)


def in_order(
    additions: list[BatchAddition], readings: list[Swatch]
) -> list[BatchAddition | Swatch]:
    """Return additions and readings as they followed one another."""
    events: list[BatchAddition | Swatch] = [*additions, *readings]
    return sorted(events, key=lambda event: event.at_ms)


def advice_words(advice: Advice) -> str:
    """Return the advice in one sentence."""
    if advice.done:
        missing = f" What is missing: {advice.missing.words}." if advice.missing else ""
        return {
            "matched": "The mix is within tolerance. Stop here; another drop may only spoil it.",
            "unreachable": "These paints come no nearer." + missing,
            "cup full": "The cup is full. Start a new one with a smaller first dose." + missing,
        }.get(advice.reason or "", "Stop here.")
    doses = " and ".join(f"{n} {'drop' if n == 1 else 'drops'} of {p}" for p, n in advice.add)
    return f"Add {doses}, stir well, then measure."
