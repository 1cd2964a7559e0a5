"""What a batch's ledger and swatches say about every coat sprayed from it.  Pure."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from sprayout.climate.paint_limits import PaintLimits, parse_paint_limits
from sprayout.climate.reducer import Blend, blend_by_volume
from sprayout.errors import BadInput
from sprayout.journal.line_volume import volume_ml
from sprayout.journal.records import Batch, BatchAddition, Paint, Reducer, Target

#: Only to tell of which paint there is most, where one was weighed without its density.
RANKED_BY_G_ML = 1.0
CALIBRATION_HOLDS_H = 12.0


@dataclass(frozen=True, slots=True)
class SwatchSeen:
    """What the review needs of a swatch."""

    id: str
    device: str
    at_ms: int
    batch: str | None
    lab: tuple[float, float, float] | None
    de00: float | None
    u95_de00: float | None


@dataclass(frozen=True, slots=True)
class PaintLine:
    """What a line of the ledger says of a paint; None where it is of a reducer."""

    paint: str | None
    drops: int | None
    ml: float | None
    grams: float | None


@dataclass(frozen=True, slots=True)
class CalibrationSeen:
    """When a board was calibrated and when that was due again."""

    device: str
    at_ms: int
    due_ms: int | None

    @property
    def holds_to_ms(self) -> int:
        """Its due time; 12 h where none was kept (the default setting)."""
        return self.due_ms or self.at_ms + int(CALIBRATION_HOLDS_H * 3.6e6)


@dataclass(frozen=True, slots=True)
class Cup:
    """One batch: its family, sheet, reducers and swatches, in order of time.

    ``paint_ml`` and ``reducer_ml`` are None where the volume of a line that was poured is unknown.
    """

    batch: Batch
    family: str | None
    sheet: PaintLimits | None
    paint_ml: float | None
    reducer_ml: float | None
    blend: Blend | None
    target: Target | None
    swatches: tuple[SwatchSeen, ...]

    def last_swatch(self, at_ms: int) -> SwatchSeen | None:
        """The newest swatch at or before a time, else the first after it (a dry draw)."""
        before = [s for s in self.swatches if s.at_ms <= at_ms]
        return before[-1] if before else next(iter(self.swatches), None)


def cups_of(
    batches: Iterable[Batch],
    additions: Iterable[BatchAddition],
    paints: Iterable[Paint],
    reducers: Iterable[Reducer],
    targets: Iterable[Target],
    swatches: Iterable[SwatchSeen],
) -> dict[str, Cup]:
    """Every batch as a :class:`Cup`, by id."""
    of_batch: dict[str, list[BatchAddition]] = {}
    for addition in additions:
        of_batch.setdefault(addition.batch, []).append(addition)
    seen: dict[str, list[SwatchSeen]] = {}
    for swatch in swatches:
        if swatch.batch is not None:
            seen.setdefault(swatch.batch, []).append(swatch)
    paint_of, target_of = {p.id: p for p in paints}, {t.id: t for t in targets}
    blend_of = {r.id: _blend(r) for r in reducers}
    return {
        batch.id: _cup(
            batch,
            of_batch.get(batch.id, []),
            paint_of,
            blend_of,
            target_of.get(batch.target or ""),
            sorted(seen.get(batch.id, []), key=lambda s: s.at_ms),
        )
        for batch in batches
    }


def _cup(
    batch: Batch,
    ledger: Sequence[BatchAddition],
    paint_of: Mapping[str, Paint],
    blend_of: Mapping[str, Blend | None],
    target: Target | None,
    swatches: Sequence[SwatchSeen],
) -> Cup:
    thinned = [
        (line.reducer, volume_ml(line, None, batch.drop_ml))
        for line in ledger
        if line.paint is None and line.reducer is not None and line.poured
    ]
    poured = [line for line in ledger if line.paint is not None and line.poured]
    paint = paint_of.get(_most(ledger, batch.drop_ml, paint_of))
    return Cup(
        batch=batch,
        family=paint.type if paint else None,
        sheet=_sheet(paint),
        paint_ml=_sum(
            volume_ml(line, paint_of.get(line.paint or ""), batch.drop_ml) for line in poured
        ),
        reducer_ml=_sum(ml for _, ml in thinned),
        blend=_mixed(thinned, blend_of),
        target=target,
        swatches=tuple(swatches),
    )


def family_of_most(
    ledger: Iterable[PaintLine], drop_ml: float | None, paint_of: Mapping[str, Paint]
) -> str | None:
    """The family of the paint of which most is in the cup; None where there is none."""
    most = _most(ledger, drop_ml, paint_of)
    return paint_of[most].type if most in paint_of else None


def _most(
    ledger: Iterable[PaintLine | BatchAddition],
    drop_ml: float | None,
    paint_of: Mapping[str, Paint],
) -> str:
    """The id of the paint of which there is most; empty where there is none."""
    amount: dict[str, float] = {}
    for line in ledger:
        if line.paint is not None and (line.drops or line.ml or line.grams):
            ml = volume_ml(line, paint_of.get(line.paint), drop_ml)
            known = (line.grams or 0.0) / RANKED_BY_G_ML if ml is None else ml
            amount[line.paint] = amount.get(line.paint, 0.0) + known
    return max(amount, key=lambda key: amount[key], default="")


def _sum(volumes: Iterable[float | None]) -> float | None:
    """None as soon as one is not known."""
    total = 0.0
    for ml in volumes:
        if ml is None:
            return None
        total += ml
    return total


def _blend(reducer: Reducer) -> Blend | None:
    """None where its solvents are not known: an unknown reducer is no slow one."""
    try:
        return blend_by_volume({name: float(str(v)) for name, v in reducer.solvents.items()})
    except (BadInput, ValueError):
        return None


def _mixed(
    thinned: Sequence[tuple[str, float | None]], blend_of: Mapping[str, Blend | None]
) -> Blend | None:
    """What evaporates of the reducers together; one alone needs no volume."""
    if len({reducer for reducer, _ in thinned}) == 1:
        return blend_of.get(thinned[0][0])
    mixed, total = None, 0.0
    for reducer, ml in thinned:
        blend = blend_of.get(reducer)
        if blend is None or ml is None:
            return None
        total += ml
        mixed = blend if mixed is None else mixed.mixed_with(blend, ml / total)
    return mixed


def _sheet(paint: Paint | None) -> PaintLimits | None:
    limits = paint.details.get("limits") if paint else None
    if not isinstance(limits, dict):
        return None
    try:
        return parse_paint_limits(limits)
    except BadInput:
        return None


def volatility_kpa(blend: Blend, air_c: float) -> float:
    """Vapour pressure over the blend by Raoult's law, moles from volumes and densities, in kPa."""
    moles = [
        share * s.density_kg_m3 / s.molar_mass_kg
        for s, share in zip(blend.solvents, blend.shares, strict=True)
    ]
    whole = sum(moles)
    return sum(
        n / whole * float(s.vapour_pressure_pa(air_c)) / 1000.0
        for s, n in zip(blend.solvents, moles, strict=True)
    )
