"""The conditions of a coat, from the readings and flags of its time.  Pure: arrays in, values out.

Means are over readings, each counting the same; percentiles are linear between order statistics
(numpy's default).  The worst minute is the worst mean over whole minutes counted from the start of
the coat.  A gap is a stretch without a reading longer than three usual intervals, and than 5 s at
least; the stretch from the start to the first reading and from the last to the end counts too.
Dew point and margin are worked out by ``climate.moist_air`` from readings of one device that share
their time, or lie within 5 s of each other.  Humidity counts corrected by the probe's salt check
that was in force at its time (since ``conditions-2``); the readings themselves stay as read.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from sprayout.climate import moist_air
from sprayout.climate.corrections import corrected_pct
from sprayout.climate.salts import Correction
from sprayout.journal.records import ChannelConditions, Coat, Conditions, Flag, FlagMinutes, Gap

FORMULA = "conditions-2"
MINUTE_MS = 60_000
LEAST_GAP_MS = 5_000
USUAL_INTERVALS = 3
TOGETHER_MS = 5_000
DERIVED = "worked out"

Floats = npt.NDArray[np.float64]
Times = npt.NDArray[np.int64]

# Which end of a channel is the worse one when spraying; a channel not named here is worst where it
# is furthest from its mean.  Common practice, no source.
WORSE = {
    "relative_humidity": "high",
    "air_temperature": "low",
    "part_temperature": "low",
    "air_speed": "low",
    "booth_pressure": "high",  # an extracted booth is below the room; towards zero is worse
    "dew_point": "high",
    "margin_to_dew_point": "low",
    "film_margin": "low",
}


# What the colour sensor reports is kept as readings too, but says nothing of the booth.
_COLOUR = re.compile(
    r"(f[1-8]|clear|nir|red|green|blue)(/.*)?|gain|integration_time|full_scale|light"
)


def is_of_the_booth(channel: str) -> bool:
    """Whether a channel belongs to a coat's conditions: all but those of the colour sensor."""
    return _COLOUR.fullmatch(channel) is None


@dataclass(frozen=True, slots=True)
class ChannelReadings:
    """One channel's readings in order of time: ``at_ms`` (n,) and ``value`` (n,) in ``unit``."""

    device: str
    channel: str
    unit: str
    at_ms: Times
    value: Floats


def conditions_of(
    coat: Coat,
    end_ms: int,
    readings: Sequence[ChannelReadings],
    flags: Sequence[Flag] = (),
    *,
    previous_end_ms: int | None = None,
    batch_made_ms: int | None = None,
    corrections: Sequence[Correction] = (),
) -> Conditions:
    """What the booth did from the coat's start to ``end_ms`` (its end, or now for a running coat).

    ``readings`` holds every channel that was to be expected, an empty one where nothing came.
    """
    start_ms = coat.start_ms
    within = [corrected(_between(c, start_ms, end_ms), corrections) for c in readings]
    every = [(c, gaps_of(c, start_ms, end_ms)) for c in (*within, *derived(within))]
    return Conditions(
        bench=coat.bench,
        coat=coat.id,
        from_ms=start_ms,
        to_ms=end_ms,
        formula=FORMULA,
        channels=tuple(_channel(c, gaps, start_ms, end_ms) for c, gaps in every),
        flags=tuple(flag_minutes(flags, start_ms, end_ms)),
        gaps=tuple(g for _, gaps in every[: len(within)] for g in gaps),
        since_previous_coat_min=_minutes_since(previous_end_ms, start_ms),
        batch_age_min=_minutes_since(batch_made_ms, start_ms),
    )


def corrected(c: ChannelReadings, checks: Sequence[Correction]) -> ChannelReadings:
    """A humidity channel by the salt checks in force; any other as it is."""
    if c.channel != "relative_humidity" or c.unit != "%RH" or not len(c.at_ms):
        return c
    return replace(c, value=corrected_pct(checks, c.device, c.at_ms, c.value))


def derived(readings: Sequence[ChannelReadings]) -> list[ChannelReadings]:
    """Dew point (Cel) and margin to it (K) wherever the channels for them are there.

    The margin is that of the part where its temperature is read, else that of the air.
    """
    made = []
    for air in (c for c in readings if c.channel == "air_temperature" and c.unit == "Cel"):
        humidity = _companion(readings, air, "relative_humidity", "%RH")
        if humidity is None:
            continue
        rh_pct = _at(humidity, air.at_ms)
        dew_c = moist_air.dew_point_c(air.value, rh_pct)
        part = _companion(readings, air, "part_temperature", "Cel")
        surface_c = air.value if part is None else _at(part, air.at_ms)
        made.append(_known(air, "dew_point", "Cel", dew_c))
        made.append(_known(air, "margin_to_dew_point", "K", surface_c - dew_c))
    return made


def gaps_of(c: ChannelReadings, from_ms: int, to_ms: int) -> list[Gap]:
    """Stretches without a reading, the ends of the span included."""
    if not len(c.at_ms):
        return [Gap(device=c.device, channel=c.channel, from_ms=from_ms, to_ms=to_ms)]
    times = np.concatenate(([from_ms], c.at_ms, [to_ms]))
    steps = np.diff(times)
    usual_ms = float(np.median(steps[1:-1])) if len(c.at_ms) > 2 else 0.0
    longest_ms = max(LEAST_GAP_MS, USUAL_INTERVALS * usual_ms)
    return [
        Gap(device=c.device, channel=c.channel, from_ms=int(times[i]), to_ms=int(times[i + 1]))
        for i in np.flatnonzero(steps > longest_ms)
    ]


