"""A batch's ledger as the mixing room takes it: to print, to make again, to hold beside others."""

import re
from dataclasses import replace

from sprayout.acts.bench import Bench
from sprayout.acts.matching import NOT_OF_CUP, Matching
from sprayout.acts.shelf import Shelf, check_drop, named
from sprayout.errors import BadInput
from sprayout.journal.records import Batch, BatchAddition, Coat, Swatch, Target
from sprayout.journal.records_json import format_time
from sprayout.mixing.ledger import Addition, Again, DriftPoint, LabReading, Reducing, Sprayed, drift
from sprayout.mixing.ledger import Batch as Cup
from sprayout.mixing.viscosity import Efflux, efflux

WET_CUP, DRY_CARD = "wet, in the cup", "dry card"


class Ledger:
    """The batches on record."""

    def __init__(self, bench: Bench, matching: Matching, shelf: Shelf) -> None:
        self._bench = bench
        self._matching = matching
        self._shelf = shelf

    async def efflux(self, cup: str, seconds: float, temperature_c: float) -> Efflux:
        """Write an efflux time into the ledger of the cup in hand."""
        found = efflux(cup, seconds, temperature_c)
        async with self._matching.one_at_a_time:
            await self._keep(found, seconds, temperature_c)
        self._bench.tell("state")
        return found

    async def _keep(self, found: Efflux, seconds: float, temperature_c: float) -> None:
        batch = self._matching.batch
        if batch is None:
            raise BadInput("efflux time: no batch yet; start one first")
        line = BatchAddition(
            id=self._bench.new_id("addition"),
            bench=self._bench.bench,
            batch=batch.id,
            at_ms=self._matching.moment_ms(),
            note=f"efflux {found.cup} {seconds:g} s at {temperature_c:g} °C",
        )
        await self._bench.commit([line])
        self._matching.additions.append(line)

    def batch(self, batch_id: str) -> Cup:
        """Return a batch on record with its entries in order."""
        return self._cup(self._on_record(batch_id))

    def _on_record(self, batch_id: str) -> Batch:
        batch = self._bench.reader.get(Batch, batch_id)
        if batch is None:
            raise BadInput(f"batch: got {batch_id!r}, wanted one on record; choose from the list")
        return batch

    def _cup(self, batch: Batch) -> Cup:
        target = self._bench.reader.get(Target, batch.target) if batch.target else None
        lab = target.lab if target is not None and target.white == "d65-10" else None
        cup = Cup(f"{batch.name} ({batch.id})", lab)
        for event in self._events(batch):
            if isinstance(event, Coat):
                if (ml := sprayed_ml(event)) is not None:
                    cup = cup.replay(Sprayed(event.kind, ml))
            elif isinstance(event, Swatch):
                if event.lab is not None and event.white == "d65-10" and not is_base(event):
                    cup = cup.replay(LabReading(event.lab, event.note or WET_CUP))
            elif event.reducer and event.ml:
                cup = cup.replay(Reducing(self._shelf.name_of(event.reducer), event.ml))
            elif event.paint and event.poured:
                name = self._shelf.name_of(event.paint)
                drops = self._shelf.drops_of(event, batch.drop_ml)
                drop_ml = self._shelf.drop_ml(name, batch.drop_ml)
                cup = cup.replay(Addition(name, drops, drop_ml, event.grams))
            elif (seen := efflux_in(event.note)) is not None:
                cup = cup.replay(seen)
        return cup

    def _events(self, batch: Batch) -> list[BatchAddition | Swatch | Coat]:
        read = self._bench.reader
        events: list[BatchAddition | Swatch | Coat] = [
            *read.all(BatchAddition, batch=batch.id),
            *read.all(Swatch, batch=batch.id),
            *read.all(Coat, batch=batch.id),
        ]
        return sorted(events, key=lambda e: e.start_ms if isinstance(e, Coat) else e.at_ms)

    def check_sprayed(self, coat: Coat, ml: float) -> None:
        """Refuse more sprayed in a coat than its cup held."""
        batch = self._bench.reader.get(Batch, coat.batch) if coat.batch else None
        if batch is None:
            return
        cup = self._cup(batch)
        left_ml = cup.volume_left_ml + (sprayed_ml(coat) or 0.0)
        if ml > left_ml + 0.05:
            raise BadInput(
                f"coat: got {ml:g} mL sprayed, wanted at most the {max(0.0, left_ml):.2f} mL that "
                "were left in the cup; correct the volume, or enter what else went into the cup"
            )

    async def begin_again(self, batch_id: str, name: str, again: Again) -> Batch:
        """Begin a cup that makes a batch on record again; the advice pours its drops.

        It is for the target of the old one, and for none where that had none.  What is refused
        changes nothing.
        """
        old = self._on_record(batch_id)
        name = named(name, "batch")
        if old.drop_ml is not None:
            check_drop(old.drop_ml)
        if old.target is None:
            self._matching.put_target_away()
        else:
            await self._matching.choose_target(old.target)
        await self._matching.start_batch(name, old.drop_ml)
        return await self._matching.choose_recipe("again", dict(again.drops))

    def drift(self) -> tuple[DriftPoint, ...]:
        """Return the batches made for the target in hand, each beside the first of them."""
        target = self._matching.target
        if target is None:
            raise BadInput("drift: no target in hand; choose one")
        made = self._bench.reader.all(Batch, bench=self._bench.bench, target=target.id)
        return drift(alike(tuple(self._cup(batch) for batch in made)))

    def listed(self) -> list[dict[str, object]]:
        """Return the batches on record, newest first, for a list to choose from."""
        made = self._bench.reader.all(Batch, bench=self._bench.bench, newest=True, limit=50)
        return [self._line_of(batch) for batch in made]

    def _line_of(self, batch: Batch) -> dict[str, object]:
        cup = self._cup(batch)
        last = cup.last_reading
        return {
            "id": batch.id,
            "name": batch.name,
            "made": format_time(batch.made_ms),
            "target": batch.target,
            "paint_ml": round(cup.paint_ml, 2),
            "left_ml": round(max(0.0, cup.volume_left_ml), 2),
            "lab_d65_10": None if last is None else [round(v, 2) for v in last.lab_d65_10],
        }


