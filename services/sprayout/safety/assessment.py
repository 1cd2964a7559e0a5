"""How far a finding goes, and how several become one.  There is no level of approval."""

from collections.abc import Iterable
from dataclasses import dataclass
from enum import Enum

from sprayout.safety.tables import Source
from sprayout.safety.wording import said


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


#: Headings of the findings, in the order in which they are shown.
TITLES = {
    "product": "What is in the cup",
    "face_velocity": "Air at the booth's face",
    "exhaust": "Where the booth's air goes",
    "fan": "Fan",
    "vapour": "Vapour given off",
    "build_up": "Build-up in the room",
    "near_far": "Near you and in the room",
    "explosive": "Fire: share of the lower explosive limit",
    "breathing_15_min": "Breathing zone, mean over 15 minutes",
    "breathing_8_h": "Breathing zone, mean over 8 hours",
    "idlh": "Immediately dangerous",
    "mist": "Mist",
    "respirator": "Respirator",
    "cartridge": "Cartridge change-out",
    "purge": "Purge after the last coat",
    "sanding": "Sanding",
    "units": "A question on a unit",
}

_FLAG_LEVELS = ("note", "caution", "unknown", "stop", "stop")


def flag_level(level: Level) -> str:
    """The level as the bench's flags name it: note, caution, unknown or stop."""
    return _FLAG_LEVELS[level.rank]


@dataclass(frozen=True, slots=True)
class RowLimit:
    """What a figure is held against; ``at_least`` where it should not be under it."""

    value: float
    unit: str
    words: str
    source: Source
    at_least: bool = False


@dataclass(frozen=True, slots=True)
class Row:
    """One figure for a person: ``None`` is not known, ``limit`` ``None`` that none belongs to it
    or none is known."""

    key: str
    title: str
    value: float | None
    unit: str
    limit: RowLimit | None = None

    @property
    def text(self) -> str:
        """The figure with its unit: ``12.3 ppm``."""
        if self.value is None:
            return "not known"
        return f"{said(self.value)} {self.unit}".strip()

    @property
    def share(self) -> float | None:
        """The figure over its limit; ``None`` where that says nothing."""
        limit = self.limit
        if self.value is None or limit is None or limit.at_least or limit.value <= 0:
            return None
        return self.value / limit.value


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing looked at: its level, the words for it, the figures and where they come from.

    ``assumptions`` are what the figures rest on, ``would_help`` what a person could do.
    """

    key: str
    level: Level
    words: str
    sources: tuple[Source, ...] = ()
    rows: tuple[Row, ...] = ()
    assumptions: tuple[str, ...] = ()
    would_help: tuple[str, ...] = ()

    @property
    def figures(self) -> tuple[tuple[str, float | None], ...]:
        """The rows by key, without their words."""
        return tuple((row.key, row.value) for row in self.rows)


def worst(findings: Iterable[Finding]) -> Level:
    """The highest level among the findings; none at all is ``CANNOT_ASSESS``."""
    levels = [finding.level for finding in findings]
    return max(levels, key=lambda level: level.rank, default=Level.CANNOT_ASSESS)
