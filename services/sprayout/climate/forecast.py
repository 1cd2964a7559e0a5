"""When the margin will be lost or regained, from its own trend, with a range.

The last two hours are reduced to minute medians and taken as a level with a slope that itself
wanders, seen through a probe with noise and slow wander of its own (Gaussian process regression;
Rasmussen & Williams 2006, ch. 2, with the integrated random walk of Wahba's splines, ch. 6.3).
The range, eight times in ten, is that of the regression.

A door opening is an event, not a trend: a change faster than any evening's is left out until the
margin is back, and if it does not come back in 20 minutes it is the new level.
"""

from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]

WINDOW_MIN = 120.0
NEEDED_MIN = 12
STALE_MIN = 3.0
HORIZON_MIN = 180.0
_EVENT_K_MIN = 0.2  # an evening's margin changes by some 0.1 K in a minute at the most
_EVENT_LONGEST_MIN = 20.0
_RANGE_SD = 1.28  # eight times in ten

# What margins of a workshop do, common practice, no source: level and slope hardly known before,
# a slope that changes by half a kelvin an hour within an hour, a probe's wander of 0.13 K over
# 20 minutes and 0.03 K of noise left in a minute's median.
_LEVEL_K, _SLOPE_K_H, _SLOPE_WALK = 5.0, 1.5, 0.5
_WANDER_K, _WANDER_H, _NOISE_K = 0.13, 1.0 / 3.0, 0.03


class Outlook(StrEnum):
    """What the trend says."""

    LOST = "will be lost"
    REGAINED = "will be regained"
    HOLDS = "no change in sight"
    UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True)
class Forecast:
    """Minutes from the last sample until the margin passes the threshold, and their range.

    ``latest_min`` is ``None`` where the slow end of the range never gets there.  ``events`` are
    the minutes ago at which something sudden happened, newest first.
    """

    outlook: Outlook
    minutes: float | None
    earliest_min: float | None
    latest_min: float | None
    slope_k_h: float | None
    events_min_ago: tuple[float, ...]
    words: str


def forecast(time_s: ArrayLike, margin_k: ArrayLike, threshold_k: float = 0.0) -> Forecast:
    """Forecast from samples in time order; NaN margins are gaps.

    ``time_s`` and ``margin_k`` have one shape ``(n,)``; only the last two hours are used.
    """
    minutes, margins, age = _minute_medians(time_s, margin_k)
    if minutes.size == 0 or age > STALE_MIN:
        return _unknown("the last margin is too old")
    calm, events = _without_events(minutes, margins)
    if int(calm.sum()) < NEEDED_MIN:
        return _unknown(f"fewer than {NEEDED_MIN} calm minutes so far", events)
    ahead = _look_ahead(minutes[calm], margins[calm])
    found = _crossing(ahead, threshold_k, events)
    if calm[-1]:
        return found
    sudden = f"; a sudden change {events[0]:.0f} min ago (a door?) is left out, look again"
    return replace(found, words=found.words + sudden)


def _unknown(why: str, events: tuple[float, ...] = ()) -> Forecast:
    return Forecast(Outlook.UNKNOWN, None, None, None, None, events, f"no forecast: {why}")


def _minute_medians(time_s: ArrayLike, margin_k: ArrayLike) -> tuple[Floats, Floats, float]:
    """Minutes before the last sample (≤ 0), their median margin, and the age of the last value."""
    t = np.asarray(time_s, dtype=np.float64) / 60.0
    m = np.asarray(margin_k, dtype=np.float64)
    if t.size == 0:
        return t, m, np.inf
    before = t - t[-1]
    kept = np.isfinite(m) & (before > -WINDOW_MIN)
    if not kept.any():
        return t[:0], m[:0], np.inf
    bins = np.floor(before[kept]).astype(int)
    minutes = np.unique(bins)
    medians = np.array([np.median(m[kept][bins == b]) for b in minutes])
    return minutes + 0.5, medians, float(-before[kept][-1])