def is_base(swatch: Swatch) -> bool:
    """Whether a swatch shows what was there before the batch."""
    return swatch.note.startswith("base")


def alike(cups: tuple[Cup, ...]) -> tuple[Cup, ...]:
    """Return the batches with readings of one kind: dry cards where all have one, else wet cups.

    A wet cup beside a dry card would show the drying, not the drift.
    """
    read = [cup for cup in cups if cup.last_reading is not None]
    kind = DRY_CARD if all(_readings(cup, DRY_CARD) for cup in read) else WET_CUP
    return tuple(replace(cup, entries=_readings(cup, kind)) for cup in cups)


def _readings(cup: Cup, kind: str) -> tuple[LabReading, ...]:
    readings = [entry for entry in cup.entries if isinstance(entry, LabReading)]
    if kind == DRY_CARD:
        return tuple(one for one in readings if one.at.startswith(DRY_CARD))
    return tuple(one for one in readings if not one.at.startswith(NOT_OF_CUP))


def sprayed_ml(coat: Coat) -> float | None:
    """Return the volume a coat took out of the cup; None where nobody entered it."""
    stated = coat.settings.get("sprayed_ml")
    return float(stated) if isinstance(stated, (int, float)) and stated > 0 else None


def efflux_in(note: str) -> Efflux | None:
    """Return the efflux time that a line of the ledger says."""
    found = re.fullmatch(r"efflux (.+) ([\d.e+-]+) s at ([\d.e+-]+) °C", note)
    if found is None:
        return None
    try:
        return efflux(found[1], float(found[2]), float(found[3]))
    except ValueError:
        return None
