"""The colour to reach and the cup that is to reach it: targets, batches, additions, swatches."""

import asyncio
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from sprayout.acts.bench import Bench
from sprayout.acts.shelf import GRAMS_LEAST, GRAMS_MOST, Shelf, check_drop, named
from sprayout.climate.reducer import Blend
from sprayout.colour.targets import ColourTarget
from sprayout.colour.tristimulus import Spectrum
from sprayout.errors import BadInput
from sprayout.journal.records import (
    Batch,
    BatchAddition,
    Lab,
    Paint,
    Photo,
    Swatch,
    Target,
    White,
)
from sprayout.mixing.values import check_spectrum, check_surface_lab

#: A cup matches as it is in the cup, or once a draw of it is dry.
AIMS = ("wet", "dry")
#: How the notes of swatches begin that were not taken of the wet cup.
NOT_OF_CUP = ("dry card", "coat", "base")


@dataclass(frozen=True, slots=True)
class Dose:
    """One paint to go into the cup: drops as counted, or grams as the scale showed them."""

    paint: str
    drops: int | None = None
    grams: float | None = None


@dataclass(frozen=True, slots=True)
class TargetStory:
    """Where a target comes from, beside its colour; empty where nothing is to be said."""

    origin: str = ""
    u95_de00: float | None = None
    variant_of: str = ""
    photos: tuple[Photo, ...] = ()
    notes: tuple[str, ...] = ()


UNTOLD = TargetStory()


