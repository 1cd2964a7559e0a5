"""The strip chart: channels over a time span in so many points, from the coarsest fit rollup.

Buckets of equal length; mean, low and high of each.  Where raw readings were dropped by the
retention rule, a close view shows their minutes instead.  Times of rollups that are not yet written
(the running minute, hour, day) are filled from the level below, so the newest reading is always
shown.
"""

from __future__ import annotations

import sqlite3
from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

from sprayout.journal.sources import ROLLUPS, Series

MINUTE_MS = ROLLUPS["minute"]
GROUPED = 3  # rows a bucket from which adding up in SQLite beats fetching them all
Resolution = Literal["raw", "minute", "hour", "day"]
Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class StripChannel:
    """One channel of a strip: per bucket mean, low and high; None where nothing was read."""

    bench: str
    device: str
    channel: str
    unit: str
    mean: tuple[float | None, ...]
    low: tuple[float | None, ...]
    high: tuple[float | None, ...]


@dataclass(frozen=True, slots=True)
class Strip:
    """Channels over buckets that begin at ``at_ms``; ``resolution`` is the level they rest on."""

    at_ms: tuple[int, ...]
    channels: tuple[StripChannel, ...]
    resolution: Resolution


@dataclass(slots=True)
class Sums:
    """Running n, total, low and high per bucket of one series, in values."""

    n: Floats
    total: Floats
    low: Floats
    high: Floats

    @staticmethod
    def empty(points: int) -> Sums:
        return Sums(
            np.zeros(points), np.zeros(points), np.full(points, np.inf), np.full(points, -np.inf)
        )

    def add(
        self, index: npt.NDArray[np.int64], n: Floats, total: Floats, low: Floats, high: Floats
    ) -> None:
        points = len(self.n)
        self.n += np.bincount(index, n, points)
        self.total += np.bincount(index, total, points)
        np.minimum.at(self.low, index, low)
        np.maximum.at(self.high, index, high)


def resolution_for(from_ms: int, to_ms: int, points: int) -> Resolution:
    """The coarsest level of which every bucket still holds one."""
    bucket_ms = (to_ms - from_ms) / points
    levels: tuple[Resolution, ...] = ("day", "hour", "minute")
    for level in levels:
        if ROLLUPS[level] <= bucket_ms:
            return level
    return "raw"


def strip_of(
    connection: sqlite3.Connection,
    chosen: list[Series],
    from_ms: int,
    to_ms: int,
    points: int,
) -> Strip:
    """The strip of the chosen series over ``from_ms <= at < to_ms``."""
    level = resolution_for(from_ms, to_ms, points)
    edges = np.linspace(from_ms, to_ms, points + 1).round().astype(np.int64)
    made = []
    for source in dict.fromkeys(s.source for s in chosen):
        of_source = [s for s in chosen if s.source == source]
        sums = _source_sums(connection, source, of_source, level, edges)
        made += [_channel(s, x) for s, x in zip(of_source, sums, strict=True)]
    return Strip(tuple(map(int, edges[:-1])), tuple(made), level)


def _source_sums(
    connection: sqlite3.Connection,
    source: int,
    series: list[Series],
    level: Resolution,
    edges: npt.NDArray[np.int64],
) -> list[Sums]:
    """Rolled-up rows where there are some, and below them what is not rolled up yet."""
    sums = [Sums.empty(len(edges) - 1) for _ in series]
    from_ms, to_ms = int(edges[0]), int(edges[-1])
    for name in ("day", "hour", "minute")[("day", "hour", "minute", "raw").index(level) :]:
        length_ms = ROLLUPS[name]
        rows = _rollup_rows(connection, source, series, name, from_ms, edges)
        if rows.size:
            _add_rollup(sums, series, rows, length_ms, edges)
            from_ms = max(from_ms, (_last_start(connection, source, name, to_ms) + 1) * length_ms)
    if from_ms < to_ms:
        raw = _raw_rows(connection, source, series, from_ms, to_ms)
        _add_raw(sums, series, raw, edges)
        if level == "raw":
            minutes = _rollup_rows(connection, source, series, "minute", from_ms, edges)
            _add_dropped(sums, series, minutes, raw, edges)
    return sums


