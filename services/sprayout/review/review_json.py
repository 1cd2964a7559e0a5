"""Contract 8: a judgement as JSON, shared by the command and the page.  Pure."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from sprayout.journal.records import Finding
from sprayout.journal.records_json import format_time
from sprayout.review import words
from sprayout.review.defects import DEFECTS, Defect, find_defect
from sprayout.review.drawings import drawing
from sprayout.review.exact import Rate
from sprayout.review.judgement import Evidence, Judgement, NotJudged, Ranked, Track
from sprayout.safety.cautions import for_spraying

Json = dict[str, Any]


def finding_to_json(finding: Finding) -> Json:
    """The finding as the review names it."""
    defect = find_defect(finding.defect)
    return {
        "id": finding.id,
        "defect": defect.key if defect else finding.defect,
        "name": defect.name if defect else finding.defect,
        "severity": finding.severity,
        "place": finding.place,
        "note": finding.note,
        "photo": finding.photo,
        "person": finding.person,
        "at": format_time(finding.at_ms),
        "piece": finding.piece,
        "part": finding.part,
        "coat": finding.coat,
    }


def review_to_json(
    finding: Finding | None, judgement: Judgement | None, notes: Iterable[str]
) -> Json:
    """Contract 8, with more keys beside its three."""
    return {
        "finding": finding_to_json(finding) if finding else None,
        **(_judgement(judgement) if judgement else _nothing()),
        "notes": [*notes, *(judgement.notes if judgement else ())],
    }


def with_cautions(document: Json, region: str = "us") -> Json:
    """The document with the cautions that stand on everything about spraying."""
    return {**document, "cautions": [caution.words for caution in for_spraying(region)]}


def _nothing() -> Json:
    return {
        "ranked": [],
        "unknown": [],
        "verdict": "no finding",
        "confidence": 0.0,
        "unexplained": None,
        "words": "no finding to review; enter what you see first",
        "also_different": [],
    }


def _judgement(judgement: Judgement) -> Json:
    compared = judgement.compared
    return {
        "ranked": [_ranked(ranked) for ranked in judgement.ranked],
        "unknown": [_unknown(unknown) for unknown in judgement.unknown],
        "does_not_apply": [cause.words for cause in judgement.beside_point],
        "verdict": judgement.verdict,
        "confidence": _short(judgement.confidence),
        "unexplained": _short(judgement.unexplained),
        "words": words.summary(judgement),
        "coat": judgement.coat,
        "compared_with": {
            "family": compared.family,
            "own_family": compared.own_family,
            "n_good": compared.n_good,
            "n_bad": compared.n_bad,
            "n_same_finding": compared.n_same_finding,
            "words": words.compared_words(judgement),
        },
        "also_different": [_evidence(e) for e in judgement.different],
    }


def _ranked(ranked: Ranked) -> Json:
    cause = ranked.cause
    return {
        "cause": cause.words,
        "key": cause.key,
        "score": _short(ranked.score),
        "level": ranked.level,
        "words": words.ranked_words(ranked),
        "evidence": [_evidence(e) for e in ranked.evidence],
        "for": words.reasons_for(ranked),
        "against": words.reasons_against(ranked),
        "change": cause.change,
        "source": cause.source,
        "record": _track(ranked.track),
    }


def _unknown(unknown: NotJudged) -> Json:
    channel = unknown.why.rpartition("(")[2].rstrip(")") if "(" in unknown.why else None
    return {
        "cause": unknown.cause.words,
        "key": unknown.cause.key,
        "channel": channel,
        "score": _short(unknown.score),
        "words": words.unknown_words(unknown),
    }


def _evidence(e: Evidence) -> Json:
    return {
        "channel": e.channel,
        "quantity": e.quantity,
        "unit": e.unit,
        "this": _short(e.this),
        "usual_low": _short(e.usual_low),
        "usual_high": _short(e.usual_high),
        "n_usual": e.n_usual,
        "percentile": _short(e.percentile),
        "effect": _short(e.effect),
        "p": _short(e.p),
        "limit": e.limit,
        "beyond_limit": e.beyond_limit,
        "words": words.evidence_words(e),
    }


def _track(track: Track | None) -> Json | None:
    if track is None:
        return None
    return {
        "as_extreme": _rate(track.exposed),
        "less_extreme": _rate(track.other),
        "p_fisher": _short(track.p),
    }


def _rate(rate: Rate) -> Json:
    return {
        "coats": rate.n,
        "with_finding": rate.bad,
        "rate": _short(rate.rate),
        "low": _short(rate.low),
        "high": _short(rate.high),
        "prior": "Beta(0.5, 0.5)",
    }


def _short(value: float | None) -> float | None:
    """Four significant digits: no sensor here is truer."""
    return None if value is None else float(f"{value:.4g}")


def defects_to_json() -> list[Json]:
    """The table of findings for a form, each with its drawing."""
    return [defect_to_json(defect) for defect in DEFECTS]


def defect_to_json(defect: Defect) -> Json:
    """One finding's entry."""
    return {
        "key": defect.key,
        "name": defect.name,
        "description": defect.description,
        "drawing": drawing(defect.key),
        "looks_like": list(defect.taken_for),
        "unseen": defect.unseen,
    }
