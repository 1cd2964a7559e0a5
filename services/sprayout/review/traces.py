"""The strip of a coat, each channel with the owner's usual range behind it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from sprayout.climate.corrections import corrected_pct
from sprayout.climate.salts import Correction
from sprayout.journal import records as r
from sprayout.journal.probe_corrections import counting
from sprayout.journal.reader import Reader
from sprayout.journal.strip import StripChannel
from sprayout.review.air_seen import AirSeen
from sprayout.review.columns import Columns
from sprayout.review.history import BenchHistory

#: Channels that a coat's strip shows, with their words and the unit people read.
SHOWN = (
    ("relative_humidity", "humidity", "%RH"),
    ("air_temperature", "air", "°C"),
    ("part_temperature", "part", "°C"),
    ("film_margin", "film over dew point", "K"),
    ("air_speed", "air speed", "m/s"),
)
STRIP_POINTS = 120


@dataclass(frozen=True, slots=True)
class Trace:
    """One channel of a coat, None for a gap, with the owner's usual range behind it."""

    channel: str
    words: str
    unit: str
    mean: tuple[float | None, ...]
    usual_low: float | None
    usual_high: float | None
    n_usual: int


def traces_of(reader: Reader, coat: r.Coat, history: BenchHistory | None) -> tuple[Trace, ...]:
    """The coat's strip, each channel with the owner's usual range.

    Humidity is corrected by the salt checks in force, as the usual range and the conditions are.
    """
    if coat.end_ms is None or coat.end_ms <= coat.start_ms:
        return ()
    names = [name for name, _, _ in SHOWN]
    points = _points(history.record.conditions.get(coat.id) if history else None)
    strip = reader.strip(coat.bench, names, coat.start_ms, coat.end_ms, points=points)
    checks = counting(reader.all(r.ProbeCheck, bench=coat.bench))
    held: dict[str, StripChannel] = {}
    for channel in strip.channels:
        if channel.channel not in held and any(v is not None for v in channel.mean):
            held[channel.channel] = _corrected(channel, strip.at_ms, checks)
    facts = history.coat(coat.id) if history else None
    others = [f for f in history.facts if f.coat != coat.id] if history else []
    columns = Columns([facts, *others]) if facts else None
    return tuple(
        _trace(held[name], words, unit, columns) for name, words, unit in SHOWN if name in held
    )


def _corrected(
    channel: StripChannel, at_ms: Sequence[int], checks: Sequence[Correction]
) -> StripChannel:
    if channel.channel != "relative_humidity" or not checks:
        return channel
    read = np.array([np.nan if value is None else value for value in channel.mean], np.float64)
    true_pct = corrected_pct(checks, channel.device, at_ms, read)
    return replace(channel, mean=tuple(float(v) if np.isfinite(v) else None for v in true_pct))


def _points(conditions: r.Conditions | AirSeen | None) -> int:
    """So many that two readings fall into each, lest the pace of the probe look like gaps."""
    shown = {name for name, _, _ in SHOWN}
    counts = [c.n for c in conditions.channels if c.channel in shown and c.n] if conditions else []
    return min(STRIP_POINTS, max(2, min(counts, default=STRIP_POINTS) // 2))


def _trace(channel: StripChannel, words: str, unit: str, columns: Columns | None) -> Trace:
    low = high = None
    count = 0
    if columns is not None:
        rising = columns.usual(channel.channel, str(columns.kinds[0]))
        count = len(rising)
        if count:
            edge = count // 20
            low, high = float(rising[edge]), float(rising[-1 - edge])
    return Trace(channel.channel, words, unit, channel.mean, low, high, count)
