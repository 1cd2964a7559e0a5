"""All coats together: what goes with which finding, colour drift, evenings, a good evening.  Pure.

Many conditions are tried against many findings, so every p is adjusted for the false discovery
rate (Benjamini and Hochberg).  Going together is not causing: weather moves several at once.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

import numpy as np

from sprayout.colour.difference import ciede2000
from sprayout.review.batch_facts import Cup
from sprayout.review.columns import quantile
from sprayout.review.defects import defect_named, find_defect
from sprayout.review.exact import benjamini_hochberg, cliffs_delta, rank_sum_p
from sprayout.review.quantities import BY_KEY, CoatFacts

#: Fewest coats with a finding from which on conditions are tried against it.
FEWEST_BAD = 3
FEWEST_GOOD = 5
FOUND_AT = 0.10
NEW_EVENING_AT_H = 6
#: What a good evening is read from, and which side is the worse one.
EVENING = (
    ("relative_humidity", "high"),
    ("air_temperature", "low"),
    ("margin_to_dew_point", "low"),
    ("film_margin", "low"),
    ("air_speed", "low"),
)


@dataclass(frozen=True, slots=True)
class Association:
    """One condition against one finding over all coats."""

    defect: str
    quantity: str
    p: float
    p_adjusted: float
    effect: float
    n_bad: int
    n_good: int
    bad_median: float
    good_median: float

    @property
    def is_found(self) -> bool:
        """Whether it stands after the adjustment (false discovery rate 10 in 100)."""
        return self.p_adjusted <= FOUND_AT


@dataclass(frozen=True, slots=True)
class BatchColour:
    """One batch of a target: the colour of its last swatch and what it missed."""

    batch: str
    name: str
    at_ms: int
    lab: tuple[float, float, float]
    de00_to_target: float | None
    de00_to_first: float


@dataclass(frozen=True, slots=True)
class Drift:
    """The batches of one target in order, and whether they walk away from the first."""

    target: str
    name: str
    batches: tuple[BatchColour, ...]
    rho: float | None
    p: float | None


@dataclass(frozen=True, slots=True)
class Evening:
    """One evening by its worst margin."""

    date: str
    coats: int
    findings: tuple[str, ...]
    worst_margin_k: float | None
    margin_of: str | None
    worst_rh_pct: float | None


@dataclass(frozen=True, slots=True)
class GoodEvening:
    """What the owner's clean evenings had in common: (quantity, low, high) from ``n`` of them."""

    n_good: int
    n_bad: int
    ranges: tuple[tuple[str, float, float, int], ...]


def associations(coats: Sequence[CoatFacts]) -> tuple[Association, ...]:
    """Every condition against every finding, the surest first."""
    found = []
    for defect in sorted({d for c in coats for d in c.findings if find_defect(d)}):
        bad = [c for c in coats if defect in c.findings]
        good = [c for c in coats if c.is_good]
        found += [a for q in BY_KEY if (a := _association(defect, q, bad, good)) is not None]
    adjusted = benjamini_hochberg([a.p for a in found])
    done = [
        Association(a.defect, a.quantity, a.p, p, a.effect, a.n_bad, a.n_good, a.bad_median,
                    a.good_median)
        for a, p in zip(found, adjusted, strict=True)
    ]  # fmt: skip
    return tuple(sorted(done, key=lambda a: (a.p_adjusted, a.p, a.defect, a.quantity)))


def _association(
    defect: str, quantity: str, bad: Sequence[CoatFacts], good: Sequence[CoatFacts]
) -> Association | None:
    one = np.array([c.values[quantity] for c in bad if quantity in c.values])
    other = np.array([c.values[quantity] for c in good if quantity in c.values])
    if len(one) < FEWEST_BAD or len(other) < FEWEST_GOOD:
        return None
    if float(np.ptp(np.concatenate((one, other)))) == 0.0:
        return None
    return Association(
        defect=defect,
        quantity=quantity,
        p=rank_sum_p(one, other),
        p_adjusted=1.0,
        effect=cliffs_delta(one, other),
        n_bad=len(one),
        n_good=len(other),
        bad_median=float(np.median(one)),
        good_median=float(np.median(other)),
    )


def association_words(a: Association) -> str:
    """One line."""
    quantity = BY_KEY[a.quantity]
    way = "higher" if a.effect > 0 else "lower"
    stands = "goes with" if a.is_found else "may go with (not sure after trying so many)"
    return (
        f"{defect_named(a.defect).name} {stands} {way} {quantity.words}: median "
        f"{a.bad_median:.3g} in {a.n_bad} coats with it, {a.good_median:.3g} in {a.n_good} good "
        f"ones (adjusted p {a.p_adjusted:.2g})"
    )


