"""How the mix will look on the piece: coat after coat over its base, and dry instead of wet.

A swatch says of what it was taken: the ``cup`` (wet, what is steered by), a ``dry card`` of the
cup, the ``base`` of the piece before the first coat, or a dry ``coat`` on it.

One cup may do several pieces, or parts of one.  The film is that on the surface its last coat went
on: coats on another lie beside it, not over it.
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
from sprayout.colour.tristimulus import spectrum_to_lab
from sprayout.errors import BadInput
from sprayout.journal.records import Batch, Coat, Lab, Part, Piece, Swatch
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
#: A piece and, where one was named, a part of it.
Surface = tuple[str, str | None]


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
        sprayed = self._coats(batch)
        coats = [coat for coat in sprayed if surface_of(coat) == surface_of(sprayed[-1])]
        swatches = self._of_coats(batch, coats, alone=len(coats) == len(sprayed))
        base = self._base(swatches, coats)
        lab = spectrum_to_lab(spectrum_of(target)) if target.reflectance else target.lab
        film, film_words, assumed = self._film(batch, coats)
        if len(coats) < len(sprayed):
            assumed += (f"the coats are those on {self._name_of(coats[-1])}, sprayed last",)
        step = step_from_film(film.dry_um_per_coat) if film else COAT_STEP
        plan = CoatPlan(self._dry_film(steering), spectrum_of(base), lab, step)
        done = 0
        for swatch in swatches:
            done = max(_coats_before(swatch, coats), done + 1)
            plan = plan.read(done, spectrum_of(swatch))
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

    def _base(self, swatches: list[Swatch], coats: list[Coat]) -> Swatch:
        """Return the last base measured before the first of these coats."""
        first_ms = coats[0].start_ms if coats else min((s.at_ms for s in swatches), default=None)
        bases = [s for s in self._all() if s.note.startswith("base") and _may_be_of(s, coats)]
        before = [s for s in bases if first_ms is None or s.at_ms <= first_ms]
        if not before:
            raise BadInput(
                "coats: the base is not measured; measure it before the first coat (a swatch of: "
                "base)"
            )
        return before[-1]

    def _of_coats(self, batch: Batch, coats: list[Coat], *, alone: bool) -> list[Swatch]:
        """Return the swatches of these coats of a cup, in order.

        `alone`: the cup did no other surface.  Else a swatch that names no coat and is older than
        the first of these was of another one.
        """
        found = [s for s in self._all() if s.batch == batch.id and s.note.startswith("coat")]
        if not coats:
            return found
        kept = [s for s in found if _may_be_of(s, coats)]
        since_ms = 0 if alone else coats[0].start_ms
        return [s for s in kept if (self._is_on(s, coats) if s.coat else s.at_ms >= since_ms)]

    def _is_on(self, swatch: Swatch, coats: list[Coat]) -> bool:
        """Return whether the coat a swatch names lies on the surface of these, if on record."""
        coat = self._bench.reader.get(Coat, swatch.coat or "")
        return coat is None or surface_of(coat) == surface_of(coats[-1])

    def _name_of(self, coat: Coat) -> str:
        piece = self._bench.reader.get(Piece, coat.piece)
        part = self._bench.reader.get(Part, coat.part) if coat.part else None
        name = piece.name if piece else coat.piece
        return f"{part.name} of {name}" if part else name

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
        known = [spread for coat in coats if (spread := _ml_on_cm2(coat)) is not None]
        if not known:
            return None, "enter what a coat took out of the cup and the area it went over", ()
        solids = SOLIDS_BY_VOLUME / (1.0 + self._reducer_parts(batch))
        # One coat may go over more of the piece than another: each counts by its own area.
        build = film_build(sum(known), 1.0, len(known), solids_by_volume=solids)
        words = (
            f"about {build.dry_um_per_coat:.0f} µm dry film a coat, {build.dry_um_total:.0f} µm in "
            f"all from {len(known)} {'coat' if len(known) == 1 else 'coats'}"
        )
        assumed: tuple[str, ...] = (
            f"{TRANSFER:.0%} of the spray stays on the piece",
            f"{SOLIDS_BY_VOLUME:.0%} of the unthinned paint stays as dry film",
        )
        assumed += self._shelf.weighed_blind(self._matching.additions_to(batch.id))
        unknown = len(coats) - len(known)
        if unknown:
            assumed += (
                f"{unknown} of the coats had no volume or no area entered and is not counted",
            )
        return build, f"{words}; {build.caution}" if build.caution else words, assumed

    def _reducer_parts(self, batch: Batch) -> float:
        """Return reducer per part of paint in a cup, by volume."""
        lines = self._matching.additions_to(batch.id)
        shelf = self._shelf
        paint = sum(
            shelf.drops_of(a, batch.drop_ml) * shelf.drop_ml(shelf.name_of(a.paint), batch.drop_ml)
            for a in lines
            if a.paint
        )
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


def surface_of(coat: Coat) -> Surface:
    """Return what a coat went on."""
    return coat.piece, coat.part


def _may_be_of(swatch: Swatch, coats: list[Coat]) -> bool:
    """Return whether a swatch can be of the surface of these coats; many name no piece."""
    if not coats:
        return True
    piece, part = surface_of(coats[-1])
    return swatch.piece in (None, piece) and (part is None or swatch.part in (None, part))


def _ml_on_cm2(coat: Coat) -> float | None:
    """Return what a coat took for each cm² it went over; None where either was not entered."""
    ml, area_cm2 = sprayed_ml(coat), coat.settings.get("area_cm2")
    if ml is None or not isinstance(area_cm2, int | float) or area_cm2 <= 0:
        return None
    return ml / area_cm2


def _coats_before(swatch: Swatch, coats: list[Coat]) -> int:
    """Return after how many coats a swatch was measured; 0 where no coat is on record."""
    for number, coat in enumerate(coats, start=1):
        if coat.id == swatch.coat:
            return number
    return sum(coat.start_ms < swatch.at_ms for coat in coats)


def _apart(one: Lab, other: Lab) -> float:
    return float(ciede2000(np.array(one), np.array(other)))
