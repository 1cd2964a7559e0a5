"""How the mix will look on the piece: coat after coat over its base, and dry instead of wet.

A swatch says of what it was taken: the ``cup`` (wet, what is steered by), a ``dry card`` of the
cup, the ``base`` of the piece before the first coat, or a dry ``coat`` on it.
"""

from dataclasses import dataclass

import numpy as np

from sprayout.acts.advising import Advising
from sprayout.acts.bench import Bench
from sprayout.acts.matching import Matching, is_of_cup
from sprayout.acts.shelf import Shelf
from sprayout.colour.difference import ciede2000
from sprayout.colour.tristimulus import Spectrum, spectrum_to_lab
from sprayout.errors import BadInput
from sprayout.journal.records import Batch, Lab, Swatch, Target
from sprayout.mixing.coats import CoatOutlook, CoatPlan, film_of, said_after
from sprayout.mixing.shifts import Pair, Shift, shift_of, shifted
from sprayout.mixing.values import Family

COATS_AHEAD = 4


@dataclass(frozen=True, slots=True)
class CoatsAhead:
    """What coats 1 to 4 are expected to look like, and one sentence on it."""

    read: int
    coats: tuple[CoatOutlook, ...]
    coats_to_hide: int | None
    words: str


@dataclass(frozen=True, slots=True)
class DryLook:
    """The cup's last reading as it is expected to look dry, and what that rests on."""

    lab: Lab
    de00: float | None
    shift: Shift


class Coating:
    """The film to come from the cup in hand."""

    def __init__(self, bench: Bench, matching: Matching, shelf: Shelf, advising: Advising) -> None:
        self._bench = bench
        self._matching = matching
        self._shelf = shelf
        self._advising = advising

    async def ahead(self) -> CoatsAhead:
        """Return what the coats to come will look like over the base that was measured."""
        target, batch = self._matching.target, self._matching.batch
        await self._advising.refresh()
        steering = self._advising.said.steering
        if target is None or batch is None or steering is None or not steering.total_drops:
            raise BadInput("coats: wanted a target and a mixed cup; mix first")
        swatches = self._of_batch(batch)
        bases = [s for s in self._all() if s.note.startswith("base")]
        if not bases:
            raise BadInput("coats: the base is not measured; measure it before the first coat")
        lab = spectrum_to_lab(_spectrum(target)) if target.reflectance else target.lab
        plan = CoatPlan(film_of(steering.belief()), _spectrum(bases[-1]), lab)
        coats = [s for s in swatches if s.note.startswith("coat")]
        for count, swatch in enumerate(coats, start=1):
            plan = plan.read(count, _spectrum(swatch))
        outlook = tuple(plan.after(count) for count in range(1, COATS_AHEAD + 1))
        words = said_after(plan, target.tolerance_de00)
        return CoatsAhead(len(coats), outlook, plan.coats_to_hide(), words)

    def dry(self) -> DryLook:
        """Return the cup's last reading as it will look dry, learned from the owner's pairs."""
        readings = self._matching.readings
        if not readings:
            raise BadInput("dry: no reading of the cup yet; measure it first")
        shift = shift_of("wet to dry", self._family(), self._pairs())
        lab = spectrum_to_lab(shifted(_spectrum(readings[-1]), shift.step))
        target = self._matching.target
        de00 = None
        if target is not None and target.white == "d65-10":
            de00 = float(ciede2000(np.array(target.lab), np.array(lab)))
        return DryLook((float(lab[0]), float(lab[1]), float(lab[2])), de00, shift)

    def _family(self) -> Family:
        contents = self._matching.contents()
        main = max(contents, key=lambda name: contents[name], default="")
        paint = self._shelf.paint(main)
        match paint.type if paint else None:
            case "lacquer":
                return "lacquer"
            case "acrylic":
                return "acrylic"
        return "enamel"

    def _pairs(self) -> tuple[Pair, ...]:
        """Return each dry card beside the last wet reading of its cup before it."""
        pairs = []
        wet: dict[str, Swatch] = {}
        for swatch in self._all():
            if swatch.batch is None or not swatch.reflectance:
                continue
            if swatch.note.startswith("dry card"):
                if (before := wet.get(swatch.batch)) is not None:
                    pairs.append(Pair(_spectrum(before), _spectrum(swatch)))
            elif is_of_cup(swatch):
                wet[swatch.batch] = swatch
        return tuple(pairs)

    def _all(self) -> list[Swatch]:
        return self._bench.reader.all(Swatch, bench=self._bench.bench)

    def _of_batch(self, batch: Batch) -> list[Swatch]:
        return [s for s in self._all() if s.batch == batch.id]


def _spectrum(of: Swatch | Target) -> Spectrum:
    return Spectrum(of.wavelength_nm, of.reflectance)