def _without_events(
    minutes: Floats, margins: Floats
) -> tuple[NDArray[np.bool_], tuple[float, ...]]:
    """Which minutes are calm, and how many minutes ago events began."""
    calm = np.ones(minutes.size, dtype=bool)
    events: list[float] = []
    step = np.zeros(minutes.size)
    step[1:] = np.diff(margins) / np.maximum(np.diff(minutes), 1.0)
    i = 1
    while i < minutes.size:
        if abs(step[i]) <= _EVENT_K_MIN:
            i += 1
            continue
        end = _event_end(minutes, margins, i)
        calm[i:end] = False
        events.append(float(-minutes[i]))
        i = max(end, i + 1)
    return calm, tuple(reversed(events))


def _event_end(minutes: Floats, margins: Floats, start: int) -> int:
    """First index after ``start`` at which the margin is back where it was, or time is up."""
    before = margins[max(0, start - 5) : start]
    level = float(np.median(before))
    side = np.sign(margins[start] - level)
    for i in range(start + 1, minutes.size):
        if side * (margins[i] - level) <= 0.1:
            return i
        if minutes[i] - minutes[start] > _EVENT_LONGEST_MIN:
            return i
    return minutes.size


@dataclass(frozen=True, slots=True)
class _Ahead:
    """Expected true margin at minutes ahead, with its standard deviation."""

    minutes: Floats
    mean_k: Floats
    sd_k: Floats

    @property
    def slope_k_h(self) -> float:
        """Change over the first half hour, in kelvin an hour."""
        return float(self.mean_k[30] - self.mean_k[0]) * 2.0


def _look_ahead(minutes: Floats, margins: Floats) -> _Ahead:
    """Gaussian regression on the calm minutes; times are counted from the oldest of them."""
    start = float(minutes[0])
    seen = (minutes - start) / 60.0
    ahead_min = np.arange(0.0, HORIZON_MIN + 1.0)
    ahead = (ahead_min - start) / 60.0
    level = float(np.mean(margins))
    gap_h = np.abs(seen[:, None] - seen[None, :])
    probe = _WANDER_K**2 * np.exp(-gap_h / _WANDER_H) + _NOISE_K**2 * np.eye(seen.size)
    gain = np.linalg.solve(_trend(seen, seen) + probe, _trend(seen, ahead)).T
    mean = level + gain @ (margins - level)
    variance = np.diag(_trend(ahead, ahead)) - np.einsum("ij,ji->i", gain, _trend(seen, ahead))
    return _Ahead(ahead_min, mean, np.sqrt(np.maximum(variance, 0.0)))


def _trend(one_h: Floats, other_h: Floats) -> Floats:
    """Covariance of a level, a slope, and a slope that wanders (integrated random walk)."""
    a, b = one_h[:, None], other_h[None, :]
    low = np.minimum(a, b)
    walk = low**3 / 3.0 + np.abs(a - b) * low**2 / 2.0
    return np.asarray(_LEVEL_K**2 + _SLOPE_K_H**2 * a * b + _SLOPE_WALK**2 * walk)


def _crossing(ahead: _Ahead, threshold_k: float, events: tuple[float, ...]) -> Forecast:
    gap = ahead.mean_k - threshold_k
    above = bool(gap[0] >= 0.0)
    toward = gap if above else -gap
    reach = _RANGE_SD * ahead.sd_k
    middle, earliest, latest = (_first(toward + shift) for shift in (0.0, -reach, reach))
    slope = ahead.slope_k_h
    if middle is None:
        words = f"margin {ahead.mean_k[0]:.1f} K, changing by {slope:+.1f} K an hour"
        return Forecast(Outlook.HOLDS, None, earliest, None, slope, events, words)
    outlook = Outlook.LOST if above else Outlook.REGAINED
    until = f"{latest:.0f}" if latest is not None else "many"
    words = f"margin {outlook} in about {middle:.0f} minutes ({earliest:.0f} to {until})"
    return Forecast(outlook, middle, earliest, latest, slope, events, words)


def _first(toward: Floats) -> float | None:
    """First minute, to a fraction, at which the gap is used up; ``None`` within the horizon."""
    used = np.flatnonzero(toward <= 0.0)
    if used.size == 0:
        return None
    i = int(used[0])
    if i == 0:
        return 0.0
    return float(i - 1 + toward[i - 1] / (toward[i - 1] - toward[i]))
