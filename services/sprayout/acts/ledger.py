"""A batch's ledger as the mixing room takes it: to print, to make again, to hold beside others."""

from sprayout.acts.bench import Bench
from sprayout.acts.matching import Matching
from sprayout.acts.shelf import Shelf
from sprayout.errors import BadInput
from sprayout.journal.records import Batch, BatchAddition, Swatch, Target
from sprayout.journal.records_json import format_time
from sprayout.mixing.ledger import Addition, DriftPoint, LabReading, Reducing, drift
from sprayout.mixing.ledger import Batch as Cup
from sprayout.mixing.viscosity import Efflux, efflux


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
        batch = self._bench.reader.get(Batch, batch_id)
        if batch is None:
            raise BadInput(f"batch: got {batch_id!r}, wanted one on record; choose from the list")
        return self._cup(batch)

    def _cup(self, batch: Batch) -> Cup:
        target = self._bench.reader.get(Target, batch.target) if batch.target else None
        lab = target.lab if target is not None and target.white == "d65-10" else None
        cup = Cup(f"{batch.name} ({batch.id})", lab)
        for event in self._events(batch):
            if isinstance(event, Swatch):
                if event.lab is not None and event.white == "d65-10":
                    cup = cup.enter(LabReading(event.lab, event.note or "wet, in the cup"))
            elif event.reducer and event.ml:
                cup = cup.enter(Reducing(self._shelf.name_of(event.reducer), event.ml))
            elif event.paint and event.poured:
                name = self._shelf.name_of(event.paint)
                drops = self._shelf.drops_of(event, batch.drop_ml)
                drop_ml = self._shelf.drop_ml(name, batch.drop_ml)
                cup = cup.enter(Addition(name, drops, drop_ml, event.grams))
        return cup

    def _events(self, batch: Batch) -> list[BatchAddition | Swatch]:
        read = self._bench.reader
        events: list[BatchAddition | Swatch] = [
            *read.all(BatchAddition, batch=batch.id),
            *read.all(Swatch, batch=batch.id),
        ]
        return sorted(events, key=lambda event: event.at_ms)

    def drift(self) -> tuple[DriftPoint, ...]:
        """Return the batches made for the target in hand, each beside the first of them."""
        target = self._matching.target
        if target is None:
            raise BadInput("drift: no target in hand; choose one")
        made = self._bench.reader.all(Batch, bench=self._bench.bench, target=target.id)
        return drift(tuple(self._cup(batch) for batch in made))

    def listed(self) -> list[dict[str, object]]:
        """Return the batches on record, newest first, for a list to choose from."""
        made = self._bench.reader.all(Batch, bench=self._bench.bench, newest=True, limit=50)
        return [
            {"id": batch.id, "name": batch.name, "made": format_time(batch.made_ms)}
            for batch in made
        ]
