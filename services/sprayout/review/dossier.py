"""All that is on record of one piece, gathered for its report."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from sprayout.colour.difference import ciede2000
from sprayout.colour.lab import lab_to_srgb
from sprayout.colour.tristimulus import white_point
from sprayout.journal import records as r
from sprayout.journal.reader import Reader
from sprayout.journal.strip import StripChannel
from sprayout.review.air_seen import AirSeen
from sprayout.review.columns import Columns
from sprayout.review.defects import find_defect
from sprayout.review.history import (
    BenchHistory,
    conditions_on_record,
    piece_on_record,
    read_history,
)
from sprayout.review.inquiry import review_piece
from sprayout.review.over_time import evening_of
from sprayout.review.review_json import Json
from sprayout.safety.cautions import for_spraying, region_named

#: Channels that a coat's strip shows, with their words and the unit people read.
SHOWN = (
    ("relative_humidity", "humidity", "%RH"),
    ("air_temperature", "air", "°C"),
    ("part_temperature", "part", "°C"),
    ("film_margin", "film over dew point", "K"),
    ("air_speed", "air speed", "m/s"),
)
STRIP_POINTS = 120


@dataclass(frozen=True, slots=True)
class Colour:
    """A colour on record; ``hex`` is the nearest a screen can show, marked where it cannot."""

    words: str
    at_ms: int
    lab: r.Lab
    white: str
    hex: str
    in_gamut: bool
    u95_de00: float | None
    de00: float | None
    tolerance_de00: float | None = None

    @property
    def lab_words(self) -> str:
        """``L* 38.2  a* -4.1  b* -25.8 (D65/10)``."""
        lightness, a, b = self.lab
        white = "D65/10°" if self.white == "d65-10" else "D50/2°"
        return f"L* {lightness:.1f}  a* {a:.1f}  b* {b:.1f} ({white})"


@dataclass(frozen=True, slots=True)
class LedgerLine:
    """One addition to a batch."""

    at_ms: int
    what: str
    amount: str
    note: str


@dataclass(frozen=True, slots=True)
class BatchEntry:
    """One batch: target, ledger, swatches."""

    name: str
    made_ms: int
    target: str | None
    ledger: tuple[LedgerLine, ...]
    swatches: tuple[Colour, ...]


@dataclass(frozen=True, slots=True)
class Trace:
    """One channel of a coat, None for a gap, with the owner's usual range behind it."""

    channel: str
    words: str
    unit: str
    mean: tuple[float | None, ...]
    usual_low: float | None
    usual_high: float | None
    n_usual: int


@dataclass(frozen=True, slots=True)
class CoatEntry:
    """One coat with its conditions."""

    coat: r.Coat
    batch: str | None
    part: str | None
    conditions: r.Conditions | None
    traces: tuple[Trace, ...]
    settings: tuple[str, ...]
    flags: tuple[str, ...]
    findings: tuple[str, ...]
    notes: tuple[str, ...]

    @property
    def minutes(self) -> float | None:
        """How long it took."""
        if self.coat.end_ms is None:
            return None
        return (self.coat.end_ms - self.coat.start_ms) / 60_000


@dataclass(frozen=True, slots=True)
class FindingEntry:
    """One finding with what the review says of it; ``part`` by name."""

    finding: r.Finding
    name: str
    part: str | None
    description: str
    drawing_key: str | None
    photo: r.Photo | None
    review: Json | None


@dataclass(frozen=True, slots=True)
class Dossier:
    """The whole report of a piece, as values."""

    piece: r.Piece
    parts: tuple[r.Part, ...]
    targets: tuple[Colour, ...]
    results: tuple[Colour, ...]
    batches: tuple[BatchEntry, ...]
    coats: tuple[CoatEntry, ...]
    findings: tuple[FindingEntry, ...]
    acknowledged: tuple[r.CautionsAcknowledged, ...]
    unacknowledged: tuple[str, ...]
    notes: tuple[str, ...]
    cautions: tuple[str, ...]
    record_to_ms: int


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
    else:
        reducer = reader.get(r.Reducer, addition.reducer or "")
        what = f"{reducer.name if reducer else addition.reducer} (reducer)"
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


def traces_of(reader: Reader, coat: r.Coat, history: BenchHistory | None) -> tuple[Trace, ...]:
    """The coat's strip, each channel with the owner's usual range."""
    if coat.end_ms is None or coat.end_ms <= coat.start_ms:
        return ()
    names = [name for name, _, _ in SHOWN]
    points = _points(history.record.conditions.get(coat.id) if history else None)
    strip = reader.strip(coat.bench, names, coat.start_ms, coat.end_ms, points=points)
    held: dict[str, StripChannel] = {}
    for channel in strip.channels:
        if channel.channel not in held and any(v is not None for v in channel.mean):
            held[channel.channel] = channel
    facts = history.coat(coat.id) if history else None
    others = [f for f in history.facts if f.coat != coat.id] if history else []
    columns = Columns([facts, *others]) if facts else None
    return tuple(
        _trace(held[name], words, unit, columns) for name, words, unit in SHOWN if name in held
    )


def _points(conditions: r.Conditions | AirSeen | None) -> int:
    """So many that two readings fall into each, lest the pace of the probe look like gaps."""
    shown = {name for name, _, _ in SHOWN}
    counts = [c.n for c in conditions.channels if c.channel in shown and c.n] if conditions else []
    return min(STRIP_POINTS, max(2, min(counts, default=STRIP_POINTS) // 2))


def _trace(channel: StripChannel, words: str, unit: str, columns: Columns | None) -> Trace:
    low = high = None
    count = 0
    if columns is not None:
        rising = columns.usual(channel.channel, str(columns.kinds[0]))
        count = len(rising)
        if count:
            edge = count // 20
            low, high = float(rising[edge]), float(rising[-1 - edge])
    return Trace(channel.channel, words, unit, channel.mean, low, high, count)


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
