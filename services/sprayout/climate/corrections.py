"""Corrections of humidity probes in force: which check counts when, what it does, when it is due.

A check counts from its own time on, until the probe's next one.  Readings stay as they were read;
only what is derived from them is corrected.
"""

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray

from sprayout.climate.salts import Correction, correction_age_days

Floats = NDArray[np.float64]

DUE_AFTER_DAYS = 365.0
"""A salt check is due again after a year (common practice, no source)."""
OUTSIDE_PCT = 10.0
"""So far beyond the readings it spans a correction is carried on, and said to be."""


def in_force(checks: Sequence[Correction], probe: str, at_ms: int) -> Correction | None:
    """The newest check of a probe at a time, ``None`` where it had none by then."""
    own = [c for c in checks if c.probe == probe and c.at_ms <= at_ms]
    return max(own, key=lambda c: c.at_ms, default=None)


def corrected_pct(
    checks: Sequence[Correction], probe: str, at_ms: ArrayLike, rh_pct: ArrayLike
) -> Floats:
    """Humidity readings of one probe, each by the check that was in force at its time.

    ``at_ms`` and ``rh_pct`` have one shape ``(n,)``; NaN stays NaN, readings before any check stay
    as read.
    """
    times = np.asarray(at_ms, dtype=np.int64)
    values = np.array(rh_pct, dtype=np.float64)
    own = sorted((c for c in checks if c.probe == probe), key=lambda c: c.at_ms)
    for n, check in enumerate(own):
        ends = own[n + 1].at_ms if n + 1 < len(own) else np.iinfo(np.int64).max
        there = (times >= check.at_ms) & (times < ends)
        true = check.offset_pct + check.gain * values[there]
        values[there] = np.clip(true, 0.0, 100.0)
    return values


def is_due(check: Correction, now_ms: int) -> bool:
    """Whether a check is too old to be relied on."""
    return correction_age_days(check, now_ms) > DUE_AFTER_DAYS


def state_words(check: Correction, now_ms: int) -> str:
    """The correction, its age, and whether it is due again."""
    days = max(correction_age_days(check, now_ms), 0.0)
    age = "checked today" if days < 1.0 else f"checked {days:.0f} days ago"
    due = ", due again: check it over a salt" if is_due(check, now_ms) else ""
    return f"{check.words()}; {age}{due}"


def spans(check: Correction, read_pct: float) -> bool:
    """Whether a reading lies in what the check spans, give or take :data:`OUTSIDE_PCT`."""
    return check.low_pct - OUTSIDE_PCT <= read_pct <= check.high_pct + OUTSIDE_PCT
