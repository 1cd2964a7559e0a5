"""The levels of a flag, and the scale that turns a measured value into one, with hysteresis."""

from dataclasses import dataclass
from enum import StrEnum


class Level(StrEnum):
    """How grave a stated condition is; *unknown* outranks *note*, for it is never a good sign."""

    NONE = "none"
    NOTE = "note"
    UNKNOWN = "unknown"
    CAUTION = "caution"
    STOP = "stop"

    @property
    def rank(self) -> int:
        """Place in the order of gravity, 0 for *none*."""
        return _RANK[self]


_RANK = {level: rank for rank, level in enumerate(Level)}


@dataclass(frozen=True, slots=True)
class Scale:
    """Thresholds of one measure.

    A level begins where its threshold is passed and ends only when the value has come back by
    ``hysteresis`` beyond it.  ``None`` means that the measure never gives that level.
    """

    hysteresis: float
    note: float | None = None
    caution: float | None = None
    stop: float | None = None
    low_is_bad: bool = False

    def level(self, value: float, standing: Level = Level.NONE) -> Level:
        """Level of ``value``, given the level that already stands."""
        for level, threshold in (
            (Level.STOP, self.stop),
            (Level.CAUTION, self.caution),
            (Level.NOTE, self.note),
        ):
            if threshold is None:
                continue
            slack = self.hysteresis if standing.rank >= level.rank else 0.0
            if self._beyond(value, threshold, slack):
                return level
        return Level.NONE

    def _beyond(self, value: float, threshold: float, slack: float) -> bool:
        if self.low_is_bad:
            return value < threshold + slack
        return value > threshold - slack


# Margin of a film or a surface to the dew point: >= 3 K none, 0..3 K caution, below 0 stop.  The
# 3 K are the usual reading of ISO 8502-4 and ISO 12944-7.
MARGIN_SCALE = Scale(hysteresis=0.5, caution=3.0, stop=0.0, low_is_bad=True)