def drift(cups: Mapping[str, Cup]) -> tuple[Drift, ...]:
    """Batch-to-batch colour of every target with two or more measured batches."""
    of_target: dict[str, list[Cup]] = {}
    for cup in cups.values():
        if cup.target is not None and any(s.lab for s in cup.swatches):
            of_target.setdefault(cup.target.id, []).append(cup)
    return tuple(
        _drift(sorted(held, key=lambda c: c.batch.made_ms))
        for _, held in sorted(of_target.items())
        if len(held) > 1
    )


def _drift(cups: Sequence[Cup]) -> Drift:
    target = cups[0].target
    assert target is not None
    last = [[s for s in cup.swatches if s.lab is not None][-1] for cup in cups]
    labs = [s.lab for s in last if s.lab is not None]
    batches = tuple(
        BatchColour(
            batch=cup.batch.id,
            name=cup.batch.name,
            at_ms=swatch.at_ms,
            lab=lab,
            de00_to_target=swatch.de00,
            de00_to_first=float(ciede2000(labs[0], lab)),
        )
        for cup, swatch, lab in zip(cups, last, labs, strict=True)
    )
    rho, p = _trend([b.de00_to_first for b in batches[1:]])
    return Drift(target.id, target.name, batches, rho, p)


def _trend(values: Sequence[float]) -> tuple[float | None, float | None]:
    """Spearman's rank correlation with the order, p by all or 5,000 orders (exact below 8)."""
    if len(values) < 4:
        return None, None
    x = np.argsort(np.argsort(values)).astype(float)
    order = np.arange(len(x), dtype=float)
    seen = float(np.corrcoef(order, x)[0, 1])
    if len(x) < 8:
        from itertools import permutations

        tried = np.array(list(permutations(x)))
    else:
        chance = np.random.default_rng(len(x))
        tried = chance.permuted(np.tile(x, (5000, 1)), axis=1)
    centred, middle = order - order.mean(), x - x.mean()
    all_rho = (tried - x.mean()) @ centred / np.sqrt((centred**2).sum() * (middle**2).sum())
    return seen, float(np.mean(np.abs(all_rho) >= abs(seen) - 1e-12))


def evening_of(at_ms: int) -> str:
    """The evening's date; a session past midnight (UTC) still belongs to it."""
    moment = datetime.fromtimestamp(at_ms / 1000, UTC) - timedelta(hours=NEW_EVENING_AT_H)
    return moment.date().isoformat()


def calendar(coats: Sequence[CoatFacts]) -> tuple[Evening, ...]:
    """Every evening on which something was sprayed, in order."""
    of_evening: dict[str, list[CoatFacts]] = {}
    for coat in coats:
        of_evening.setdefault(evening_of(coat.at_ms), []).append(coat)
    return tuple(_evening(date, held) for date, held in sorted(of_evening.items()))


def _evening(date: str, coats: Sequence[CoatFacts]) -> Evening:
    margin, of = None, None
    for quantity in ("film_margin", "margin_to_dew_point"):
        known = [c.values[quantity] for c in coats if quantity in c.values]
        if known:
            margin, of = min(known), quantity
            break
    humid = [c.values["relative_humidity"] for c in coats if "relative_humidity" in c.values]
    named = [find_defect(d) for c in coats for d in c.findings]
    return Evening(
        date=date,
        coats=len(coats),
        findings=tuple(dict.fromkeys(d.name for d in named if d)),
        worst_margin_k=margin,
        margin_of=of,
        worst_rh_pct=max(humid) if humid else None,
    )


def good_evening(coats: Sequence[CoatFacts]) -> GoodEvening:
    """The ranges that held nine in ten of the coats of evenings without any finding."""
    of_evening: dict[str, list[CoatFacts]] = {}
    for coat in coats:
        of_evening.setdefault(evening_of(coat.at_ms), []).append(coat)
    clean = [held for held in of_evening.values() if all(c.is_good for c in held)]
    good = [c for held in clean for c in held]
    ranges = []
    for quantity, _ in EVENING:
        rising = np.sort([c.values[quantity] for c in good if quantity in c.values])
        if len(rising) >= FEWEST_GOOD:
            ranges.append((quantity, quantile(rising, 0.05), quantile(rising, 0.95), len(rising)))
    return GoodEvening(len(clean), len(of_evening) - len(clean), tuple(ranges))


def good_evening_words(evening: GoodEvening) -> str:
    """One paragraph; a record of few evenings says so."""
    if evening.n_good < FEWEST_GOOD or not evening.ranges:
        return (
            f"{evening.n_good} evenings without a finding: too few to say what a good one is; "
            "go by the paint's data sheet"
        )
    parts = []
    for quantity, low, high, _ in evening.ranges:
        q = BY_KEY[quantity]
        unit = "°C" if q.unit == "Cel" else q.unit
        parts.append(f"{q.words} {low:.3g} to {high:.3g} {unit}")
    return (
        f"your {evening.n_good} evenings without a finding mostly had {'; '.join(parts)} "
        f"({evening.n_bad} evenings had one). What went well before is no promise: the paint's "
        "data sheet comes first"
    )
