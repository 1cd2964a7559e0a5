"""One bench's record as the review reads it: the only module here that asks the journal."""

from __future__ import annotations

from dataclasses import dataclass

from sprayout.errors import BadInput
from sprayout.journal import records as r
from sprayout.journal.reader import Reader
from sprayout.review.batch_facts import CalibrationSeen, Cup, SwatchSeen, cups_of
from sprayout.review.facts import BenchRecord, facts_of, family_of
from sprayout.review.judge import ENOUGH_OF_FAMILY, MOST_COATS
from sprayout.review.quantities import CoatFacts


@dataclass(frozen=True, slots=True)
class BenchHistory:
    """Every coat of a bench as facts, oldest first, with what they were worked out of."""

    bench: str
    record: BenchRecord
    facts: tuple[CoatFacts, ...]
    cups: dict[str, Cup]

    def coat(self, coat_id: str) -> CoatFacts | None:
        """The facts of one coat."""
        return next((f for f in self.facts if f.coat == coat_id), None)


def read_history(reader: Reader, bench: str, around: str | None = None) -> BenchHistory:
    """Read one bench: whole, or the coats that the coat ``around`` is compared with.

    Conditions are most of what there is to read; those of coats that cannot matter stay unread.
    """
    cups = _cups(reader, bench)
    coats = reader.all(r.Coat, bench=bench)
    if around is not None:
        coats = _needed(coats, cups, around)
        conditions = {c.id: _conditions(reader, c) for c in coats}
    else:
        held = {c.coat: c for c in reader.all(r.Conditions, bench=bench)}
        conditions = {c.id: held.get(c.id) or _conditions(reader, c) for c in coats}
    record = BenchRecord(
        coats=coats,
        conditions={key: found for key, found in conditions.items() if found is not None},
        findings=reader.all(r.Finding, bench=bench),
        cups=cups,
        calibrations=[
            CalibrationSeen(c.device, c.at_ms, c.due_ms)
            for c in reader.all(r.Calibration, bench=bench)
        ],
        airbrushes={x.id: x for x in reader.all(r.Airbrush, bench=bench)},
        booths={x.id: x for x in reader.all(r.Booth, bench=bench)},
    )
    return BenchHistory(bench, record, tuple(facts_of(record)), cups)


def _conditions(reader: Reader, coat: r.Coat) -> r.Conditions | None:
    """As kept; an ended coat without any (an import) has them worked out of its readings."""
    held = reader.get(r.Conditions, coat.id)
    if held is None and coat.end_ms is not None:
        held = reader.conditions(coat.id)
    return held


def _needed(coats: list[r.Coat], cups: dict[str, Cup], around: str) -> list[r.Coat]:
    """The coats compared with, and all others of their pieces (what lies beneath counts)."""
    family = {c.id: family_of(c, cups.get(c.batch or "")) for c in coats}
    own = [c for c in coats if family[c.id] == family.get(around)]
    chosen = (own if len(own) > ENOUGH_OF_FAMILY else coats)[-MOST_COATS:]
    pieces = {c.piece for c in chosen} | {c.piece for c in coats if c.id == around}
    return [c for c in coats if c.piece in pieces]


def _cups(reader: Reader, bench: str) -> dict[str, Cup]:
    return cups_of(
        reader.all(r.Batch, bench=bench),
        reader.all(r.BatchAddition, bench=bench),
        reader.all(r.Paint, bench=bench),
        reader.all(r.Reducer, bench=bench),
        reader.all(r.Target, bench=bench),
        [swatch_seen(s) for s in reader.all(r.Swatch, bench=bench) if s.batch is not None],
    )


def swatch_seen(swatch: r.Swatch) -> SwatchSeen:
    """What the review needs of it."""
    return SwatchSeen(
        swatch.id,
        swatch.device,
        swatch.at_ms,
        swatch.batch,
        swatch.lab,
        swatch.de00,
        swatch.u95_de00,
    )


def piece_on_record(reader: Reader, piece_id: str) -> r.Piece:
    """The piece, or BadInput."""
    piece = reader.get(r.Piece, piece_id)
    if piece is None:
        raise BadInput(f"piece: got {piece_id!r}, wanted one on record; see the list of coats")
    return piece


def coat_on_record(reader: Reader, coat_id: str) -> r.Coat:
    """The coat, or BadInput."""
    coat = reader.get(r.Coat, coat_id)
    if coat is None:
        raise BadInput(f"coat: got {coat_id!r}, wanted one on record; see the list of coats")
    return coat
