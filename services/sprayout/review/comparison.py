"""This coat beside the owner's usual ones: evidence by quantity, and the track record.  Pure."""

from __future__ import annotations

import numpy as np

from sprayout.review.cause import Cause
from sprayout.review.columns import Columns, Floats, quantile, robust_spread
from sprayout.review.exact import (
    Harm,
    beta_rate,
    fisher_p,
    holm,
    percentile,
    rank_p,
)
from sprayout.review.judgement import Evidence, Track
from sprayout.review.quantities import BY_KEY, CoatFacts

ENOUGH_FOR_PERCENTILES = 20
#: Family-wise error rate at which a quantity that no cause names is shown as different.
DIFFERENT_AT = 0.05


def evidence_for(
    coat: CoatFacts, cause: Cause, used: str, columns: Columns
) -> tuple[Evidence, ...]:
    """The quantity the cause was judged by first, then what is shown beside it."""
    ways = {cause.quantity: (cause.harm, cause.limit)}
    ways |= {quantity: (harm, limit) for quantity, harm, limit, _ in cause.instead}
    found = []
    for quantity in dict.fromkeys((used, cause.quantity, *ways, *cause.shown)):
        if quantity in coat.values:
            harm, limit = ways.get(quantity, (_harm_of(quantity, cause.harm), None))
            sheet = cause.sheet if quantity == cause.quantity else None
            found.append(evidence(coat, quantity, harm, _limit(coat, sheet, limit), columns))
    return tuple(found)


def _harm_of(quantity: str, otherwise: Harm) -> Harm:
    low = {"film_margin", "margin_to_dew_point", "part_minus_air"}
    return "low" if quantity in low else "high" if quantity.endswith("_min") else otherwise


def _limit(coat: CoatFacts, sheet: str | None, ours: float | None) -> float | None:
    stated = getattr(coat.sheet, sheet) if sheet and coat.sheet else None
    return ours if stated is None else float(stated)


def evidence(
    coat: CoatFacts,
    quantity: str,
    harm: Harm,
    limit: float | None,
    columns: Columns,
) -> Evidence:
    """One quantity of the coat beside the good coats."""
    usual = columns.usual(quantity, coat.kind)
    return _evidence(coat.values[quantity], quantity, harm, limit, usual)


def _evidence(
    this: float, quantity: str, harm: Harm, limit: float | None, usual: Floats
) -> Evidence:
    known = BY_KEY.get(quantity)
    low, high = _span(usual)
    effect = None
    if len(usual) >= 3:
        floor = known.floor if known else max(1e-9, 0.02 * abs(quantile(usual, 0.5)))
        step = (this - quantile(usual, 0.5)) / robust_spread(usual, floor)
        effect = step if harm == "high" else -step
    beyond = limit is not None and (this > limit if harm == "high" else this < limit)
    return Evidence(
        quantity=quantity,
        channel=known.channel if known else quantity,
        unit=known.unit if known else "",
        harm=harm,
        this=this,
        usual_low=low,
        usual_high=high,
        n_usual=len(usual),
        percentile=percentile(this, usual) if len(usual) else None,
        effect=effect,
        p=rank_p(this, usual, harm) if len(usual) else None,
        limit=limit,
        beyond_limit=beyond,
    )


def _span(usual: Floats) -> tuple[float | None, float | None]:
    if not len(usual):
        return None, None
    if len(usual) < ENOUGH_FOR_PERCENTILES:
        return float(usual[0]), float(usual[-1])
    return quantile(usual, 0.05), quantile(usual, 0.95)


def track_of(
    coat: CoatFacts, quantity: str, harm: Harm, defect: str, columns: Columns
) -> Track | None:
    """The other coats at least this extreme, and how many of them showed the finding."""
    values = columns.of(quantity)
    counts = np.isfinite(values) & np.array([not c.clouded for c in columns.coats])
    counts[0] = False
    if not counts.any():
        return None
    bad = np.array([defect in c.findings for c in columns.coats])[counts]
    this, values = coat.values[quantity], values[counts]
    exposed = values >= this if harm == "high" else values <= this
    a, b = int((exposed & bad).sum()), int((exposed & ~bad).sum())
    c, d = int((~exposed & bad).sum()), int((~exposed & ~bad).sum())
    return Track(beta_rate(a, a + b), beta_rate(c, c + d), fisher_p(a, b, c, d))


def different(coat: CoatFacts, columns: Columns) -> tuple[Evidence, ...]:
    """Everything recorded that is unlike the good coats (Holm over all of it), cause or not."""
    found = []
    for quantity, this in {**coat.other, **coat.values}.items():
        usual = columns.usual(quantity, coat.kind)
        if len(usual) >= ENOUGH_FOR_PERCENTILES:
            harm: Harm = "high" if this > quantile(usual, 0.5) else "low"
            found.append(_evidence(this, quantity, harm, None, usual))
    adjusted = holm([min(1.0, 2.0 * (e.p or 1.0)) for e in found])
    far = [e for e, p in zip(found, adjusted, strict=True) if p <= DIFFERENT_AT or _far(e)]
    return tuple(sorted(far, key=lambda e: -(e.effect or 0.0)))


def _far(e: Evidence) -> bool:
    """Outside all good coats and more than four of their standard deviations off.

    With n coats an exact p cannot go below 1/(n + 1); so few coats could never show anything.
    """
    return e.p is not None and e.p * (e.n_usual + 1) < 1.5 and (e.effect or 0.0) > 4.0
