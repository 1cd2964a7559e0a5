"""How far a finding goes, and how several become one.  There is no level of approval."""

from collections.abc import Iterable
from dataclasses import dataclass
from enum import Enum

from sprayout.safety.tables import Source


class Level(Enum):
    """What a finding asks for, mildest first; the value is what a person reads.

    The mildest says only that this tool found nothing; it is not an approval.  What cannot be
    assessed outranks a caution, because what is missing may be the worst of it.
    """

    NOTHING_FOUND = "no reason found to stop"
    CAUTION = "caution"
    CANNOT_ASSESS = "cannot assess"
    STOP = "stop and ventilate"
    REFUSE = "do not spray, get professional help"

    @property
    def rank(self) -> int:
        """0 for the mildest."""
        return list(Level).index(self)

    @property
    def reassuring(self) -> bool:
        """True where a person might take it for a green light."""
        return self is Level.NOTHING_FOUND


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing looked at: its level, the words for it, the figures and where they come from."""

    key: str
    level: Level
    words: str
    figures: tuple[tuple[str, float | None], ...] = ()
    sources: tuple[Source, ...] = ()


def worst(findings: Iterable[Finding]) -> Level:
    """The highest level among the findings; none at all is ``CANNOT_ASSESS``."""
    levels = [finding.level for finding in findings]
    return max(levels, key=lambda level: level.rank, default=Level.CANNOT_ASSESS)