def flag_minutes(flags: Sequence[Flag], from_ms: int, to_ms: int) -> list[FlagMinutes]:
    """Minutes of the span under each flag; the same flag raised twice at once counts once."""
    spans: dict[tuple[str, str], list[tuple[int, int]]] = {}
    for flag in flags:
        start = max(flag.raised_ms, from_ms)
        end = min(to_ms if flag.cleared_ms is None else flag.cleared_ms, to_ms)
        if end > start:
            spans.setdefault((flag.key, flag.level), []).append((start, end))
    return [
        FlagMinutes(key=key, level=level, minutes=_union_ms(of_flag) / MINUTE_MS)
        for (key, level), of_flag in sorted(spans.items())
    ]


def worst_minute(
    c: ChannelReadings, from_ms: int, to_ms: int
) -> tuple[float, int] | tuple[None, None]:
    """``(mean, start_ms)`` of the worst minute, counted from ``from_ms``.

    A remainder under half a minute belongs to the minute before it.
    """
    if not len(c.at_ms):
        return None, None
    minutes = max(1, (to_ms - from_ms + MINUTE_MS // 2) // MINUTE_MS)
    minute = np.minimum((c.at_ms - from_ms) // MINUTE_MS, minutes - 1)
    counts = np.bincount(minute)
    numbers = np.flatnonzero(counts)
    means = np.bincount(minute, weights=c.value)[numbers] / counts[numbers]
    worse = WORSE.get(c.channel)
    badness = {"high": means, "low": -means}.get(worse or "", np.abs(means - c.value.mean()))
    worst = int(np.argmax(badness))
    return float(means[worst]), int(numbers[worst]) * MINUTE_MS + from_ms


def _channel(c: ChannelReadings, gaps: list[Gap], from_ms: int, to_ms: int) -> ChannelConditions:
    value, at_ms = worst_minute(c, from_ms, to_ms)
    ordered = np.sort(c.value)
    return ChannelConditions(
        device=c.device,
        channel=c.channel,
        unit=c.unit,
        n=len(c.value),
        mean=float(np.mean(c.value)) if len(c.value) else None,
        low=float(ordered[0]) if len(ordered) else None,
        high=float(ordered[-1]) if len(ordered) else None,
        p5=_percentile(ordered, 0.05),
        p95=_percentile(ordered, 0.95),
        worst_minute=value,
        worst_ms=at_ms,
        gap_s=sum(g.to_ms - g.from_ms for g in gaps) / 1000,
    )


def _percentile(ordered: Floats, share: float) -> float | None:
    """Linear between order statistics, as ``numpy.percentile`` does by default."""
    if not len(ordered):
        return None
    place = share * (len(ordered) - 1)
    below = int(place)
    above = min(below + 1, len(ordered) - 1)
    return float(ordered[below] + (ordered[above] - ordered[below]) * (place - below))


def _between(c: ChannelReadings, from_ms: int, to_ms: int) -> ChannelReadings:
    first, end = np.searchsorted(c.at_ms, [from_ms, to_ms + 1])
    return ChannelReadings(c.device, c.channel, c.unit, c.at_ms[first:end], c.value[first:end])


def _companion(
    readings: Sequence[ChannelReadings], to: ChannelReadings, channel: str, unit: str
) -> ChannelReadings | None:
    """The channel of the same device, else the only other one that has readings."""
    named = [c for c in readings if c.channel == channel and c.unit == unit and len(c.at_ms)]
    own = [c for c in named if c.device == to.device]
    if own:
        return own[0]
    return named[0] if channel == "part_temperature" and len(named) == 1 else None


def _at(c: ChannelReadings, at_ms: Times) -> Floats:
    """The nearest value of ``c`` for each time, NaN where none lies within ``TOGETHER_MS``."""
    right = np.clip(np.searchsorted(c.at_ms, at_ms), 0, len(c.at_ms) - 1)
    left = np.clip(right - 1, 0, None)
    nearer = np.abs(c.at_ms[left] - at_ms) <= np.abs(c.at_ms[right] - at_ms)
    nearest = np.where(nearer, left, right)
    near = np.abs(c.at_ms[nearest] - at_ms) <= TOGETHER_MS
    return np.where(near, c.value[nearest], np.nan)


def _known(air: ChannelReadings, channel: str, unit: str, value: Floats) -> ChannelReadings:
    known = np.isfinite(value)
    return ChannelReadings(air.device, channel, unit, air.at_ms[known], value[known])


def _union_ms(spans: list[tuple[int, int]]) -> int:
    total, reached = 0, 0
    for start, end in sorted(spans):
        total += max(0, end - max(start, reached))
        reached = max(reached, end)
    return total


def _minutes_since(earlier_ms: int | None, at_ms: int) -> float | None:
    return None if earlier_ms is None else (at_ms - earlier_ms) / MINUTE_MS
