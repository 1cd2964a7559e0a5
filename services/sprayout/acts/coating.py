"""How the mix will look on the piece: coat after coat over its base, and dry instead of wet.

A swatch says of what it was taken: the ``cup`` (wet, what is steered by), a ``dry card`` of the
cup, the ``base`` of the piece before the first coat, or a dry ``coat`` on it.
"""

import math
from dataclasses import dataclass, replace

import numpy as np

from sprayout.acts.advising import Advising
from sprayout.acts.bench import Bench
from sprayout.acts.ledger import sprayed_ml
from sprayout.acts.matching import Matching
from sprayout.acts.shelf import Shelf
from sprayout.acts.shifting import DRYING, REDUCER_OUT, spectrum_of
from sprayout.colour.difference import ciede2000
from sprayout.colour.tristimulus import Spectrum, spectrum_to_lab
from sprayout.errors import BadInput
from sprayout.journal.records import Batch, Coat, Lab, Swatch, Target
from sprayout.mixing.amount import TRANSFER
from sprayout.mixing.coats import (
    COAT_STEP,
    CoatOutlook,
    CoatPlan,
    Film,
    film_of,
    said_after,
    step_from_film,
)
from sprayout.mixing.film_build import SOLIDS_BY_VOLUME, FilmBuild, film_build
from sprayout.mixing.shifts import Shift, shifted
from sprayout.mixing.steer import Steering

COATS_AHEAD = 4
COLOUR_COATS = ("tack coat", "wet coat")


@dataclass(frozen=True, slots=True)
class CoatsAhead:
    """What the coats to come are expected to look like, and one sentence on it.

    ``read``: after how many coats the piece was last measured; ``film``: how thick the coats so far
    are, None where nobody entered what was sprayed over what area; ``assumed`` beside it.
    """

    read: int
    coats: tuple[CoatOutlook, ...]
    coats_to_hide: int | None
    words: str
    film: FilmBuild | None = None
    film_words: str = ""
    assumed: tuple[str, ...] = ()


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
        swatches, coats = self._of_batch(batch), self._coats(batch)
        base = self._base(swatches)
        lab = spectrum_to_lab(_spectrum(target)) if target.reflectance else target.lab
        film, film_words, assumed = self._film(batch, coats)
        step = step_from_film(film.dry_um_per_coat) if film else COAT_STEP
        plan = CoatPlan(self._dry_film(steering), _spectrum(base), lab, step)
        done = 0
        for swatch in (s for s in swatches if s.note.startswith("coat")):
            done = max(_coats_before(swatch, coats), done + 1)
            plan = plan.read(done, _spectrum(swatch))
        ahead = range(1, max(COATS_AHEAD, done + 1) + 1)
        words = said_after(plan, target.tolerance_de00)
        return CoatsAhead(
            done,
            tuple(plan.after(count) for count in ahead),
            plan.coats_to_hide(),
            words,
            film,
            film_words,
            assumed,
        )

    def _base(self, swatches: list[Swatch]) -> Swatch:
        """Return the last base measured before the first coat of this cup."""
        first_ms = min((s.at_ms for s in swatches if s.note.startswith("coat")), default=None)
        bases = [s for s in self._all() if s.note.startswith("base")]
        before = [s for s in bases if first_ms is None or s.at_ms <= first_ms]
        if not before:
            raise BadInput(
                "coats: the base is not measured; measure it before the first coat (a swatch of: "
                "base)"
            )
        return before[-1]

    def _dry_film(self, steering: Steering) -> Film:
        """Return the cup as a film; coats are measured dry, the cup was measured wet."""
        film = film_of(steering.belief())
        shift = self._advising.shifting.shift(DRYING)
        return replace(film, k=film.k * math.exp(shift.step))

    def _coats(self, batch: Batch) -> list[Coat]:
        """Return the colour coats sprayed from this cup, in order."""
        sprayed = self._bench.reader.all(Coat, batch=batch.id)
        return [coat for coat in sprayed if coat.kind in COLOUR_COATS]

    def _film(
        self, batch: Batch, coats: list[Coat]
    ) -> tuple[FilmBuild | None, str, tuple[str, ...]]:
        """Return the film the coats so far make, in words too, and what is assumed of it."""
        known = [c for c in coats if sprayed_ml(c) is not None]
        areas = [c.settings.get("area_cm2") for c in coats if c.settings.get("area_cm2")]
        if not known or not areas:
            return None, "enter what a coat took out of the cup and the area it went over", ()
        ml = sum(sprayed_ml(coat) or 0.0 for coat in known)
        solids = SOLIDS_BY_VOLUME / (1.0 + self._reducer_parts(batch))
        build = film_build(ml, float(str(areas[-1])), len(known), solids_by_volume=solids)
        words = (
            f"about {build.dry_um_per_coat:.0f} µm dry film a coat, {build.dry_um_total:.0f} µm in "
            f"all from {len(known)} {'coat' if len(known) == 1 else 'coats'}"
        )
        assumed: tuple[str, ...] = (
            f"{TRANSFER:.0%} of the spray stays on the piece",
            f"{SOLIDS_BY_VOLUME:.0%} of the unthinned paint stays as dry film",
        )
        unknown = len(coats) - len(known)
        if unknown:
            assumed += (f"{unknown} of the coats had no volume entered and is not counted",)
        return build, f"{words}; {build.caution}" if build.caution else words, assumed

    def _reducer_parts(self, batch: Batch) -> float:
        """Return reducer per part of paint in a cup, by volume."""
        lines = self._matching.additions_to(batch.id)
        paint = sum(self._shelf.ml_of(a, batch.drop_ml) or 0.0 for a in lines if a.paint)
        reducer = sum(a.ml or 0.0 for a in lines if a.reducer)
        return reducer / paint if paint else 0.0

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


def _coats_before(swatch: Swatch, coats: list[Coat]) -> int:
    """Return after how many coats a swatch was measured; 0 where no coat is on record."""
    for number, coat in enumerate(coats, start=1):
        if coat.id == swatch.coat:
            return number
    return sum(coat.start_ms < swatch.at_ms for coat in coats)


def _apart(one: Lab, other: Lab) -> float:
    return float(ciede2000(np.array(one), np.array(other)))


def _spectrum(of: Swatch | Target) -> Spectrum:
    return Spectrum(of.wavelength_nm, of.reflectance)
