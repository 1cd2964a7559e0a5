"""Readings into their sources, and the rollups they touch, inside the writer's transaction.

A minute is rolled up as soon as a reading of a later minute of its source arrives, an hour and a
day likewise; until then its raw rows are at hand and readers use those.  A late reading rolls its
minute, hour and day again from what lies below.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Sequence

from sprayout.journal.records import Reading
from sprayout.journal.sources import ROLLUPS, Cell, Series, SourceMap

Rows = dict[int, list[Cell]]


MINUTE_MS = ROLLUPS["minute"]


def write_readings(sources: SourceMap, readings: Sequence[Reading]) -> dict[str, int]:
    """Keep a batch; a reading that is there already changes nothing.

    Returns the earliest time of a reading per bench.
    """
    rows, repeats = sorted_into_rows(sources, readings)
    sources.make_tables()
    earliest: dict[str, int] = {}
    for source, by_time in rows.items():
        first_ms = min(by_time)
        repeats += _write_rows(sources, source, by_time, first_ms)
        bench = sources.of_source[source][0].bench
        earliest[bench] = min(first_ms, earliest.get(bench, first_ms))
    _keep_repeats(sources.connection, repeats)
    return earliest


def _write_rows(sources: SourceMap, source: int, by_time: Rows, first_ms: int) -> list[Repeat]:
    before_ms, fresh = sources.newest_ms[source], by_time
    repeats: list[Repeat] = []
    if first_ms <= before_ms:
        late = {at: cells for at, cells in by_time.items() if at <= before_ms}
        fresh = {at: cells for at, cells in by_time.items() if at > before_ms}
        for at_ms, cells in late.items():
            repeats += _fill(sources, source, at_ms, cells)
    if fresh:
        rows = _padded(fresh, len(sources.of_source[source]))
        marks = ", ".join("?" * len(rows[0]))
        sources.connection.executemany(f"INSERT INTO reading_{source} VALUES ({marks})", rows)
        sources.newest_ms[source] = max(fresh)
    begun_ms = min(first_ms, before_ms) if before_ms >= 0 else first_ms
    if begun_ms // MINUTE_MS < sources.newest_ms[source] // MINUTE_MS:
        _roll_up(sources, source, by_time, before_ms)
    return repeats


Repeat = tuple[int, int, float]  # series, at_ms, value


def sorted_into_rows(
    sources: SourceMap, readings: Iterable[Reading]
) -> tuple[dict[int, Rows], list[Repeat]]:
    """``{source: {at_ms: cells}}`` and the readings that differ from another at their very time."""
    rows: dict[int, Rows] = {}
    repeats: list[Repeat] = []
    known, before = sources.series, None
    for reading in readings:
        key = (reading.bench, reading.device, reading.channel, reading.unit)
        series = known.get(key) or sources.new_series(reading, before)
        before = (reading.bench, reading.device, reading.at_ms, series.source)
        cell = series.encode(reading.value)
        if cell.__class__ is float:
            series, cell = _widened(sources, rows, series, reading.value)
        slot, at_ms = series.slot, reading.at_ms
        by_time = rows.get(series.source)
        if by_time is None:
            by_time = rows[series.source] = {}
        cells = by_time.get(at_ms)
        if cells is None:
            cells = by_time[at_ms] = [None] * len(sources.of_source[series.source])
        elif len(cells) <= slot:
            cells += [None] * (slot + 1 - len(cells))
        if cells[slot] is None:
            cells[slot] = cell
        elif cells[slot] != cell:
            repeats.append((series.id, at_ms, reading.value))
    return rows, repeats


def _widened(
    sources: SourceMap, rows: dict[int, Rows], series: Series, value: float
) -> tuple[Series, int | float]:
    wider = sources.widen(series, value)
    if wider is not series:
        _rescale_rows(rows, series, wider)
    return wider, wider.encode(value)


def _rescale_rows(rows: dict[int, Rows], old: Series, new: Series) -> None:
    for cells in rows.get(old.source, {}).values():
        if len(cells) > old.slot:
            cell = cells[old.slot]
            if cell is not None:
                cells[old.slot] = new.encode(old.decode(cell))


def _padded(by_time: Rows, width: int) -> list[list[Cell]]:
    return [[at, *by_time[at], *([None] * (width - len(by_time[at])))] for at in sorted(by_time)]


def _fill(sources: SourceMap, source: int, at_ms: int, cells: list[Cell]) -> list[Repeat]:
    """A late row: new cells are filled in, equal ones skipped, different ones kept as repeats."""
    connection = sources.connection
    series = sources.of_source[source]
    held = connection.execute(
        f"SELECT * FROM reading_{source} WHERE at_ms = ?", (at_ms,)
    ).fetchone()
    if held is None:
        padded = _padded({at_ms: cells}, len(series))[0]
        marks = ", ".join("?" * len(padded))
        connection.execute(f"INSERT INTO reading_{source} VALUES ({marks})", padded)
        return []
    repeats = []
    for s, cell in zip(series, cells, strict=False):
        if cell is None or held[s.slot + 1] == cell:
            continue
        if held[s.slot + 1] is None:
            connection.execute(
                f"UPDATE reading_{source} SET c{s.slot} = ? WHERE at_ms = ?", (cell, at_ms)
            )
        else:
            repeats.append((s.id, at_ms, s.decode(cell)))
    return repeats


def _keep_repeats(connection: sqlite3.Connection, repeats: list[Repeat]) -> None:
    if repeats:
        connection.executemany("INSERT OR IGNORE INTO repeat VALUES (?, ?, ?)", repeats)


def _roll_up(sources: SourceMap, source: int, by_time: Iterable[int], before_ms: int) -> None:
    """Roll every touched minute, hour and day that is over, and those that ended just now."""
    newest_ms = sources.newest_ms[source]
    below = "reading"
    for level, length_ms in ROLLUPS.items():
        touched = {at // length_ms for at in by_time}
        if before_ms >= 0:
            touched.add(before_ms // length_ms)
        over = sorted(t for t in touched if t < newest_ms // length_ms)
        if not over:
            return
        for first, last in _runs(over):
            roll_up(sources, source, level, below, first, last + 1)
        below = level


def _runs(numbers: list[int]) -> list[tuple[int, int]]:
    runs: list[tuple[int, int]] = []
    for n in numbers:
        if runs and n == runs[-1][1] + 1:
            runs[-1] = (runs[-1][0], n)
        else:
            runs.append((n, n))
    return runs


def roll_up(sources: SourceMap, source: int, level: str, below: str, first: int, end: int) -> None:
    """Work out the rows ``first <= start < end`` of one rollup from the level below.

    A row gives way only to one that counts at least as many readings: where raw rows were dropped
    by the retention rule, a late reading does not replace what is known of the rest.
    """
    length_ms = ROLLUPS[level]
    series = sources.of_source[source]
    columns = ["start", *(f"{p}{s.slot}" for s in series for p in ("n", "low", "high", "total"))]
    counted = " + ".join(f"coalesce(n{s.slot}, 0)" for s in series)
    offered = " + ".join(f"coalesce(excluded.n{s.slot}, 0)" for s in series)
    sets = ", ".join(f"{c} = excluded.{c}" for c in columns[1:])
    if below == "reading":
        picks = ", ".join(_from_raw(s) for s in series)
        start, step = f"at_ms / {length_ms}", (first * length_ms, end * length_ms)
        where = "at_ms >= ? AND at_ms < ?"
    else:
        per = length_ms // ROLLUPS[below]
        picks = ", ".join(_from_below(s) for s in series)
        start, step, where = f"start / {per}", (first * per, end * per), "start >= ? AND start < ?"
    sources.connection.execute(
        f"INSERT INTO {level}_{source} ({', '.join(columns)}) SELECT {start}, {picks} "
        f"FROM {below}_{source} WHERE {where} GROUP BY 1 "
        f"ON CONFLICT (start) DO UPDATE SET {sets} WHERE {offered} >= {counted}",
        step,
    )


def _from_raw(s: Series) -> str:
    x = s.scaled_sql(f"c{s.slot}")
    return f"nullif(count(c{s.slot}), 0), min({x}), max({x}), sum({x})"


def _from_below(s: Series) -> str:
    i = s.slot
    return f"sum(n{i}), min(low{i}), max(high{i}), sum(total{i})"