class Matching:
    """Target, batch and its ledger; what is newest on record is in hand."""

    def __init__(self, bench: Bench, shelf: Shelf) -> None:
        self.target: Target | None = None
        self.batch: Batch | None = None
        self.additions: list[BatchAddition] = []
        self.readings: list[Swatch] = []
        self.version = 0
        #: Swatches of any kind taken since the start: what is learned from them may have changed.
        self.recorded = 0
        self._bench = bench
        self._shelf = shelf
        # Two tablets must not pour one dose into the ledger twice, nor into a cup just put away.
        self.one_at_a_time = asyncio.Lock()

    def take_over(self) -> None:
        """Go on with the newest target and batch on record."""
        read, bench = self._bench.reader, self._bench.bench
        self.target = next(iter(read.all(Target, bench=bench, newest=True, limit=1)), None)
        self.batch = next(iter(read.all(Batch, bench=bench, newest=True, limit=1)), None)
        if self.batch:
            self.target = self._target_of(self.batch)
            self.additions = read.all(BatchAddition, batch=self.batch.id)
            found = reversed(read.swatches(bench, batch=self.batch.id))
            self.readings = [swatch for swatch in found if is_of_cup(swatch)]

    def _target_of(self, batch: Batch) -> Target | None:
        """Return the target that the cup was begun for, unless a newer one was set since."""
        newest = self.target
        if batch.target is None or (newest is not None and newest.made_ms > batch.made_ms):
            return newest
        return self._bench.reader.get(Target, batch.target) or newest

    def moment_ms(self) -> int:
        """Return the time of the cup's next line: later than its last, whatever the clock does.

        The order of drops and readings is what the advice rests on; a clock that is set back
        must not turn it round.
        """
        last = [addition.at_ms for addition in self.additions[-1:]]
        last += [swatch.at_ms for swatch in self.readings[-1:]]
        return max([self._bench.now_ms(), *(at_ms + 1 for at_ms in last)])

    async def set_target(
        self,
        name: str,
        lab: Lab,
        white: White = "d65-10",
        tolerance_de00: float | None = None,
        swatch: Swatch | None = None,
        *,
        story: TargetStory = UNTOLD,
    ) -> Target:
        """Put a target on record, typed in or measured, and make it the one in hand."""
        tolerance = tolerance_de00 or self._bench.settings.number("tolerance_de00")
        check_lab(lab)
        if swatch is None:
            check_surface_lab(lab, white)
        elif swatch.reflectance:
            check_spectrum(Spectrum(swatch.wavelength_nm, swatch.reflectance), "target")
        target = Target(
            id=self._bench.new_id("target"),
            bench=self._bench.bench,
            name=named(name, "target"),
            lab=lab,
            white=white,
            tolerance_de00=tolerance,
            made_ms=self._bench.now_ms(),
            swatch=swatch.id if swatch else None,
            wavelength_nm=swatch.wavelength_nm if swatch else (),
            reflectance=swatch.reflectance if swatch else (),
            note="; ".join(story.notes),
            origin=story.origin or ("measured" if swatch else "typed"),
            u95_de00=swatch.u95_de00 if swatch else story.u95_de00,
            variant_of=named(story.variant_of, "variant") if story.variant_of else "",
            photos=tuple(photo.id for photo in story.photos),
        )
        await self._bench.commit([*story.photos, *([swatch] if swatch else []), target])
        self.target = target
        self._bench.tell("state")
        return target

    async def set_colour(
        self,
        colour: ColourTarget,
        white: White,
        tolerance_de00: float | None = None,
        *,
        story: TargetStory = UNTOLD,
    ) -> Target:
        """Put a target on record that the colour room worked out, under one of our whites."""
        wide = white == "d65-10"
        given = colour.u95_de00 if wide else colour.other_u95_de00
        told = replace(
            story,
            origin=story.origin or colour.origin,
            u95_de00=round(given, 2),
            notes=(*story.notes, *colour.notes),
        )
        lab = colour.lab_d65_10 if wide else colour.lab_d50_2
        return await self.set_target(colour.name, lab, white, tolerance_de00, story=told)

    def variants(self) -> dict[str, tuple[Target, ...]]:
        """Return the shades of each model side by side, the newest of each name, by name."""
        found = self._bench.reader.all(Target, bench=self._bench.bench)
        models: dict[str, dict[str, Target]] = {}
        for target in found:
            if target.variant_of:
                models.setdefault(target.variant_of, {})[target.name] = target
        return {
            model: tuple(shades[name] for name in sorted(shades))
            for model, shades in sorted(models.items())
        }

    async def choose_target(self, target_id: str) -> Target:
        """Take a target on record in hand again."""
        target = self._bench.reader.get(Target, target_id)
        if target is None:
            raise BadInput(f"target: got {target_id!r}, wanted one on record; choose from the list")
        self.target = target
        self._bench.tell("state")
        return target

    def put_target_away(self) -> None:
        """Have no target in hand; it stays on record."""
        self.target = None
        self._bench.tell("state")

    async def start_batch(
        self, name: str, drop_ml: float | None = None, aim: str | None = None
    ) -> Batch:
        """Begin a new cup for the target in hand; it aims as the cup before did unless told."""
        if drop_ml is not None:
            check_drop(drop_ml)
        check_aim(aim)
        async with self.one_at_a_time:
            return await self._start_batch(name, drop_ml, aim)

    async def _start_batch(self, name: str, drop_ml: float | None, aim: str | None) -> Batch:
        batch = Batch(
            id=self._bench.new_id("batch"),
            bench=self._bench.bench,
            name=named(name, "batch"),
            made_ms=self._bench.now_ms(),
            target=self.target.id if self.target else None,
            drop_ml=drop_ml,
            aim=aim or (self.batch.aim if self.batch else None),
        )
        await self._bench.commit([batch])
        self.batch, self.additions, self.readings = batch, [], []
        self._bench.tell("state")
        return batch

    async def set_aim(self, aim: str) -> Batch:
        """Say whether the cup in hand is to match while wet or once it is dry."""
        check_aim(aim)
        return await self._change_batch("aim", aim=aim)

    async def choose_recipe(self, kind: str, drops: Mapping[str, int]) -> Batch:
        """Put the recipe the cup in hand is mixed by on record."""
        return await self._change_batch("recipe", recipe={"kind": kind, "drops": dict(drops)})

    async def forget_recipe(self) -> Batch:
        """Go back to the advice that is free in its paints."""
        return await self._change_batch("recipe", recipe={})

    async def _change_batch(self, what: str, **fields: Any) -> Batch:
        async with self.one_at_a_time:
            if self.batch is None:
                raise BadInput(f"{what}: no cup yet; begin one first")
            changed = replace(self.batch, **fields)
            await self._bench.commit([changed])
            self.batch = changed
            self._bench.tell("state")
            return changed

    async def add(
        self,
        paint: str,
        drops: int | None = None,
        lines: int | None = None,
        grams: float | None = None,
    ) -> BatchAddition:
        """Write an addition into the ledger of the cup in hand; see :meth:`add_all`."""
        return (await self.add_all([Dose(paint, drops, grams)], lines))[0]

    async def add_all(self, doses: Sequence[Dose], lines: int | None = None) -> list[BatchAddition]:
        """Write a dose of several paints into the ledger of the cup in hand: all of it or none.

        `lines` is how many lines the ledger had on the screen that was tapped; where another
        screen has written meanwhile, the dose is refused.
        """
        async with self.one_at_a_time:
            if lines is not None and lines != len(self.additions):
                raise BadInput(
                    f"addition: the ledger has {len(self.additions)} lines, this screen knew of "
                    f"{lines}; another screen has written; look at the cup, then tap again"
                )
            return await self._add_all(doses)

    async def _add_all(self, doses: Sequence[Dose]) -> list[BatchAddition]:
        if self.batch is None:
            raise BadInput("addition: no batch yet; start one first")
        first_ms = self.moment_ms()
        new: dict[str, Paint] = {}
        lines = []
        for at, dose in enumerate(doses):
            self._check_dose(dose)
            known = self._shelf.paint(dose.paint) or new.get(dose.paint)
            bottle = known or self._shelf.new_paint(dose.paint)
            if known is None:
                new[dose.paint] = bottle
            lines.append(self._line(self.batch, bottle, dose, first_ms + at))
        await self._bench.commit([*new.values(), *lines])
        for bottle in new.values():
            self._shelf.remember(bottle)
        self.additions += lines
        self._bench.tell("state")
        return lines

    def _line(self, batch: Batch, bottle: Paint, dose: Dose, at_ms: int) -> BatchAddition:
        return BatchAddition(
            id=self._bench.new_id("addition"),
            bench=self._bench.bench,
            batch=batch.id,
            at_ms=at_ms,
            paint=bottle.id,
            drops=dose.drops,
            grams=dose.grams,
        )

    def _check_dose(self, dose: Dose) -> None:
        drops, grams = dose.drops, dose.grams
        if (drops is None) == (grams is None):
            raise BadInput("addition: wanted either drops or grams; send one of the two")
        if drops is not None and not 1 <= drops <= 2000:
            raise BadInput(f"addition: got {drops} drops, wanted 1 to 2000; count them again")
        if grams is not None:
            self._check_grams(dose.paint, grams)
        if self._shelf.paint(dose.paint) is None:
            self._shelf.check_name(dose.paint)

    def _check_grams(self, paint: str, grams: float) -> None:
        if not (math.isfinite(grams) and GRAMS_LEAST <= grams <= GRAMS_MOST):
            raise BadInput(
                f"addition: got {grams:g} g, wanted {GRAMS_LEAST:g} to {GRAMS_MOST:g}; read the "
                "scale again"
            )
        if self._shelf.density_g_ml(paint) is None:
            raise BadInput(
                f"addition: the density of {paint!r} is not known; weigh 10 mL and enter it with "
                "the paint, or count drops"
            )

    async def undo(self) -> BatchAddition:
        """Take the last addition back: written down wrongly, or not poured after all.

        The line stays in the ledger with no drops and a note of what it said.
        """
        async with self.one_at_a_time:
            return await self._undo()

    async def _undo(self) -> BatchAddition:
        counted = [a for a in self.additions if a.poured]
        if not counted:
            raise BadInput("undo: the cup's ledger holds nothing to take back")
        last = counted[-1]
        note = f"{last.note} taken back: {entered(last)}".strip()
        changed = replace(
            last,
            drops=0 if last.drops else None,
            ml=0.0 if last.ml else None,
            grams=0.0 if last.grams else None,
            note=note,
        )
        await self._bench.commit([changed])
        self.additions = [changed if a.id == last.id else a for a in self.additions]
        self.version += 1
        self._bench.tell("state")
        return changed

    async def reduce(self, reducer: str, ml: float) -> BatchAddition:
        """Write a reducer into the ledger of the cup in hand."""
        async with self.one_at_a_time:
            return await self._reduce(reducer, ml)

    async def _reduce(self, reducer: str, ml: float) -> BatchAddition:
        if self.batch is None:
            raise BadInput("reducer: no batch yet; start one first")
        if not (math.isfinite(ml) and 0 < ml <= 500):
            raise BadInput(f"reducer: got {ml:g} mL, wanted more than 0 and at most 500")
        known = self._shelf.reducers.get(reducer)
        if known is None:
            listed = ", ".join(self._shelf.reducers) or "none yet"
            raise BadInput(f"reducer: {reducer!r} is not on the shelf (there: {listed}); add it")
        addition = BatchAddition(
            id=self._bench.new_id("addition"),
            bench=self._bench.bench,
            batch=self.batch.id,
            at_ms=self.moment_ms(),
            reducer=known.id,
            ml=ml,
        )
        await self._bench.commit([addition])
        self.additions.append(addition)
        self._bench.tell("state")
        return addition

    def blend(self, additions: Sequence[BatchAddition] | None = None) -> Blend | None:
        """Return what evaporates from a cup (None: the one in hand): its reducers by volume.

        None where a reducer is not known: half a blend would promise too warm a film.  The
        paint's own solvents are not known; the reducer is most of what leaves an airbrush.
        """
        volumes: dict[str, float] = {}
        for addition in self.additions if additions is None else additions:
            if addition.reducer and addition.ml:
                volumes[addition.reducer] = volumes.get(addition.reducer, 0.0) + addition.ml
        mixed: Blend | None = None
        total = 0.0
        for reducer_id, ml in volumes.items():
            blend = self._shelf.blend(reducer_id)
            if blend is None:
                return None
            total += ml
            mixed = blend if mixed is None else mixed.mixed_with(blend, ml / total)
        return mixed

    def film_unknown(self, additions: Sequence[BatchAddition] | None = None) -> str:
        """Return in words why no film can be worked out of a cup's reducers; empty where it can."""
        cup = self.additions if additions is None else additions
        reducers = dict.fromkeys(line.reducer for line in cup if line.reducer and line.ml)
        return "; ".join(filter(None, (self._shelf.film_unknown(key) for key in reducers)))

    def renew(self, swatches: Sequence[Swatch]) -> None:
        """Show the cup's readings as they are on record now."""
        changed = {swatch.id: swatch for swatch in swatches}
        self.readings = [changed.get(reading.id, reading) for reading in self.readings]
        self.version += 1
        self._bench.tell("state")

    def take_swatch(self, swatch: Swatch) -> None:
        """Remember a swatch of the cup in hand."""
        self.recorded += 1
        if self.batch is not None and swatch.batch == self.batch.id and is_of_cup(swatch):
            self.readings.append(swatch)

    def ledger(self) -> list[tuple[BatchAddition, str]]:
        """Return the ledger's lines, each with the name of its paint or reducer."""
        return [
            (line, self._shelf.name_of(line.paint or line.reducer or "")) for line in self.additions
        ]

    def additions_to(self, batch_id: str | None) -> list[BatchAddition]:
        """Return the ledger of a batch on record; the one in hand need not be read."""
        if batch_id is None:
            return []
        if self.batch is not None and self.batch.id == batch_id:
            return self.additions
        return self._bench.reader.all(BatchAddition, batch=batch_id)

    def drops_of(self, addition: BatchAddition) -> float:
        """Return the drops of paint a line of the cup in hand stands for."""
        return self._shelf.drops_of(addition, self.batch.drop_ml if self.batch else None)

    def contents(self, additions: Sequence[BatchAddition] | None = None) -> dict[str, float]:
        """Return the drops of each paint in a cup (None: the one in hand), grams among them."""
        total: dict[str, float] = {}
        for addition in self.additions if additions is None else additions:
            if addition.paint and addition.poured:
                name = self._shelf.name_of(addition.paint)
                total[name] = total.get(name, 0) + self.drops_of(addition)
        return total

    def reduced_at(self, at_ms: int) -> bool:
        """Return whether reducer was in the cup in hand at a moment."""
        return any(line.reducer and line.ml and line.at_ms <= at_ms for line in self.additions)


