"""The next drop: the cup in hand replayed through the mixing room, reading by reading.

House rule: the ledger and the swatches on record are the only memory.  The advice is worked out
from them anew whenever they change, so it is the same after a restart and on every screen.
"""

import asyncio
from collections.abc import Mapping
from dataclasses import dataclass, replace

from sprayout.acts.bench import Bench
from sprayout.acts.matching import Matching, recipe_of
from sprayout.acts.shelf import Shelf
from sprayout.acts.shifting import Shifting, spectrum_of
from sprayout.colour.tristimulus import Spectrum
from sprayout.errors import BadInput
from sprayout.journal.records import Batch, BatchAddition, Swatch
from sprayout.journal.records import Target as TargetOnRecord
from sprayout.journal.records_json import format_time
from sprayout.mixing.aim import AS_READ, Aim
from sprayout.mixing.families import (
    advise_in_family,
    families_in_cup,
    only,
    recipes_in_family,
)
from sprayout.mixing.fit import ShelfModel
from sprayout.mixing.recipe import Kind, Recipe, RecipeBook
from sprayout.mixing.shifts import shifted
from sprayout.mixing.steer import Advice, Steering, WhatIf, advise, start
from sprayout.mixing.values import Shelf as MixingShelf
from sprayout.mixing.values import Target

PAINTS_WANTED = 2
NO_WHITE = (
    "no white on the shelf: put one there, or mark the white paint as such, and measure it; "
    "let-downs are made with it and every strength is told against it"
)


@dataclass(frozen=True, slots=True)
class Said:
    """The advice for the cup as it is, or the words why there is none.

    ``dry``: the cup with the advice in it as it will look dry, where it aims at that; ``notes``:
    what the person should know beside.
    """

    advice: Advice | None
    words: str
    steering: Steering | None = None
    dry: WhatIf | None = None
    aim: Aim = AS_READ
    notes: tuple[str, ...] = ()


