"""All that is on record of one piece, gathered for its report."""

from __future__ import annotations

from collections.abc import Sequence

from sprayout.colour.difference import ciede2000
from sprayout.colour.lab import lab_to_srgb
from sprayout.colour.tristimulus import white_point
from sprayout.journal import records as r
from sprayout.journal.reader import Reader
from sprayout.review.defects import find_defect
from sprayout.review.dossier_entries import (
    BatchEntry,
    CoatEntry,
    Colour,
    Dossier,
    FindingEntry,
    LedgerLine,
)
from sprayout.review.history import (
    BenchHistory,
    conditions_on_record,
    piece_on_record,
    read_history,
)
from sprayout.review.inquiry import review_piece
from sprayout.review.over_time import evening_of
from sprayout.review.review_json import Json
from sprayout.review.traces import traces_of
from sprayout.safety.cautions import for_spraying, region_named


def read_dossier(reader: Reader, piece_id: str, region: str = "us") -> Dossier:
    """Gather a piece's report; BadInput for a piece or a region that is not known."""
    cautions = tuple(c.words for c in for_spraying(region_named(region)))
    piece = piece_on_record(reader, piece_id)
    coats = reader.all(r.Coat, piece=piece_id)
    history = read_history(reader, piece.bench) if coats else None
    parts = tuple(reader.all(r.Part, piece=piece_id))
    findings = reader.all(r.Finding, piece=piece_id)
    batch_ids = list(dict.fromkeys(c.batch for c in coats if c.batch))
    batches = [b for key in batch_ids if (b := reader.get(r.Batch, key)) is not None]
    target_ids = [*(b.target for b in batches), *(part.target for part in parts)]
    targets = [t for key in dict.fromkeys(target_ids) if key and (t := reader.get(r.Target, key))]
    acknowledged, missing = _acknowledged(reader, piece.bench, coats)
    results = _results(reader, piece_id, coats, targets)
    times = [
        piece.made_ms,
        *(c.at_ms for c in results),
        *(c.end_ms or c.start_ms for c in coats),
        *(f.at_ms for f in findings),
    ]
    return Dossier(
        piece=piece,
        parts=parts,
        targets=tuple(_target(t) for t in targets),
        results=results,
        batches=tuple(_batch(reader, b, targets) for b in batches),
        coats=tuple(_coat(reader, c, parts, findings, history) for c in coats),
        findings=_findings(reader, piece_id, parts, findings, history),
        acknowledged=acknowledged,
        unacknowledged=missing,
        notes=_notes(coats, batches, batch_ids),
        cautions=cautions,
        record_to_ms=max(times),
    )


def _notes(
    coats: Sequence[r.Coat], batches: Sequence[r.Batch], asked: Sequence[str]
) -> tuple[str, ...]:
    notes = []
    if not coats:
        notes.append("No coat is on record for this piece.")
    gone = len(asked) - len(batches)
    if gone:
        notes.append(f"{gone} batch(es) that coats were sprayed from are no longer on record.")
    if any(c.batch is None for c in coats):
        notes.append("At least one coat names no batch: what was sprayed then is not on record.")
    return tuple(notes)


def _colour(
    words: str,
    at_ms: int,
    lab: r.Lab,
    white: r.White,
    *,
    u95_de00: float | None = None,
    de00: float | None = None,
    tolerance_de00: float | None = None,
) -> Colour:
    point = white_point("d65", 10) if white == "d65-10" else white_point("d50", 2)
    screen = lab_to_srgb(lab, point)
    return Colour(
        words, at_ms, lab, white, screen.hex, screen.in_gamut, u95_de00, de00, tolerance_de00
    )


def _target(target: r.Target) -> Colour:
    return _colour(
        target.name,
        target.made_ms,
        target.lab,
        target.white,
        tolerance_de00=target.tolerance_de00,
    )


def _results(
    reader: Reader, piece_id: str, coats: Sequence[r.Coat], targets: Sequence[r.Target]
) -> tuple[Colour, ...]:
    """Swatches of the piece itself or of one of its coats, oldest first."""
    found = {s.id: s for s in reader.all(r.Swatch, piece=piece_id)}
    for coat in coats:
        found |= {s.id: s for s in reader.all(r.Swatch, coat=coat.id)}
    return tuple(
        _swatch(s, targets) for s in sorted(found.values(), key=lambda s: s.at_ms) if s.lab
    )


def _swatch(swatch: r.Swatch, targets: Sequence[r.Target]) -> Colour:
    assert swatch.lab is not None
    target = next((t for t in targets if t.id == swatch.target), None)
    if target is None and len(targets) == 1 and targets[0].white == swatch.white:
        target = targets[0]
    de00 = swatch.de00
    if de00 is None and target is not None and target.white == swatch.white:
        de00 = float(ciede2000(target.lab, swatch.lab))
    return _colour(
        swatch.note or "swatch",
        swatch.at_ms,
        swatch.lab,
        swatch.white,
        u95_de00=swatch.u95_de00,
        de00=de00,
        tolerance_de00=target.tolerance_de00 if target else None,
    )


