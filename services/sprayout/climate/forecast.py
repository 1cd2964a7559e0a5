"""When the margin will be lost or regained, from its own trend, with a range.

The last two hours are reduced to minute medians and taken as a level with a slope that itself
wanders, seen through a probe with noise and slow wander of its own (Gaussian process regression;
Rasmussen & Williams 2006, ch. 2, with the integrated random walk of Wahba's splines, ch. 6.3).
The range, eight times in ten, is that of the regression.

A door opening is an event, not a trend: a change faster than any evening's is left out until the
margin is back, and if it does not come back in 20 minutes it is the new level: then the trend
restarts, for what was read before says nothing about where the margin stands now (each stretch has
a level of its own; only the slope of the evening goes on).  While an event lasts, and until there
are enough calm minutes since, the answer is *restarting*, so that no forecast contradicts the
margin that is read.
"""

from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]

WINDOW_MIN = 120.0
NEEDED_MIN = 12
NEEDED_SINCE_MIN = 3
STALE_MIN = 3.0
HORIZON_MIN = 180.0
_EVENT_K_MIN = 0.2  # an evening's margin changes by some 0.1 K in a minute at the most
_EVENT_LONGEST_MIN = 20.0
#: An event is over when the margin is back, or has settled within so much in so many minutes.
_BACK_K, _BACK_K_MIN = 0.1, 0.02
_SETTLED_K, _SETTLED_MIN = 0.15, 4
#: The last reading so far from its trend is an event that no minute's median shows yet.
APART_K = 0.5
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
    RESTARTING = "restarting"
    UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True)
class Forecast:
    """Minutes from the last sample until the margin passes the threshold, and their range.

    ``latest_min`` is ``None`` where the slow end of the range never gets there.  ``events`` are
    the minutes ago at which something sudden happened, newest first.  ``now_k`` is where the
    trend stands now, and ``since_min`` how many minutes ago the stretch it rests on began.
    """

    outlook: Outlook
    minutes: float | None
    earliest_min: float | None
    latest_min: float | None
    slope_k_h: float | None
    events_min_ago: tuple[float, ...]
    words: str
    now_k: float | None = None
    since_min: float | None = None


def forecast(time_s: ArrayLike, margin_k: ArrayLike, threshold_k: float = 0.0) -> Forecast:
    """Forecast from samples in time order; NaN margins are gaps.

    ``time_s`` and ``margin_k`` have one shape ``(n,)``; only the last two hours are used.
    """
    minutes, margins, age = _minute_medians(time_s, margin_k)
    if minutes.size == 0 or age > STALE_MIN:
        return _unknown("the last margin is too old")
    calm, stretch, events = _without_events(minutes, margins)
    since = minutes[calm & (minutes > -events[0])] if events else minutes
    if events and since.size < NEEDED_SINCE_MIN:
        return _restarting(events, int(since.size))
    if int(calm.sum()) < NEEDED_MIN:
        return _unknown(f"fewer than {NEEDED_MIN} calm minutes so far", events)
    ahead = _look_ahead(minutes[calm], margins[calm], stretch[calm])
    if abs(_last(margin_k) - float(ahead.mean_k[0])) > APART_K:
        return _restarting((0.0, *events), 0)
    found = _crossing(ahead, threshold_k, events)
    return replace(found, now_k=float(ahead.mean_k[0]), since_min=_since(minutes, stretch))


def _since(minutes: Floats, stretch: NDArray[np.int_]) -> float:
    return float(-minutes[stretch == stretch[-1]][0]) + 0.5


def _last(margin_k: ArrayLike) -> float:
    margins = np.asarray(margin_k, dtype=np.float64)
    return float(margins[np.isfinite(margins)][-1])


