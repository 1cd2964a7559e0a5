"""The colour to reach and the cup that is to reach it: targets, batches, additions, swatches."""

import asyncio
import math
from collections.abc import Sequence
from dataclasses import replace

from sprayout.acts.bench import Bench
from sprayout.acts.shelf import Shelf, check_drop, named
from sprayout.climate.reducer import Blend
from sprayout.errors import BadInput
from sprayout.journal.records import Batch, BatchAddition, Lab, Paint, Swatch, Target, White

#: How the notes of swatches begin that were not taken of the wet cup.
NOT_OF_CUP = ("dry card", "coat", "base")


class Matching:
    """Target, batch and its ledger; what is newest on record is in hand."""

    def __init__(self, bench: Bench, shelf: Shelf) -> None:
        self.target: Target | None = None
        self.batch: Batch | None = None
        self.additions: list[BatchAddition] = []
        self.readings: list[Swatch] = []
        self.version = 0
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
    ) -> Target:
        """Put a target on record, typed in or measured, and make it the one in hand."""
        tolerance = tolerance_de00 or self._bench.settings.number("tolerance_de00")
        check_lab(lab)
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
        )
        await self._bench.commit([*([swatch] if swatch else []), target])
        self.target = target
        self._bench.tell("state")
        return target

    async def choose_target(self, target_id: str) -> Target:
        """Take a target on record in hand again."""
        target = self._bench.reader.get(Target, target_id)
        if target is None:
            raise BadInput(f"target: got {target_id!r}, wanted one on record; choose from the list")
        self.target = target
        self._bench.tell("state")
        return target

    async def start_batch(self, name: str, drop_ml: float | None = None) -> Batch:
        """Begin a new cup for the target in hand."""
        if drop_ml is not None:
            check_drop(drop_ml)
        async with self.one_at_a_time:
            return await self._start_batch(name, drop_ml)

    async def _start_batch(self, name: str, drop_ml: float | None) -> Batch:
        batch = Batch(
            id=self._bench.new_id("batch"),
            bench=self._bench.bench,
            name=named(name, "batch"),
            made_ms=self._bench.now_ms(),
            target=self.target.id if self.target else None,
            drop_ml=drop_ml,
        )
        await self._bench.commit([batch])
        self.batch, self.additions, self.readings = batch, [], []
        self._bench.tell("state")
        return batch

    async def add(self, paint: str, drops: int, lines: int | None = None) -> BatchAddition:
        """Write an addition into the ledger of the cup in hand; see :meth:`add_all`."""
        return (await self.add_all([(paint, drops)], lines))[0]

    async def add_all(
        self, doses: Sequence[tuple[str, int]], lines: int | None = None
    ) -> list[BatchAddition]:
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

    async def _add_all(self, doses: Sequence[tuple[str, int]]) -> list[BatchAddition]:
        if self.batch is None:
            raise BadInput("addition: no batch yet; start one first")
        first_ms = self.moment_ms()
        new: dict[str, Paint] = {}
        lines = []
        for at, (paint, drops) in enumerate(doses):
            if not 1 <= drops <= 2000:
                raise BadInput(f"addition: got {drops} drops, wanted 1 to 2000; count them again")
            bottle = self._shelf.paint(paint) or new.get(paint) or self._shelf.new_paint(paint)
            if self._shelf.paint(paint) is None:
                new[paint] = bottle
            lines.append(self._line(self.batch, bottle, drops, first_ms + at))
        await self._bench.commit([*new.values(), *lines])
        for bottle in new.values():
            self._shelf.remember(bottle)
        self.additions += lines
        self._bench.tell("state")
        return lines

    def _line(self, batch: Batch, bottle: Paint, drops: int, at_ms: int) -> BatchAddition:
        return BatchAddition(
            id=self._bench.new_id("addition"),
            bench=self._bench.bench,
            batch=batch.id,
            at_ms=at_ms,
            paint=bottle.id,
            drops=drops,
        )

    async def undo(self) -> BatchAddition:
        """Take the last addition back: written down wrongly, or not poured after all.

        The line stays in the ledger with no drops and a note of what it said.
        """
        async with self.one_at_a_time:
            return await self._undo()

    async def _undo(self) -> BatchAddition:
        counted = [a for a in self.additions if a.drops or a.ml]
        if not counted:
            raise BadInput("undo: the cup's ledger holds nothing to take back")
        last = counted[-1]
        said = f"{last.drops} drops" if last.drops else f"{last.ml:g} mL"
        note = f"{last.note} taken back: {said}".strip()
        changed = replace(
            last, drops=0 if last.drops else None, ml=0.0 if last.ml else None, note=note
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

    def take_swatch(self, swatch: Swatch) -> None:
        """Remember a swatch of the cup in hand."""
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

    def contents(self, additions: Sequence[BatchAddition] | None = None) -> dict[str, int]:
        """Return the drops of each paint in a cup (None: the one in hand)."""
        total: dict[str, int] = {}
        for addition in self.additions if additions is None else additions:
            if addition.paint and addition.drops:
                name = self._shelf.name_of(addition.paint)
                total[name] = total.get(name, 0) + addition.drops
        return total


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
