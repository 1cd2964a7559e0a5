"""From a store to an answer: the findings of a coat or a piece, each reviewed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from sprayout.journal import records as r
from sprayout.journal.reader import Reader
from sprayout.review.defects import Defect, defect_named, find_defect
from sprayout.review.history import BenchHistory, coat_on_record, piece_on_record, read_history
from sprayout.review.judge import judge
from sprayout.review.judgement import Judgement
from sprayout.review.review_json import Json, review_to_json

#: Findings that can hardly both be true of one place.
CONTRADICT = (
    ("run", "dry_spray"),
    ("run", "poor_hiding"),
    ("poor_hiding", "loss_of_detail"),
    ("dry_spray", "slow_dry"),
)
SEVERITY = {"severe": 3, "plain": 2, "slight": 1}


def review_coat(
    reader: Reader, coat_id: str, defect: str | None = None, known: BenchHistory | None = None
) -> Json:
    """Contract 8 for one coat; ``defect`` asks what would be behind a finding not yet entered.

    ``known`` is the bench's history where it has been read already.
    """
    coat = coat_on_record(reader, coat_id)
    asked = defect_named(defect) if defect else None
    findings = reader.all(r.Finding, piece=coat.piece)
    own = [f for f in findings if f.coat == coat_id]
    history = known or read_history(reader, coat.bench, coat_id)
    notes = _coat_notes(coat, findings)
    if asked is not None:
        found = next((f for f in own if find_defect(f.defect) is asked), None)
        return review_to_json(found, _judged(reader, history, coat_id, asked), notes)
    return _together(reader, history, [(f, [coat_id]) for f in _gravest_first(own)], notes)


def review_piece(
    reader: Reader, piece_id: str, defect: str | None = None, known: BenchHistory | None = None
) -> Json:
    """Contract 8 for the gravest finding of a piece, the others under ``reviews``."""
    piece = piece_on_record(reader, piece_id)
    coats = reader.all(r.Coat, piece=piece_id)
    findings = reader.all(r.Finding, piece=piece_id)
    if not coats:
        note = f"{piece.name} has no coat on record: its findings stand, their causes stay open"
        first = next(iter(_gravest_first(findings)), None)
        return {**review_to_json(first, None, [note]), "words": note, "reviews": []}
    named = {f.coat for f in findings}
    around = next(iter(named)) if len(named) == 1 else None
    history = known or read_history(reader, piece.bench, around)
    notes = _contradictions(findings)
    keys = [coat.id for coat in coats]
    if defect is not None:
        judgement, more = _most_telling(reader, history, keys, defect_named(defect))
        return review_to_json(None, judgement, [*notes, *more])
    asked = [(f, [f.coat] if f.coat else keys) for f in _gravest_first(findings)]
    return _together(reader, history, asked, notes)


def _together(
    reader: Reader,
    history: BenchHistory,
    asked: Sequence[tuple[r.Finding, list[str]]],
    notes: list[str],
) -> Json:
    reviews = [_one(reader, history, finding, keys) for finding, keys in asked]
    if not reviews:
        return {**review_to_json(None, None, notes), "reviews": []}
    first = reviews[0]
    return {**first, "notes": [*notes, *first["notes"]], "reviews": reviews[1:]}


def _one(reader: Reader, history: BenchHistory, finding: r.Finding, keys: list[str]) -> Json:
    defect = find_defect(finding.defect)
    if defect is None:
        note = f"{finding.defect!r} is no finding of our table; name the nearest to have it judged"
        return {**review_to_json(finding, None, [note]), "words": note}
    judgement, notes = _most_telling(reader, history, keys, defect)
    return review_to_json(finding, judgement, notes)


def _most_telling(
    reader: Reader, history: BenchHistory, keys: Sequence[str], defect: Defect
) -> tuple[Judgement, list[str]]:
    """The coat on which most stands out; with several to choose from, the less sure for it."""
    judged = [_judged(reader, history, key, defect) for key in keys]
    best = max(judged, key=lambda j: j.confidence)
    if len(judged) == 1:
        return best, []
    whole = sum(j.confidence for j in judged)
    sure = best.confidence * best.confidence / whole if whole else 0.0
    note = (
        f"the finding names no coat; of the {len(judged)} coats most stands out on the one "
        f"judged here ({best.coat}); the choice among coats is counted in the confidence"
    )
    return replace(best, confidence=sure), [note]


def _judged(reader: Reader, history: BenchHistory, coat_id: str, defect: Defect) -> Judgement:
    facts = history.coat(coat_id)
    assert facts is not None, "the coat was read with its history"
    below_min = _film_below_min(reader, coat_on_record(reader, coat_id))
    if below_min is not None:
        facts = replace(facts, values={**facts.values, "film_below_min": below_min})
    return judge(facts, defect, history.facts)


def _film_below_min(reader: Reader, coat: r.Coat) -> float | None:
    """Minutes of the coat with the film below the dew point; None where no film was worked out."""
    if coat.end_ms is None:
        return None
    read = reader.readings(coat.bench, coat.start_ms, coat.end_ms, channels=["film_margin"])
    if not read:
        return None
    below = sum(reading.value < 0.0 for reading in read)
    return below / len(read) * (coat.end_ms - coat.start_ms) / 60_000


def _gravest_first(findings: Sequence[r.Finding]) -> list[r.Finding]:
    return sorted(findings, key=lambda f: (-SEVERITY.get(f.severity or "plain", 2), -f.at_ms, f.id))


def _coat_notes(coat: r.Coat, findings: Sequence[r.Finding]) -> list[str]:
    notes = _contradictions([f for f in findings if f.coat == coat.id])
    if coat.end_ms is None:
        notes.append("the coat has not been ended; its conditions are not worked out yet")
    loose = [f for f in findings if f.coat is None]
    if loose:
        named = ", ".join(dict.fromkeys(f.defect for f in loose))
        notes.append(f"the piece also has findings that name no coat: {named}; review the piece")
    return notes


def _contradictions(findings: Sequence[r.Finding]) -> list[str]:
    notes = []
    by_place: dict[tuple[str | None, str], set[str]] = {}
    for finding in findings:
        defect = find_defect(finding.defect)
        if defect is not None:
            by_place.setdefault((finding.coat, finding.place), set()).add(defect.key)
    for (_, place), keys in by_place.items():
        for one, other in CONTRADICT:
            if {one, other} <= keys:
                where = f"at {place}" if place else "of one coat"
                names = f"{defect_named(one).name} and {defect_named(other).name}"
                notes.append(
                    f"{names} {where} contradict each other; each is judged by itself, "
                    "say the place of each to keep them apart"
                )
    return notes
