"""The view over all coats as JSON.  Pure."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from sprayout.journal.records_json import format_time
from sprayout.review import over_time
from sprayout.review.batch_facts import Cup
from sprayout.review.quantities import BY_KEY, CoatFacts

Json = dict[str, Any]


def over_time_to_json(coats: Sequence[CoatFacts], cups: Mapping[str, Cup]) -> Json:
    """Associations, drift, the calendar of evenings and what a good one was."""
    tried = over_time.associations(coats)
    evening = over_time.good_evening(coats)
    return {
        "coats": len(coats),
        "with_finding": sum(bool(c.findings) for c in coats),
        "tests": len(tried),
        "adjusted_by": "Benjamini-Hochberg, false discovery rate 0.10",
        "associations": [_association(a) for a in tried if a.p <= 0.05],
        "drift": [_drift(d) for d in over_time.drift(cups)],
        "calendar": [_evening(e) for e in over_time.calendar(coats)],
        "good_evening": {
            "evenings_clean": evening.n_good,
            "evenings_with_finding": evening.n_bad,
            "ranges": [
                {
                    "quantity": quantity,
                    "unit": BY_KEY[quantity].unit,
                    "low": _short(low),
                    "high": _short(high),
                    "n": n,
                }
                for quantity, low, high, n in evening.ranges
            ],
            "words": over_time.good_evening_words(evening),
        },
    }


def _association(a: over_time.Association) -> Json:
    return {
        "defect": a.defect,
        "quantity": a.quantity,
        "channel": BY_KEY[a.quantity].channel,
        "unit": BY_KEY[a.quantity].unit,
        "p": _short(a.p),
        "p_adjusted": _short(a.p_adjusted),
        "found": a.is_found,
        "effect": _short(a.effect),
        "n_bad": a.n_bad,
        "n_good": a.n_good,
        "bad_median": _short(a.bad_median),
        "good_median": _short(a.good_median),
        "words": over_time.association_words(a),
    }


def _drift(d: over_time.Drift) -> Json:
    last = d.batches[-1]
    words = (
        f"{d.name}: {len(d.batches)} batches, the last {last.de00_to_first:.1f} CIEDE2000 from the "
        "first"
    )
    if d.rho is not None and d.p is not None:
        sure = "it drifts" if d.p <= 0.05 and d.rho > 0 else "no drift shown"
        words += f"; {sure} (rank correlation with order {d.rho:.2f}, p {d.p:.2g})"
    else:
        words += "; too few batches to speak of a drift"
    return {
        "target": d.target,
        "name": d.name,
        "rho": _short(d.rho),
        "p": _short(d.p),
        "batches": [
            {
                "batch": b.batch,
                "name": b.name,
                "at": format_time(b.at_ms),
                "lab": [round(v, 2) for v in b.lab],
                "de00_to_target": _short(b.de00_to_target),
                "de00_to_first": _short(b.de00_to_first),
            }
            for b in d.batches
        ],
        "words": words,
    }


def _evening(e: over_time.Evening) -> Json:
    return {
        "evening": e.date,
        "coats": e.coats,
        "findings": list(e.findings),
        "worst_margin_k": _short(e.worst_margin_k),
        "margin_of": e.margin_of,
        "worst_rh_pct": _short(e.worst_rh_pct),
    }


def _short(value: float | None) -> float | None:
    return None if value is None else float(f"{value:.4g}")
