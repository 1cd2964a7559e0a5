"""Readings into their sources, and the rollups they touch, inside the writer's transaction.

A minute is rolled up as soon as a reading of a later minute of its source arrives, an hour and a
day likewise; until then its raw rows are at hand and readers use those.  A late reading rolls its
minute, hour and day again from what lies below.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from sprayout.journal.records import Reading
from sprayout.journal.sources import ROLLUPS, Cell, Series, SourceMap

Rows = dict[int, list[Cell]]


@dataclass(slots=True)
class Touched:
    """What one batch changed: per source the time span, and per bench the earliest time."""

    earliest_ms: dict[str, int] = field(default_factory=dict)
    minutes: dict[int, set[int]] = field(default_factory=dict)


def write_readings(sources: SourceMap, readings: Sequence[Reading]) -> Touched:
    """Keep a batch; a reading that is there already changes nothing."""
    rows, repeats = sorted_into_rows(sources, readings)
    sources.make_tables()
    touched = Touched()
    for source, by_time in rows.items():
        before_ms = sources.newest_ms[source]
        late, fresh = _split(by_time, before_ms)
        fresh_rows = _padded(fresh, len(sources.of_source[source]))
        if fresh_rows:
            marks = ", ".join("?" * len(fresh_rows[0]))
            sources.connection.executemany(
                f"INSERT INTO reading_{source} VALUES ({marks})", fresh_rows
            )
            sources.newest_ms[source] = int(fresh_rows[-1][0] or 0)
        for at_ms, cells in late.items():
            repeats += _fill(sources, source, at_ms, cells)
        _roll_up(sources, source, by_time, before_ms)
        bench = sources.of_source[source][0].bench
        touched.earliest_ms[bench] = min(min(by_time), touched.earliest_ms.get(bench, 2**62))
    _keep_repeats(sources.connection, repeats)
    return touched


Repeat = tuple[int, int, float]  # series, at_ms, value


def sorted_into_rows(
    sources: SourceMap, readings: Iterable[Reading]
) -> tuple[dict[int, Rows], list[Repeat]]:
    """``{source: {at_ms: cells}}`` and the readings that differ from another at their very time."""
    rows: dict[int, Rows] = {}
    repeats: list[Repeat] = []
    last_row = sources.last_row
    for reading in readings:
        series = sources.series_for(reading)
        cell = series.encode(reading.value)
        if isinstance(cell, float):
            wider = sources.widen(series, reading.value)
            if wider is not series:
                _rescale_rows(rows, series, wider)
                series, cell = wider, wider.encode(reading.value)
        source, slot, at_ms = series.source, series.slot, reading.at_ms
        last_row[reading.bench, reading.device] = (at_ms, source)
        cells = rows.setdefault(source, {}).setdefault(at_ms, [])
        if len(cells) <= slot:
            cells += [None] * (slot + 1 - len(cells))
        if cells[slot] is None:
            cells[slot] = cell
        elif cells[slot] != cell:
            repeats.append((series.id, at_ms, reading.value))
    return rows, repeats


def _rescale_rows(rows: dict[int, Rows], old: Series, new: Series) -> None:
    for cells in rows.get(old.source, {}).values():
        if len(cells) > old.slot:
            cell = cells[old.slot]
            if cell is not None:
                cells[old.slot] = new.encode(old.decode(cell))


def _split(by_time: Rows, newest_ms: int) -> tuple[Rows, Rows]:
    late = {at: cells for at, cells in by_time.items() if at <= newest_ms}
    return late, by_time if not late else {at: c for at, c in by_time.items() if at > newest_ms}


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