class Advising:
    """The advice for the cup in hand."""

    def __init__(self, bench: Bench, matching: Matching, shelf: Shelf) -> None:
        self.said = Said(None, "no advice yet")
        self.shifting = Shifting(bench, matching, shelf)
        self._bench = bench
        self._matching = matching
        self._shelf = shelf
        self._known: tuple[object, ...] = ()
        self._book: tuple[object, RecipeBook] | None = None
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
        matching, batch = self._matching, self._matching.batch
        return (
            matching.target.id if matching.target else None,
            batch.id if batch else None,
            batch.aim if batch else None,
            str(batch.recipe) if batch else None,
            len(matching.additions),
            matching.version,
            matching.recorded,
            len(matching.readings),
            self._shelf.version,
        )

    async def _work_out(self) -> Said:
        target = self._matching.target
        if target is None:
            return Said(None, "set a target, then the next addition is worked out")
        try:
            return await self._advised(mixing_target(target))
        except BadInput as error:
            return Said(None, str(error))

    async def _advised(self, wanted: Target) -> Said:
        shelf, model = await self.fitted()
        aim = await asyncio.to_thread(self.shifting.aim)
        events = in_order(self._matching.additions, self._matching.readings)
        empty = start(shelf, wanted, model=model, aim=aim)
        steering, left_out = await asyncio.to_thread(self._replay, empty, events)
        blind = self._shelf.weighed_blind(self._matching.additions)
        notes = (*left_out, *blind, *curdling(steering), *(() if shelf.white else (NO_WHITE,)))
        advice, beside = await asyncio.to_thread(self._advice, steering)
        dry = None
        if aim.shifts and (steering.total_drops or advice.add):
            dry = await asyncio.to_thread(steering.dry_look, dict(advice.add))
        words = " ".join((advice_words(advice, dry), *(f"Note: {one}." for one in left_out)))
        return Said(advice, words, steering, dry, aim, (*beside, *notes))

    def _advice(self, steering: Steering) -> tuple[Advice, tuple[str, ...]]:
        """Return the advice that keeps to the chosen recipe's paints while these can reach it."""
        batch = self._matching.batch
        chosen = recipe_of(batch)
        if not chosen:
            return advise_in_family(steering), ()
        lost = [name for name in chosen if name not in steering.shelf.names]
        if lost:
            return advise_in_family(steering), (
                f"the chosen recipe holds {lost[0]}, which has no swatch on the shelf; the advice "
                "goes on with the paints that have",
            )
        advice = advise(narrowed(steering, chosen))
        if advice.reason != "unreachable":
            return advice, ()
        free = advise_in_family(steering)
        if free.reason == "unreachable":
            return free, ()
        return free, (
            "the chosen recipe's paints come no nearer; the advice goes on with the whole shelf",
        )

    async def fitted(self) -> tuple[MixingShelf, ShelfModel]:
        """Return the shelf and what is known of it; refused while two paints are not known."""
        shelf, model = await self._shelf.fitted()
        if len(shelf.paints) < PAINTS_WANTED:
            raise BadInput(
                f"{len(shelf.paints)} paints have swatches, wanted {PAINTS_WANTED} or more; "
                "measure a swatch of each paint you may mix with, and one let down with white"
            )
        return shelf, model

    def _replay(
        self, steering: Steering, events: list[BatchAddition | Swatch]
    ) -> tuple[Steering, tuple[str, ...]]:
        """Return the cup after all that happened, and what of it cannot have been this cup.

        A line taken back may leave a reading that no longer fits; the advice goes on without it.
        """
        notes: list[str] = []
        for event in events:
            if isinstance(event, Swatch):
                try:
                    if steering.total_drops:
                        steering = steering.read(self._as_unreduced(event, steering.aim))
                except BadInput as error:
                    notes.append(f"left out, at {format_time(event.at_ms)[11:16]} UTC: {error}")
            elif event.paint and event.poured:
                name = self._shelf.name_of(event.paint)
                steering = steering.add({name: self._matching.drops_of(event)})
        return steering, tuple(notes)

    def _as_unreduced(self, swatch: Swatch, aim: Aim) -> Spectrum:
        """Return a reading as it would be without the reducer that was in the cup."""
        spectrum = spectrum_of(swatch)
        if aim.reading is None or not self._matching.reduced_at(swatch.at_ms):
            return spectrum
        return shifted(spectrum, aim.reading.step)

    async def check_reading(self, spectrum: Spectrum) -> None:
        """Refuse a reading that cannot be of the cup in hand, before it goes on record."""
        if self._matching.batch is None or not spectrum.reflectance:
            return
        await self.refresh()
        steering = self.said.steering
        if steering is not None and steering.total_drops:
            await asyncio.to_thread(steering.read, spectrum)

    async def what_if(self, drops: Mapping[str, float]) -> tuple[WhatIf, WhatIf | None]:
        """Say what these drops would do, and how that would dry where the cup aims at it."""
        await self.refresh()
        steering = self.said.steering
        if steering is None:
            raise BadInput(f"what if: {self.said.words}")
        seen = await asyncio.to_thread(steering.what_if, dict(drops))
        if not steering.aim.shifts:
            return seen, None
        return seen, await asyncio.to_thread(steering.dry_look, dict(drops))

    async def recipe(self) -> RecipeBook:
        """Return recipes for the target in hand from an empty cup."""
        target = self._matching.target
        if target is None:
            raise BadInput("recipe: no target yet; set one first")
        version = self._shelf.version
        shelf, model = await self.fitted()
        aim = await asyncio.to_thread(self.shifting.aim)
        key = (target.id, version, aim.step)
        if self._book is None or self._book[0] != key:
            empty = start(shelf, mixing_target(target), model=model, aim=aim)
            self._book = (key, await asyncio.to_thread(recipes_in_family, empty))
        return self._book[1]

    async def choose(self, kind: Kind) -> tuple[Batch, Recipe]:
        """Put one of the recipes on record as the one the cup in hand is mixed by."""
        if self._matching.batch is None:
            raise BadInput("recipe: no cup yet; begin one first")
        book = await self.recipe()
        recipe = book.named(kind)
        if recipe is None:
            raise BadInput(
                f"recipe: {kind} is none of the choices for this target (there: "
                f"{', '.join(book.kinds())}); choose one of them"
            )
        return await self._matching.choose_recipe(kind, dict(recipe.drops)), recipe


def narrowed(steering: Steering, chosen: Mapping[str, int]) -> Steering:
    """Return the steering with the chosen recipe's paints and what is in the cup alone."""
    # A recipe for a large job must leave the cup room to come back from an overshoot.
    room = max(steering.limits.drops_max, 2 * sum(chosen.values()))
    return replace(
        only(steering, tuple(chosen)),
        limits=replace(steering.limits, drops_max=room),
        recipe=tuple(chosen.items()),
    )


def curdling(steering: Steering) -> tuple[str, ...]:
    """Return a warning where the cup holds paints of more than one family."""
    held = families_in_cup(steering)
    if len(held) < 2:
        return ()
    return (
        f"the cup holds {' and '.join(held)}, which may curdle together; look at it, and begin a "
        "new cup with paints of one family",
    )


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


def advice_words(advice: Advice, dry: WhatIf | None = None) -> str:
    """Return the advice in one sentence, and what the dry colour should come to in another."""
    if advice.done:
        missing = f" What is missing: {advice.missing.words}." if advice.missing else ""
        said = {
            "matched": "The mix is within tolerance. Stop here; another drop may only spoil it.",
            "unreachable": "These paints come no nearer." + missing,
            "cup full": "The cup is full. Start a new one with a smaller first dose." + missing,
        }.get(advice.reason or "", "Stop here.")
    else:
        doses = " and ".join(f"{n} {'drop' if n == 1 else 'drops'} of {p}" for p, n in advice.add)
        said = f"Add {doses}, stir well, then measure."
    if dry is None:
        return said
    return (
        f"{said} Dry it should come to {dry.de00:.1f} CIEDE2000 from the target, give or take "
        f"{dry.u95_de00:.1f}."
    )
