"""A judgement in plain words.  Pure."""

from __future__ import annotations

from sprayout.review.defects import Defect, defect_named
from sprayout.review.judgement import Evidence, Judgement, NotJudged, Ranked
from sprayout.review.quantities import BY_KEY

_UNITS = {"Cel": "°C", "1": "", "um": "µm", "Pa": "Pa"}


def amount(value: float, unit: str) -> str:
    """A value with its unit as people write it; air pressure in bar."""
    if unit == "Pa":
        return f"{value / 1e5:.2f} bar"
    shown = (
        f"{value:.0f}"
        if abs(value) >= 100
        else f"{value:.1f}"
        if abs(value) >= 1
        else f"{value:.2f}"
    )
    return f"{shown} {_UNITS.get(unit, unit)}".strip()


def _of_100(share: float) -> str:
    """A share in hundredths, neither nil nor all."""
    hundredths = round(share * 100)
    if hundredths < 1:
        return "fewer than 1 of 100"
    return "over 99 of 100" if hundredths > 99 else f"{hundredths} of 100"


def name_of(evidence: Evidence) -> str:
    """What was measured, in words."""
    known = BY_KEY.get(evidence.quantity)
    return known.words if known else evidence.quantity


def evidence_words(e: Evidence) -> str:
    """One line: this coat's value, the usual range, how unusual that is, and the limit."""
    line = f"{name_of(e)}: {amount(e.this, e.unit)}"
    if e.usual_low is not None and e.usual_high is not None:
        kind = "nine in ten of" if e.n_usual >= 20 else "all"
        line += (
            f"; {kind} your {e.n_usual} good coats {amount(e.usual_low, e.unit)} to "
            f"{amount(e.usual_high, e.unit)}"
        )
    else:
        line += "; no good coat of yours to compare with"
    if e.p is not None and e.effect is not None and e.effect > 0:
        line += f" (as extreme in {_of_100(e.p)})"
    if e.limit is not None:
        side = "beyond" if e.beyond_limit else "within"
        line += f"; {side} the limit of {amount(e.limit, e.unit)}"
    return line


def reasons_for(ranked: Ranked) -> list[str]:
    """What speaks for the cause."""
    found = [
        evidence_words(e)
        for e in ranked.evidence
        if e.beyond_limit or (e.effect is not None and e.effect >= 2.0)
    ]
    track = ranked.track
    if track and track.p <= 0.05 and track.exposed.rate > track.other.rate:
        found.append(
            f"{track.exposed.bad} of your {track.exposed.n} other coats at least this extreme had "
            f"it too, against {track.other.bad} of {track.other.n} (exact p {track.p:.2g})"
        )
    return found


def reasons_against(ranked: Ranked) -> list[str]:
    """What speaks against the cause."""
    found = [
        evidence_words(e)
        for e in ranked.evidence
        if (e is ranked.evidence[0] or e.quantity == ranked.cause.gate)
        and not e.beyond_limit
        and (e.effect is None or e.effect < 1.0)
    ]
    track = ranked.track
    if track and track.exposed.n >= 3 and track.exposed.bad == 0:
        found.append(
            f"none of your {track.exposed.n} other coats at least this extreme had it "
            f"(a rate of up to {track.exposed.high * 100:.0f} in 100 would still fit)"
        )
    return found


def ranked_words(ranked: Ranked) -> str:
    """One line on a cause."""
    return f"{ranked.cause.words}: {ranked.level} ({_of_100(ranked.score)})"


def unknown_words(unknown: NotJudged) -> str:
    """One line on a cause that could not be judged."""
    return f"{unknown.cause.words}: could not be judged, {unknown.why}; not ruled out"


def compared_words(judgement: Judgement) -> str:
    """What the coat was compared with."""
    c = judgement.compared
    family = c.family or "paint of a family not on record"
    whose = family if c.own_family else f"all paints, for want of enough {family}"
    return (
        f"compared with {c.n_good} good coats and {c.n_bad} with a finding ({whose}); "
        f"{c.n_same_finding} other with this finding"
    )


def summary(judgement: Judgement) -> str:
    """The verdict in one paragraph, never surer than the record."""
    defect = defect_named(judgement.defect)
    top = judgement.ranked[0] if judgement.ranked else None
    if judgement.verdict == "no conditions":
        return (
            f"{_name(defect)}: nothing was recorded of this coat, so no cause can be judged and "
            f"none is ruled out. {_unseen(defect)}"
        )
    if judgement.verdict == "explained" and top is not None:
        return (
            f"{_name(defect)}: most likely {top.cause.words} ({_of_100(top.score)} by "
            f"your own record and the table of causes). To change: {top.cause.change}. "
            f"{_open(judgement)}"
        ).strip()
    if judgement.verdict == "little evidence" and top is not None:
        named = (
            f"What stands out most is {top.cause.words}. To change: {top.cause.change}."
            if top.score >= 0.3
            else "Nothing stands out."
        )
        return (
            f"{_name(defect)}: little evidence, only {judgement.compared.n_good} good coats to "
            f"compare with. {named} {_open(judgement)}"
        ).strip()
    hint = f" The nearest is {top.cause.words} ({_of_100(top.score)})." if top else ""
    return (
        f"{_name(defect)}: unexplained. Nothing that was recorded stands out enough.{hint} "
        f"{_unseen(defect)} {_open(judgement)}"
    ).strip()


def _name(defect: Defect) -> str:
    return defect.name[:1].upper() + defect.name[1:]


def _unseen(defect: Defect) -> str:
    return f"No channel records {defect.unseen}: look there too."


def _open(judgement: Judgement) -> str:
    if not judgement.unknown:
        return ""
    named = ", ".join(u.cause.words for u in judgement.unknown[:3])
    more = len(judgement.unknown) - 3
    return f"Could not be judged: {named}{f' and {more} more' if more > 0 else ''}."