def _batch(reader: Reader, batch: r.Batch, targets: Sequence[r.Target]) -> BatchEntry:
    target = next((t for t in targets if t.id == batch.target), None)
    ledger = tuple(
        _line(reader, addition) for addition in reader.all(r.BatchAddition, batch=batch.id)
    )
    swatches = tuple(_swatch(s, targets) for s in reader.all(r.Swatch, batch=batch.id) if s.lab)
    return BatchEntry(batch.name, batch.made_ms, target.name if target else None, ledger, swatches)


def _line(reader: Reader, addition: r.BatchAddition) -> LedgerLine:
    if addition.paint is not None:
        paint = reader.get(r.Paint, addition.paint)
        what = paint.name if paint else addition.paint
    elif addition.reducer is not None:
        reducer = reader.get(r.Reducer, addition.reducer)
        what = f"{reducer.name if reducer else addition.reducer} (reducer)"
    else:  # an efflux time: it pours nothing, its note says what was done
        return LedgerLine(addition.at_ms, addition.note or "note", "", "")
    return LedgerLine(addition.at_ms, what, _amount(addition), addition.note)


def _amount(addition: r.BatchAddition) -> str:
    """What was entered, in its own unit."""
    if addition.drops is not None:
        return f"{addition.drops} drops"
    if addition.grams is not None:
        return f"{addition.grams:g} g"
    return f"{addition.ml or 0:g} mL"


def _coat(
    reader: Reader,
    coat: r.Coat,
    parts: Sequence[r.Part],
    findings: Sequence[r.Finding],
    history: BenchHistory | None,
) -> CoatEntry:
    conditions = conditions_on_record(reader, coat)
    facts = history.coat(coat.id) if history else None
    batch = reader.get(r.Batch, coat.batch) if coat.batch else None
    flags = conditions.flags if conditions else ()
    named = [find_defect(f.defect) for f in findings if f.coat == coat.id]
    return CoatEntry(
        coat=coat,
        batch=batch.name if batch else coat.batch,
        part=next((p.name for p in parts if p.id == coat.part), None),
        conditions=conditions,
        traces=traces_of(reader, coat, history),
        settings=(
            *_equipment(reader, coat),
            *(f"{name.replace('_', ' ')} {v}" for name, v in coat.settings.items()),
        ),
        flags=tuple(f"{f.key.replace('_', ' ')} ({f.level}) {f.minutes:.1f} min" for f in flags),
        findings=tuple(dict.fromkeys(d.name for d in named if d)),
        notes=facts.notes if facts else (),
    )


def _equipment(reader: Reader, coat: r.Coat) -> tuple[str, ...]:
    """Airbrush and booth as they were set then."""
    said = []
    brush = reader.get(r.Airbrush, coat.airbrush) if coat.airbrush else None
    if brush is not None:
        figures = (
            (brush.nozzle_mm, "nozzle {:g} mm", 1.0),
            (brush.pressure_pa, "{:g} bar", 1e-5),
            (brush.distance_mm, "{:g} mm away", 1.0),
        )
        known = [words.format(v * factor) for v, words, factor in figures if v is not None]
        said.append(
            " ".join([f"airbrush {brush.name}", *([f"({', '.join(known)})"] if known else ())])
        )
    booth = reader.get(r.Booth, coat.booth) if coat.booth else None
    if booth is not None:
        said.append(f"booth {booth.name}")
    return tuple(said)


def _findings(
    reader: Reader,
    piece_id: str,
    parts: Sequence[r.Part],
    findings: Sequence[r.Finding],
    history: BenchHistory | None,
) -> tuple[FindingEntry, ...]:
    if not findings:
        return ()
    answer = review_piece(reader, piece_id, known=history)
    reviews = {
        review["finding"]["id"]: review
        for review in (answer, *answer.get("reviews", []))
        if review["finding"]
    }
    return tuple(_finding(reader, f, parts, reviews.get(f.id)) for f in findings)


def _finding(
    reader: Reader, finding: r.Finding, parts: Sequence[r.Part], review: Json | None
) -> FindingEntry:
    defect = find_defect(finding.defect)
    return FindingEntry(
        finding=finding,
        name=defect.name if defect else finding.defect,
        part=next((p.name for p in parts if p.id == finding.part), None),
        description=defect.description if defect else "",
        drawing_key=defect.key if defect else None,
        photo=reader.get(r.Photo, finding.photo) if finding.photo else None,
        review=review,
    )


def _acknowledged(
    reader: Reader, bench: str, coats: Sequence[r.Coat]
) -> tuple[tuple[r.CautionsAcknowledged, ...], tuple[str, ...]]:
    """Who read the cautions on the evenings of the coats, and the evenings on which nobody did."""
    found: list[r.CautionsAcknowledged] = []
    missing = []
    for evening in dict.fromkeys(evening_of(c.start_ms) for c in coats):
        signed = reader.all(r.CautionsAcknowledged, bench=bench, evening=evening)
        found += signed
        if not signed:
            missing.append(evening)
    return tuple(found), tuple(missing)
