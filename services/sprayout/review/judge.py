"""One finding of one coat judged against the owner's other coats, the data sheet and the physics.

A finding written down as one thing may be another that looks like it: the causes of both are
weighed, by how often the one is written for the other (an assumption, ``MISNAMED``).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sprayout.review import blame
from sprayout.review.cause import Cause
from sprayout.review.causes import causes_of
from sprayout.review.columns import Columns
from sprayout.review.comparison import different, evidence_for, track_of
from sprayout.review.defects import DEFECTS, Defect
from sprayout.review.exposure import Exposed, expose
from sprayout.review.judgement import Compared, Judgement, NotJudged, Ranked, Verdict
from sprayout.review.quantities import BY_KEY, CoatFacts

#: Share of findings that are written down under the name of another that looks like it.
MISNAMED = 0.12
#: Coats of the same family from which on the family alone is compared with.
ENOUGH_OF_FAMILY = 20
#: Good coats below which the owner's record is little evidence, whatever stands out.
FEW_GOOD = 8
CAP_FEW = 0.5
#: Newest coats that are looked at: more would slow the answer and tell little.
MOST_COATS = 400
#: Chance that a cause which this coat's record does not tell of strikes, at the least (assumed).
UNKNOWN_STRIKE = 0.02
#: Share that the first cause needs before the record is said to explain a finding.
EXPLAINS = 0.6
#: The model itself may be wrong: no answer is surer than this.
SUREST = 0.97


@dataclass(slots=True)
class _Tally:
    """Intensity of each cause key while defects are added up."""

    cause: Cause
    exposed: Exposed
    intensity: float


def judge(coat: CoatFacts, defect: Defect, history: Sequence[CoatFacts]) -> Judgement:
    """Rank the causes of ``defect`` on ``coat``; ``history`` may hold the coat itself."""
    coats, own_family = _compared(coat, history)
    columns = Columns(coats)
    tallies: dict[str, _Tally] = {}
    leak = 0.0
    for meant, share in _meanings(defect):
        leak += share * _weigh(coat, meant, defect, share, columns, tallies)
    whole = leak + sum(t.intensity for t in tallies.values())
    ranked, unknown, beside = _sorted(coat, columns, tallies, whole, defect)
    n_good = int(columns.good.sum())
    unexplained = leak / whole
    verdict, confidence = _verdict(coat, ranked, unknown, unexplained, n_good)
    return Judgement(
        coat=coat.coat,
        defect=defect.key,
        verdict=verdict,
        confidence=confidence,
        unexplained=unexplained,
        ranked=ranked,
        unknown=unknown,
        beside_point=beside,
        compared=Compared(
            family=coat.family,
            own_family=own_family,
            n_good=n_good,
            n_bad=sum(bool(c.findings) for c in coats if c.coat != coat.coat),
            n_same_finding=sum(defect.key in c.findings for c in coats if c.coat != coat.coat),
        ),
        different=different(coat, columns),
        notes=coat.notes,
    )


def _compared(coat: CoatFacts, history: Sequence[CoatFacts]) -> tuple[list[CoatFacts], bool]:
    """The coat first, then the newest others: of its family where there are enough of those."""
    others = [c for c in history if c.coat != coat.coat]
    family = [c for c in others if c.family == coat.family]
    own = len(family) >= ENOUGH_OF_FAMILY or len(family) == len(others)
    chosen = family if own else others
    return [coat, *sorted(chosen, key=lambda c: -c.at_ms)[:MOST_COATS]], own


def _meanings(defect: Defect) -> list[tuple[Defect, float]]:
    """What a finding of this name may be, with how often each is written so."""
    own = (defect, 1.0 - MISNAMED if defect.taken_for else 1.0)
    alike = [d for d in DEFECTS if defect.key in d.taken_for]
    return [own, *((other, MISNAMED / len(other.taken_for)) for other in alike)]


def _weigh(
    coat: CoatFacts,
    meant: Defect,
    written: Defect,
    share: float,
    columns: Columns,
    tallies: dict[str, _Tally],
) -> float:
    """Add the intensities of one meaning's causes; returns that of what is not recorded."""
    exposed = [expose(cause, columns) for cause in causes_of(meant.key)]
    seen, counts = _outcomes(coat, meant, written, columns.coats)
    judged = [e for e in exposed if e.grid is not None]
    grids = [e.grid for e in judged if e.grid is not None]
    learned = blame.learn([g[:, counts] for g in grids], seen[counts], meant.unseen_rate / 1000.0)
    chances = {
        e.cause.key: float(weights @ grid[:, 0])
        for e, grid, weights in zip(judged, grids, learned.weights, strict=True)
    }
    for e in exposed:
        chance = chances.get(e.cause.key, 0.0)
        if e.applies[0] and not e.known[0]:
            # Good coats say little of what an unread channel may have been on a bad one.
            chance = max(chance, UNKNOWN_STRIKE * e.cause.weight)
        _add(tallies, e, share * float(blame.intensity(chance)))
    return float(blame.intensity(np.array(learned.leak)))


