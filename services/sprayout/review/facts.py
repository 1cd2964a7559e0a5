"""Coats on record as comparable facts.  Pure: records in, :class:`~.quantities.CoatFacts` out.

A value is left out where it is not known; nothing is filled in.  A channel that was silent for
more than half of a coat counts as not read.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from sprayout.journal.records import Coat, Finding
from sprayout.review.air_seen import FindingSeen
from sprayout.review.batch_facts import CalibrationSeen
from sprayout.review.defects import find_defect
from sprayout.review.gathering import BenchRecord, Gathering, Layer
from sprayout.review.quantities import CoatFacts


def facts_of(record: BenchRecord) -> list[CoatFacts]:
    """Every coat, oldest first."""
    coats = sorted(record.coats, key=lambda coat: (coat.start_ms, coat.id))
    found, clouded = _findings(record.findings, _only_coats(coats))
    calibrations = _by_device(record.calibrations)
    beneath: dict[tuple[str, str | None], list[Layer]] = {}
    facts = []
    for coat in coats:
        layers = beneath.setdefault((coat.piece, coat.part), [])
        one = Gathering(record, coat, layers, calibrations)
        one.gather()
        layers.append(Layer(coat, one.family, one.values.get("wet_film_um")))
        facts.append(one.facts(found.get(coat.id, ()), coat.piece in clouded))
    return facts


def _only_coats(coats: Sequence[Coat]) -> dict[str, str]:
    """The coat of every piece that has but one: a finding on the piece is a finding on it."""
    of_piece: dict[str, list[str]] = {}
    for coat in coats:
        of_piece.setdefault(coat.piece, []).append(coat.id)
    return {piece: held[0] for piece, held in of_piece.items() if len(held) == 1}


def _findings(
    findings: Iterable[Finding | FindingSeen], only_coat: Mapping[str, str]
) -> tuple[dict[str, tuple[str, ...]], set[str]]:
    """Defects by coat, and the pieces with a finding that may be of any of their coats."""
    of_coat: dict[str, tuple[str, ...]] = {}
    clouded = set()
    for finding in findings:
        defect = find_defect(finding.defect)
        key = defect.key if defect else finding.defect
        coat = finding.coat or only_coat.get(finding.piece)
        if coat is None:
            clouded.add(finding.piece)
        elif key not in of_coat.get(coat, ()):
            of_coat[coat] = (*of_coat.get(coat, ()), key)
    return of_coat, clouded


def _by_device(calibrations: Iterable[CalibrationSeen]) -> dict[str, list[tuple[int, int]]]:
    """When each board was calibrated and until when that holds, in order of time."""
    found: dict[str, list[tuple[int, int]]] = {}
    for calibration in sorted(calibrations, key=lambda c: c.at_ms):
        spans = found.setdefault(calibration.device, [])
        spans.append((calibration.at_ms, calibration.holds_to_ms))
    return found