def _rollup_rows(
    connection: sqlite3.Connection,
    source: int,
    series: list[Series],
    level: str,
    from_ms: int,
    edges: npt.NDArray[np.int64],
) -> Floats:
    """Rows ``start, n, total, low, high, n...``; many to a bucket are added up by SQLite."""
    length_ms, first_ms, to_ms = ROLLUPS[level], int(edges[0]), int(edges[-1])
    points = len(edges) - 1
    span = (from_ms // length_ms, -(-to_ms // length_ms))
    if span[1] - span[0] > GROUPED * points:
        parts = "sum(n{0}), sum(total{0}), min(low{0}), max(high{0})"
        start = "min(start)"
        bucket = f"(start * {length_ms} + {length_ms // 2} - {first_ms}) * {points}"
        order = f"GROUP BY {bucket} / {to_ms - first_ms} ORDER BY 1"
    else:
        parts, start, order = "n{0}, total{0}, low{0}, high{0}", "start", "ORDER BY start"
    columns = ", ".join(parts.format(s.slot) for s in series)
    rows = connection.execute(
        f"SELECT {start}, {columns} FROM {level}_{source} WHERE start >= ? AND start < ? {order}",
        span,
    ).fetchall()
    return np.array(rows, np.float64)


def _last_start(connection: sqlite3.Connection, source: int, level: str, to_ms: int) -> int:
    row = connection.execute(
        f"SELECT max(start) FROM {level}_{source} WHERE start < ?",
        (-(-to_ms // ROLLUPS[level]),),
    ).fetchone()
    return int(row[0])


def _add_rollup(
    sums: list[Sums],
    series: list[Series],
    rows: Floats,
    length_ms: int,
    edges: npt.NDArray[np.int64],
) -> None:
    middle_ms = rows[:, 0] * length_ms + length_ms // 2
    index = np.clip(np.searchsorted(edges, middle_ms, "right") - 1, 0, len(edges) - 2)
    for i, (s, x) in enumerate(zip(series, sums, strict=True)):
        n, total, low, high = rows[:, 1 + 4 * i : 5 + 4 * i].T
        held = np.isfinite(n) & (n > 0)
        scale = s.scale
        x.add(
            index[held],
            n[held],
            (total[held] + n[held] * s.zero) / scale,
            (low[held] + s.zero) / scale,
            (high[held] + s.zero) / scale,
        )


def _raw_rows(
    connection: sqlite3.Connection, source: int, series: list[Series], from_ms: int, to_ms: int
) -> Floats:
    columns = ", ".join(s.scaled_sql(f"c{s.slot}") for s in series)
    rows = connection.execute(
        f"SELECT at_ms, {columns} FROM reading_{source} WHERE at_ms >= ? AND at_ms < ?",
        (from_ms, to_ms),
    ).fetchall()
    return np.array(rows, np.float64)


def _add_raw(
    sums: list[Sums], series: list[Series], rows: Floats, edges: npt.NDArray[np.int64]
) -> None:
    if not rows.size:
        return
    index = np.searchsorted(edges, rows[:, 0], "right") - 1
    for s, x, cells in zip(series, sums, rows[:, 1:].T, strict=True):
        held = np.isfinite(cells)
        value = (cells[held] + s.zero) / s.scale
        x.add(index[held], np.ones(len(value)), value, value, value)


def _add_dropped(
    sums: list[Sums],
    series: list[Series],
    minutes: Floats,
    raw: Floats,
    edges: npt.NDArray[np.int64],
) -> None:
    """Minutes whose raw rows were dropped: shown in every bucket that begins in them."""
    if not minutes.size:
        return
    kept = np.unique(raw[:, 0] // MINUTE_MS) if raw.size else np.empty(0)
    dropped = minutes[~np.isin(minutes[:, 0], kept)]
    starts = edges[:-1] // MINUTE_MS
    row_of = np.searchsorted(dropped[:, 0], starts)
    inside = row_of < len(dropped)
    inside[inside] = dropped[row_of[inside], 0] == starts[inside]
    if inside.any():
        rows = dropped[row_of[inside]]
        rows[:, 0] = edges[:-1][inside]
        _add_rollup(sums, series, rows, 1, edges)


def _channel(s: Series, x: Sums) -> StripChannel:
    held = x.n > 0
    mean = np.divide(x.total, x.n, out=np.full(len(held), np.nan), where=held)
    return StripChannel(
        s.bench,
        s.device,
        s.channel,
        s.unit,
        *(_with_gaps(held, column) for column in (mean, x.low, x.high)),
    )


def _with_gaps(held: npt.NDArray[np.bool_], column: Floats) -> tuple[float | None, ...]:
    held = held & np.isfinite(column)  # a sum beyond 1e308 is not a value
    if held.all():
        return tuple(column.tolist())
    return tuple(v if h else None for h, v in zip(held.tolist(), column.tolist(), strict=True))