def _outcomes(
    coat: CoatFacts, meant: Defect, written: Defect, coats: Sequence[CoatFacts]
) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Which coats showed ``meant``, and which count: a look-alike's name leaves it open."""
    names = [set(c.findings) for c in coats]
    names[0] = {*coat.findings, written.key}
    seen = np.array([meant.key in n for n in names])
    alike = {*meant.taken_for, *(d.key for d in DEFECTS if meant.key in d.taken_for)}
    counts = np.array([s or not (alike & n) for s, n in zip(seen, names, strict=True)])
    counts &= ~np.array([c.clouded and not c.findings and i > 0 for i, c in enumerate(coats)])
    return seen, counts


def _add(tallies: dict[str, _Tally], exposed: Exposed, intensity: float) -> None:
    known = tallies.get(exposed.cause.key)
    if known is None:
        tallies[exposed.cause.key] = _Tally(exposed.cause, exposed, intensity)
        return
    known.intensity += intensity


def _sorted(
    coat: CoatFacts,
    columns: Columns,
    tallies: dict[str, _Tally],
    whole: float,
    defect: Defect,
) -> tuple[tuple[Ranked, ...], tuple[NotJudged, ...], tuple[Cause, ...]]:
    ranked, unknown, beside = [], [], []
    for tally in tallies.values():
        cause, score = tally.cause, tally.intensity / whole
        if not tally.exposed.applies[0]:
            beside.append(cause)
        elif not tally.exposed.known[0]:
            unknown.append(NotJudged(cause, score, _why(coat, cause)))
        else:
            used = tally.exposed.used
            evidence = evidence_for(coat, cause, used, columns)
            track = track_of(coat, used, evidence[0].harm, defect.key, columns)
            ranked.append(Ranked(cause, score, evidence, track))
    ranked.sort(key=lambda r: -r.score)
    unknown.sort(key=lambda u: -u.score)
    return tuple(ranked), tuple(unknown), tuple(beside)


def _why(coat: CoatFacts, cause: Cause) -> str:
    quantity = BY_KEY[cause.quantity]
    if cause.quantity in coat.values:
        return f"too few of your coats have a {quantity.words} to compare with"
    return f"{quantity.words} was not on record for this coat ({quantity.channel})"


def _verdict(
    coat: CoatFacts,
    ranked: Sequence[Ranked],
    unknown: Sequence[NotJudged],
    unexplained: float,
    n_good: int,
) -> tuple[Verdict, float]:
    top = min(ranked[0].score, SUREST) if ranked else 0.0
    if not coat.values:
        return "no conditions", 0.0
    if n_good < FEW_GOOD:
        return "little evidence", min(top, CAP_FEW)
    if top < EXPLAINS or top <= unexplained:
        return "unexplained", top
    return "explained", top