def _restarting(events: tuple[float, ...], since: int) -> Forecast:
    """No forecast across an event: the margin shown counts until there is a trend again."""
    ago = "just now" if events[0] < 1.0 else f"{events[0]:.0f} min ago"
    words = (
        f"no forecast: a sudden change {ago} (a door?) broke the trend; it starts again with "
        f"{NEEDED_SINCE_MIN} calm minutes, {since} so far"
    )
    return Forecast(Outlook.RESTARTING, None, None, None, None, events, words)


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
) -> tuple[NDArray[np.bool_], NDArray[np.int_], tuple[float, ...]]:
    """Which minutes are calm, in which stretch of one level, and when events began.

    The events are in minutes ago, newest first.  One from which the margin came back leaves the
    stretch as it is; one that stays begins another.
    """
    calm = np.ones(minutes.size, dtype=bool)
    stretch = np.zeros(minutes.size, dtype=np.int_)
    events: list[float] = []
    step = np.zeros(minutes.size)
    step[1:] = np.diff(margins) / np.maximum(np.diff(minutes), 1.0)
    i = 1
    while i < minutes.size:
        if abs(step[i]) <= _EVENT_K_MIN:
            i += 1
            continue
        end, back = _event_end(minutes, margins, i)
        calm[i:end] = False
        stretch[i if not back else minutes.size :] += 1
        events.append(float(-minutes[i]))
        i = max(end, i + 1)
    return calm, stretch, tuple(reversed(events))


def _event_end(minutes: Floats, margins: Floats, start: int) -> tuple[int, bool]:
    """First index after ``start`` at which it is over, and whether the margin came back.

    Back is where it was, give or take what an evening changes in that time; over it is too once
    the margin has settled elsewhere, or time is up.
    """
    before = margins[max(0, start - 5) : start]
    level = float(np.median(before))
    side = np.sign(margins[start] - level)
    for i in range(start + 1, minutes.size):
        passed = minutes[i] - minutes[start]
        if side * (margins[i] - level) <= _BACK_K + _BACK_K_MIN * passed:
            return i, True
        settled = i >= start + _SETTLED_MIN and np.ptp(margins[i - _SETTLED_MIN : i + 1])
        if passed > _EVENT_LONGEST_MIN or (settled is not False and settled <= _SETTLED_K):
            return i, False
    return minutes.size, False


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


def _look_ahead(minutes: Floats, margins: Floats, stretch: NDArray[np.int_]) -> _Ahead:
    """Gaussian regression on the calm minutes; times are counted from the oldest of them.

    Each stretch between events has a level of its own; what lies ahead goes on with the last.
    """
    start = float(minutes[0])
    seen = (minutes - start) / 60.0
    ahead_min = np.arange(0.0, HORIZON_MIN + 1.0)
    ahead = (ahead_min - start) / 60.0
    last = np.full(ahead.size, stretch[-1])
    level = float(np.mean(margins))
    gap_h = np.abs(seen[:, None] - seen[None, :])
    probe = _WANDER_K**2 * np.exp(-gap_h / _WANDER_H) + _NOISE_K**2 * np.eye(seen.size)
    own = _trend(seen, seen) + _level(stretch, stretch) + probe
    across = _trend(seen, ahead) + _level(stretch, last)
    gain = np.linalg.solve(own, across).T
    mean = level + gain @ (margins - level)
    variance = np.diag(_trend(ahead, ahead)) + _LEVEL_K**2 - np.einsum("ij,ji->i", gain, across)
    return _Ahead(ahead_min, mean, np.sqrt(np.maximum(variance, 0.0)))


def _level(one: NDArray[np.int_], other: NDArray[np.int_]) -> Floats:
    """Covariance of the levels: shared within a stretch, none across an event."""
    return np.asarray(_LEVEL_K**2 * (one[:, None] == other[None, :]), dtype=np.float64)


def _trend(one_h: Floats, other_h: Floats) -> Floats:
    """Covariance of a slope that wanders (integrated random walk)."""
    a, b = one_h[:, None], other_h[None, :]
    low = np.minimum(a, b)
    walk = low**3 / 3.0 + np.abs(a - b) * low**2 / 2.0
    return np.asarray(_SLOPE_K_H**2 * a * b + _SLOPE_WALK**2 * walk)


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
