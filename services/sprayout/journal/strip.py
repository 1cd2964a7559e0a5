"""The strip chart: channels over a time span in so many points, from the coarsest fit rollup.

Buckets of equal length; mean, low and high of each.  Where raw readings were dropped by the
retention rule, a close view shows their minutes instead.  Times of rollups that are not yet written
(the running minute, hour, day) are filled from the level below, so the newest reading is always
shown.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import chain
from typing import Literal

import numpy as np
import numpy.typing as npt

from sprayout.journal.recent import recent_hours
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
    """Running n, total, low and high, each (points, series), in values."""

    n: Floats
    total: Floats
    low: Floats
    high: Floats

    @staticmethod
    def empty(points: int, series: int) -> Sums:
        shape = (points, series)
        return Sums(
            np.zeros(shape), np.zeros(shape), np.full(shape, np.inf), np.full(shape, -np.inf)
        )

    def add(self, index: npt.NDArray[np.int64], more: Sums) -> None:
        """Add rows, in rising order of their bucket ``index``."""
        first = np.flatnonzero(np.diff(index, prepend=-1))
        at = index[first]
        self.n[at] += np.add.reduceat(more.n, first)
        self.total[at] += np.add.reduceat(more.total, first)
        self.low[at] = np.minimum(self.low[at], np.minimum.reduceat(more.low, first))
        self.high[at] = np.maximum(self.high[at], np.maximum.reduceat(more.high, first))


@dataclass(frozen=True, slots=True)
class RolledUp:
    """Rollup rows in cells: ``start`` (rows,) and (rows, series) each of the rest; NaN is none."""

    start: Floats
    n: Floats
    low: Floats
    high: Floats
    total: Floats

    def rows(self, chosen: npt.NDArray[np.int64] | npt.NDArray[np.bool_]) -> RolledUp:
        return RolledUp(*(x[chosen] for x in (self.start, self.n, self.low, self.high, self.total)))


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
        made += _channels(of_source, _source_sums(connection, source, of_source, level, edges))
    return Strip(tuple(map(int, edges[:-1])), tuple(made), level)


def _source_sums(
    connection: sqlite3.Connection,
    source: int,
    series: list[Series],
    level: Resolution,
    edges: npt.NDArray[np.int64],
) -> Sums:
    """Rolled-up rows where there are some, and below them what is not rolled up yet."""
    sums = Sums.empty(len(edges) - 1, len(series))
    from_ms, to_ms = int(edges[0]), int(edges[-1])
    for name in ("day", "hour", "minute")[("day", "hour", "minute", "raw").index(level) :]:
        length_ms = ROLLUPS[name]
        rows = _rollup_rows(connection, source, series, name, from_ms, edges)
        if rows.start.size:
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
) -> RolledUp:
    """The rollup's rows; many to a bucket are added up by SQLite."""
    length_ms, first_ms, to_ms = ROLLUPS[level], int(edges[0]), int(edges[-1])
    points = len(edges) - 1
    span = (from_ms // length_ms, -(-to_ms // length_ms))
    if span[1] - span[0] > GROUPED * points:
        bucket = f"(start * {length_ms} + {length_ms // 2} - {first_ms}) * {points}"
        order = f"GROUP BY {bucket} / {to_ms - first_ms} ORDER BY 1"
        return _selected(connection, f"{level}_{source}", _columns(series, True), span, order)
    if level == "minute":
        return _minutes(connection, source, series, span)
    return _selected(connection, f"{level}_{source}", _columns(series), span)


def _minutes(
    connection: sqlite3.Connection, source: int, series: list[Series], span: tuple[int, int]
) -> RolledUp:
    """Minute rows: by the hour where the hour is kept so, the rest one by one."""
    first, end = span
    hours, cells = recent_hours(connection, source, series, first // 60, -(-end // 60))
    start = (np.array(hours, np.float64)[:, None] * 60 + np.arange(60)).ravel()
    kept = RolledUp(start, *cells).rows((start >= first) & (start < end))
    table, columns = f"minute_{source}", _columns(series)
    others = [_selected(connection, table, columns, x) for x in _between_hours(span, hours)]
    others = [x for x in others if x.start.size]
    return _in_order([kept, *others]) if others else kept


def _between_hours(span: tuple[int, int], hours: list[int]) -> Iterator[tuple[int, int]]:
    """The stretches of minutes that belong to none of the hours, which are in order."""
    at, end = span
    for hour in hours:
        if hour * 60 > at:
            yield at, hour * 60
        at = hour * 60 + 60
    if at < end:
        yield at, end


def _in_order(parts: list[RolledUp]) -> RolledUp:
    columns = ("start", "n", "low", "high", "total")
    whole = RolledUp(*(np.concatenate([getattr(x, name) for x in parts]) for name in columns))
    return whole.rows(np.argsort(whole.start))


def _columns(series: list[Series], grouped: bool = False) -> str:
    parts = "sum(n{0}), min(low{0}), max(high{0}), sum(total{0})"
    parts = parts if grouped else "n{0}, low{0}, high{0}, total{0}"
    return ", ".join(
        ["min(start)" if grouped else "start", *(parts.format(s.slot) for s in series)]
    )


def _selected(
    connection: sqlite3.Connection,
    table: str,
    columns: str,
    span: tuple[int, int],
    order: str = "ORDER BY start",
) -> RolledUp:
    rows = connection.execute(
        f"SELECT {columns} FROM {table} WHERE start >= ? AND start < ? {order}", span
    ).fetchall()
    cells = _cells(rows, columns.count(",") + 1)
    return RolledUp(cells[:, 0], *(cells[:, 1 + i :: 4] for i in range(4)))


def _cells(rows: list[tuple[object, ...]], width: int) -> Floats:
    """Cells as floats, NaN for NULL; the quick way where there is none."""
    try:
        every = chain.from_iterable(rows)
        return np.fromiter(every, np.float64, len(rows) * width).reshape(-1, width)
    except TypeError:
        return np.array(rows, np.float64)


def _last_start(connection: sqlite3.Connection, source: int, level: str, to_ms: int) -> int:
    row = connection.execute(
        f"SELECT max(start) FROM {level}_{source} WHERE start < ?",
        (-(-to_ms // ROLLUPS[level]),),
    ).fetchone()
    return int(row[0])


def _add_rollup(
    sums: Sums,
    series: list[Series],
    rows: RolledUp,
    length_ms: int,
    edges: npt.NDArray[np.int64],
) -> None:
    middle_ms = rows.start * length_ms + length_ms // 2
    index = np.clip(np.searchsorted(edges, middle_ms, "right") - 1, 0, len(edges) - 2)
    zero, scale = _zero_and_scale(series)
    held = rows.n > 0  # NaN is not
    n = np.where(held, rows.n, 0.0)
    more = Sums(
        n,
        np.where(held, (rows.total + n * zero) / scale, 0.0),
        np.where(held, (rows.low + zero) / scale, np.inf),
        np.where(held, (rows.high + zero) / scale, -np.inf),
    )
    sums.add(index, more)


def _zero_and_scale(series: list[Series]) -> tuple[Floats, Floats]:
    return np.array([s.zero for s in series], float), np.array([s.scale for s in series])


def _raw_rows(
    connection: sqlite3.Connection, source: int, series: list[Series], from_ms: int, to_ms: int
) -> Floats:
    columns = ", ".join(s.scaled_sql(f"c{s.slot}") for s in series)
    rows = connection.execute(
        f"SELECT at_ms, {columns} FROM reading_{source} WHERE at_ms >= ? AND at_ms < ? "
        "ORDER BY at_ms",
        (from_ms, to_ms),
    ).fetchall()
    return _cells(rows, 1 + len(series))


def _add_raw(sums: Sums, series: list[Series], rows: Floats, edges: npt.NDArray[np.int64]) -> None:
    if not rows.size:
        return
    index = np.searchsorted(edges, rows[:, 0], "right") - 1
    zero, scale = _zero_and_scale(series)
    held = np.isfinite(rows[:, 1:])
    value = (rows[:, 1:] + zero) / scale
    more = Sums(
        held.astype(np.float64),
        np.where(held, value, 0.0),
        np.where(held, value, np.inf),
        np.where(held, value, -np.inf),
    )
    sums.add(index, more)


def _add_dropped(
    sums: Sums,
    series: list[Series],
    minutes: RolledUp,
    raw: Floats,
    edges: npt.NDArray[np.int64],
) -> None:
    """Minutes whose raw rows were dropped: shown in every bucket that begins in them."""
    if not minutes.start.size:
        return
    kept = np.unique(raw[:, 0] // MINUTE_MS) if raw.size else np.empty(0)
    dropped = minutes.rows(~np.isin(minutes.start, kept))
    starts = edges[:-1] // MINUTE_MS
    row_of = np.searchsorted(dropped.start, starts)
    inside = row_of < len(dropped.start)
    inside[inside] = dropped.start[row_of[inside]] == starts[inside]
    if inside.any():
        rows = replace(dropped.rows(row_of[inside]), start=edges[:-1][inside].astype(np.float64))
        _add_rollup(sums, series, rows, 1, edges)


def _channels(series: list[Series], x: Sums) -> list[StripChannel]:
    held = x.n > 0
    mean = np.divide(x.total, x.n, out=np.full(held.shape, np.nan), where=held)
    columns = [_with_gaps(held.T, column.T) for column in (mean, x.low, x.high)]
    return [
        StripChannel(s.bench, s.device, s.channel, s.unit, *of_series)
        for s, *of_series in zip(series, *columns, strict=True)
    ]


def _with_gaps(held: npt.NDArray[np.bool_], columns: Floats) -> list[tuple[float | None, ...]]:
    """Each row as a tuple, None where nothing is held or a sum went beyond 1e308."""
    made = []
    for known, column in zip(held & np.isfinite(columns), columns, strict=True):
        values: list[float] = column.tolist()
        whole = bool(known.all())
        made.append(
            tuple(values)
            if whole
            else tuple(v if h else None for h, v in zip(known.tolist(), values, strict=True))
        )
    return made
