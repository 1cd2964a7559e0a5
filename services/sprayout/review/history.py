"""One bench's record as the review reads it: the only module here that asks the journal."""

from __future__ import annotations

import json
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from sprayout.errors import BadInput
from sprayout.journal import records as r
from sprayout.journal.reader import Reader
from sprayout.review.air_seen import (
    COLUMNS,
    AirbrushSeen,
    AirSeen,
    BoothSeen,
    FindingSeen,
    airs_seen,
)
from sprayout.review.batch_facts import (
    CalibrationSeen,
    Cup,
    PaintLine,
    SwatchSeen,
    cups_of,
    family_of_most,
)
from sprayout.review.facts import facts_of
from sprayout.review.gathering import BenchRecord, family_said
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
    """Read one bench: whole, or the coats that the coat ``around`` is compared with."""
    if around is None:
        return _history(reader, bench, reader.all(r.Coat, bench=bench), None)
    coats = reader.all(r.Coat, id=_needed(reader, bench, around))
    return _history(reader, bench, coats, _named(c.batch for c in coats))


def _history(
    reader: Reader, bench: str, coats: list[r.Coat], batches: set[str] | None
) -> BenchHistory:
    cups = _cups(reader, bench, batches)
    record = BenchRecord(
        coats=coats,
        conditions=_conditions(reader, coats),
        findings=[
            FindingSeen(*cells)
            for cells in reader.pick(r.Finding, FindingSeen._fields, bench=bench)
        ],
        cups=cups,
        calibrations=[
            CalibrationSeen(*cells)
            for cells in reader.pick(r.Calibration, ("device", "at_ms", "due_ms"), bench=bench)
        ],
        airbrushes={
            key: AirbrushSeen(*cells)
            for key, *cells in reader.pick(
                r.Airbrush,
                ("id", *AirbrushSeen._fields),
                bench=bench,
                id=_named(c.airbrush for c in coats),
            )
        },
        booths={
            key: BoothSeen(*cells)
            for key, *cells in reader.pick(
                r.Booth, ("id", *BoothSeen._fields), bench=bench, id=_named(c.booth for c in coats)
            )
        },
    )
    return BenchHistory(bench, record, tuple(facts_of(record)), cups)


def _named(keys: Iterable[str | None]) -> set[str]:
    return {key for key in keys if key is not None}


def _conditions(reader: Reader, coats: list[r.Coat]) -> dict[str, AirSeen | r.Conditions]:
    """As kept; an ended coat without any (an import) has them worked out of its readings."""
    rows = reader.pick(r.Conditions, COLUMNS, coat=[coat.id for coat in coats])
    held: dict[str, AirSeen | r.Conditions] = {**airs_seen(rows)}
    for coat in coats:
        if coat.id not in held and (made := conditions_on_record(reader, coat)) is not None:
            held[coat.id] = made
    return held


def conditions_on_record(reader: Reader, coat: r.Coat) -> r.Conditions | None:
    """A coat's conditions with all their figures, worked out where none are kept."""
    held = reader.get(r.Conditions, coat.id)
    if held is None and coat.end_ms is not None:
        held = reader.conditions(coat.id)
    return held


def _needed(reader: Reader, bench: str, around: str) -> list[str]:
    """The coats compared with, and all others of their pieces (what lies beneath counts)."""
    of_batch = _families(reader, bench)
    rows = reader.pick(r.Coat, ("id", "piece", "batch", "settings"), bench=bench)
    family = {key: _said(settings) or of_batch.get(batch) for key, _, batch, settings in rows}
    own = [row for row in rows if family[row[0]] == family.get(around)]
    # One more than are compared: the coat itself may be among the newest.
    chosen = (own if len(own) > ENOUGH_OF_FAMILY else rows)[-(MOST_COATS + 1) :]
    pieces = {row[1] for row in chosen} | {row[1] for row in rows if row[0] == around}
    return [row[0] for row in rows if row[1] in pieces]


def _said(settings: str) -> str | None:
    """The family of paint that was said with a coat; ``settings`` is JSON text."""
    return family_said(json.loads(settings)) if '"family"' in settings else None


def _families(reader: Reader, bench: str) -> dict[str | None, str | None]:
    """The family of most of every cup."""
    ledgers: dict[str, list[PaintLine]] = {}
    for batch, *line in reader.pick(
        r.BatchAddition, ("batch", "paint", "drops", "ml", "grams"), bench=bench
    ):
        ledgers.setdefault(batch, []).append(PaintLine(*line))
    paint_of = {paint.id: paint for paint in reader.all(r.Paint, bench=bench)}
    return {
        key: family_of_most(ledgers.get(key, []), drop_ml, paint_of)
        for key, drop_ml in reader.pick(r.Batch, ("id", "drop_ml"), bench=bench)
    }


_SWATCH = ("id", "device", "at_ms", "batch", "lab", "de00", "u95_de00")


def _cups(reader: Reader, bench: str, only: set[str] | None) -> dict[str, Cup]:
    """The cups of a bench: all of them, or those of these batches."""
    own: dict[str, Any] = {} if only is None else {"id": only}
    of_batch: dict[str, Any] = {} if only is None else {"batch": only}
    return cups_of(
        reader.all(r.Batch, bench=bench, **own),
        reader.all(r.BatchAddition, bench=bench, **of_batch),
        reader.all(r.Paint, bench=bench),
        reader.all(r.Reducer, bench=bench),
        reader.all(r.Target, bench=bench),
        [_swatch_seen(*cells) for cells in reader.pick(r.Swatch, _SWATCH, bench=bench, **of_batch)],
    )


def _swatch_seen(
    key: str,
    device: str,
    at_ms: int,
    batch: str | None,
    lab: str | None,
    de00: float | None,
    u95_de00: float | None,
) -> SwatchSeen:
    lightness_a_b = None if lab is None else tuple(json.loads(lab))
    return SwatchSeen(key, device, at_ms, batch, lightness_a_b, de00, u95_de00)


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
