"""The colour to reach and the cup that is to reach it: targets, batches, additions, swatches."""

import math

from sprayout.acts.bench import Bench
from sprayout.errors import BadInput
from sprayout.journal.records import Batch, BatchAddition, Lab, Paint, Swatch, Target, White

SWATCHES_SHOWN = 60


class Matching:
    """Target, batch and its ledger; what is newest on record is in hand."""

    def __init__(self, bench: Bench) -> None:
        self.target: Target | None = None
        self.batch: Batch | None = None
        self.additions: list[BatchAddition] = []
        self.swatches: list[Swatch] = []
        self.paints: dict[str, Paint] = {}
        self._bench = bench

    def take_over(self) -> None:
        """Go on with the newest target and batch on record."""
        read, bench = self._bench.reader, self._bench.bench
        self.target = next(iter(read.all(Target, bench=bench, newest=True, limit=1)), None)
        self.batch = next(iter(read.all(Batch, bench=bench, newest=True, limit=1)), None)
        self.paints = {paint.name: paint for paint in read.all(Paint, bench=bench)}
        if self.batch:
            self.additions = read.all(BatchAddition, batch=self.batch.id)
            newest = read.swatches(bench, batch=self.batch.id, limit=SWATCHES_SHOWN)
            self.swatches = list(reversed(newest))

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
            name=_named(name, "target"),
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
        if drop_ml is not None and not 0.005 <= drop_ml <= 0.5:
            raise BadInput(f"drop size: got {drop_ml:g} mL, wanted 0.005 to 0.5 mL; weigh 20 drops")
        batch = Batch(
            id=self._bench.new_id("batch"),
            bench=self._bench.bench,
            name=_named(name, "batch"),
            made_ms=self._bench.now_ms(),
            target=self.target.id if self.target else None,
            drop_ml=drop_ml,
        )
        await self._bench.commit([batch])
        self.batch, self.additions, self.swatches = batch, [], []
        self._bench.tell("state")
        return batch

    async def add(self, paint: str, drops: int) -> BatchAddition:
        """Write an addition into the ledger of the cup in hand."""
        if self.batch is None:
            raise BadInput("addition: no batch yet; start one first")
        if not 1 <= drops <= 2000:
            raise BadInput(f"addition: got {drops} drops, wanted 1 to 2000; count them again")
        known = self.paints.get(paint)
        bottle = known or self._new_paint(paint)
        addition = BatchAddition(
            id=self._bench.new_id("addition"),
            bench=self._bench.bench,
            batch=self.batch.id,
            at_ms=self._bench.now_ms(),
            paint=bottle.id,
            drops=drops,
        )
        await self._bench.commit([addition] if known else [bottle, addition])
        self.paints[bottle.name] = bottle
        self.additions.append(addition)
        self._bench.tell("state")
        return addition

    def _new_paint(self, name: str) -> Paint:
        return Paint(
            id=self._bench.new_id("paint"),
            bench=self._bench.bench,
            name=_named(name, "paint"),
            made_ms=self._bench.now_ms(),
        )

    def take_swatch(self, swatch: Swatch) -> None:
        """Remember a swatch of the cup in hand for the trail on the page."""
        if self.batch is not None and swatch.batch == self.batch.id:
            self.swatches = [*self.swatches, swatch][-SWATCHES_SHOWN:]

    def contents(self) -> dict[str, int]:
        """Return the drops of each paint in the cup."""
        names = {paint.id: paint.name for paint in self.paints.values()}
        total: dict[str, int] = {}
        for addition in self.additions:
            if addition.paint and addition.drops:
                name = names.get(addition.paint, addition.paint)
                total[name] = total.get(name, 0) + addition.drops
        return total


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


def _named(name: str, what: str) -> str:
    words = " ".join(name.split())
    if not 1 <= len(words) <= 120:
        raise BadInput(f"{what}: got a name of {len(words)} letters, wanted 1 to 120; name it")
    return words
