"""How the mix will look on the piece: coat after coat over its base, and dry instead of wet.

A swatch says of what it was taken: the ``cup`` (wet, what is steered by), a ``dry card`` of the
cup, the ``base`` of the piece before the first coat, or a dry ``coat`` on it.
"""

import math
from dataclasses import dataclass

import numpy as np

from sprayout.acts.advising import Advising
from sprayout.acts.bench import Bench
from sprayout.acts.matching import Matching
from sprayout.acts.shelf import Shelf
from sprayout.acts.shifting import DRYING, REDUCER_OUT, spectrum_of
from sprayout.colour.difference import ciede2000
from sprayout.colour.tristimulus import Spectrum, spectrum_to_lab
from sprayout.errors import BadInput
from sprayout.journal.records import Batch, Lab, Swatch, Target
from sprayout.mixing.coats import CoatOutlook, CoatPlan, film_of, said_after
from sprayout.mixing.shifts import Shift, shifted

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
    """The cup's last reading as it is expected to look dry, and what that rests on.

    ``u95_de00``: the reading's own uncertainty and that of the shifts together.
    """

    lab: Lab
    de00: float | None
    u95_de00: float
    shifts: tuple[Shift, ...]


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
        last, shifting = readings[-1], self._advising.shifting
        shifts = [shifting.shift(DRYING)]
        if self._matching.reduced_at(last.at_ms):
            shifts.append(shifting.shift(REDUCER_OUT))
        step = sum(shift.step for shift in shifts)
        sd = math.hypot(*(shift.sd for shift in shifts))
        lab = spectrum_to_lab(shifted(spectrum_of(last), step))
        further = spectrum_to_lab(shifted(spectrum_of(last), step + sd))
        u95 = math.hypot(last.u95_de00 or 0.0, 1.96 * _apart(lab, further))
        target = self._matching.target
        de00 = None
        if target is not None and target.white == "d65-10":
            de00 = _apart(target.lab, lab)
        shown = (float(lab[0]), float(lab[1]), float(lab[2]))
        return DryLook(shown, de00, u95, tuple(shifts))

    def _all(self) -> list[Swatch]:
        return self._bench.reader.all(Swatch, bench=self._bench.bench)

    def _of_batch(self, batch: Batch) -> list[Swatch]:
        return [s for s in self._all() if s.batch == batch.id]


def _apart(one: Lab, other: Lab) -> float:
    return float(ciede2000(np.array(one), np.array(other)))


def _spectrum(of: Swatch | Target) -> Spectrum:
    return Spectrum(of.wavelength_nm, of.reflectance)
