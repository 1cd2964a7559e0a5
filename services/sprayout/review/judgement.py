"""What a review says: frozen values, the words made elsewhere."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from sprayout.review.cause import Cause
from sprayout.review.exact import Harm, Rate

Verdict = Literal["explained", "little evidence", "unexplained", "no finding", "no conditions"]
Level = Literal["likely", "possible", "slight", "not indicated"]


@dataclass(frozen=True, slots=True)
class Evidence:
    """One quantity of this coat beside the owner's good coats.

    ``usual_low`` and ``usual_high`` hold nine in ten of the usual values (all of them where there
    are under 20).  ``effect`` is the distance from their median in their standard deviations,
    positive on the harmful side; ``p`` the exact chance of so extreme a value among good coats.
    """

    quantity: str
    channel: str
    unit: str
    harm: Harm
    this: float
    usual_low: float | None
    usual_high: float | None
    n_usual: int
    percentile: float | None
    effect: float | None
    p: float | None
    limit: float | None
    beyond_limit: bool


@dataclass(frozen=True, slots=True)
class Track:
    """The owner's other coats at least this extreme and the rest: how many showed the finding."""

    exposed: Rate
    other: Rate
    p: float


@dataclass(frozen=True, slots=True)
class Ranked:
    """One cause that could be judged; ``score`` is its posterior share of the blame."""

    cause: Cause
    score: float
    evidence: tuple[Evidence, ...]
    track: Track | None

    @property
    def level(self) -> Level:
        if self.score >= 0.5:
            return "likely"
        if self.score >= 0.2:
            return "possible"
        return "slight" if self.score >= 0.05 else "not indicated"


@dataclass(frozen=True, slots=True)
class NotJudged:
    """One cause that cannot be judged: what was not on record; ``score`` is what it may be."""

    cause: Cause
    score: float
    why: str


@dataclass(frozen=True, slots=True)
class Compared:
    """What the coat was compared with."""

    family: str | None
    own_family: bool
    n_good: int
    n_bad: int
    n_same_finding: int


@dataclass(frozen=True, slots=True)
class Judgement:
    """Everything said on one finding of one coat."""

    coat: str
    defect: str
    verdict: Verdict
    confidence: float
    unexplained: float
    ranked: tuple[Ranked, ...]
    unknown: tuple[NotJudged, ...]
    beside_point: tuple[Cause, ...]
    compared: Compared
    different: tuple[Evidence, ...]
    notes: tuple[str, ...]