def entered(line: BatchAddition) -> str:
    """Return the amount of a line in the unit it was entered in."""
    if line.grams:
        return f"{line.grams:g} g"
    return f"{line.drops} drops" if line.drops else f"{line.ml or 0:g} mL"


def recipe_of(batch: Batch | None) -> dict[str, int]:
    """Return the drops of the recipe chosen for a cup; empty where none was."""
    stated = batch.recipe.get("drops") if batch else None
    if not isinstance(stated, dict):
        return {}
    return {str(name): int(n) for name, n in stated.items() if isinstance(n, int) and n > 0}


def check_aim(aim: str | None) -> None:
    """Refuse a colour to aim at that is not one of the two."""
    if aim not in (None, *AIMS):
        raise BadInput(f"aim: got {aim!r}, wanted wet or dry; choose one of the two")


def is_of_cup(swatch: Swatch) -> bool:
    """Whether a swatch was taken of the wet cup; steering goes by no other."""
    return not swatch.note.startswith(NOT_OF_CUP)


def noted(of: str, note: str) -> str:
    """Return a swatch's note so that it begins with what it was taken of.

    What a person writes of the cup must not make it a coat: *coated stick* is kept as
    *cup coated stick*.
    """
    if of != "cup" or note.startswith(NOT_OF_CUP):
        return f"{of} {note}".strip()
    return note


def check_lab(lab: Lab) -> None:
    """Refuse a Lab that no surface has."""
    lightness, a, b = lab
    if not all(math.isfinite(v) for v in lab) or not 0 <= lightness <= 100:
        raise BadInput(f"target: got L* {lightness:g}, wanted 0 to 100; check what was typed")
    if math.hypot(a, b) > 130:
        raise BadInput(
            f"target: a* {a:g}, b* {b:g} is stronger than any surface colour; check the signs and "
            "the decimal point"
        )
