"""Readings into their sources, and the rollups they touch, inside the writer's transaction.

A minute is rolled up as soon as a reading of a later minute of its source arrives, an hour and a
day likewise; until then its raw rows are at hand and readers use those.  A late reading rolls its
minute, hour and day again from what lies below.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from sprayout.journal.recent import keep_recent
from sprayout.journal.records import Reading
from sprayout.journal.sources import ROLLUPS, Cell, Series, SourceMap

Rows = dict[int, list[Cell]]
Repeat = tuple[Series, int, float]  # series, at_ms, value
NEVER_MS = 2**62


MINUTE_MS = ROLLUPS["minute"]


@dataclass(slots=True)
class Written:
    """What a batch brought: how many readings were new, and per bench the earliest new one."""

    new: int = 0
    earliest_ms: dict[str, int] = field(default_factory=dict)


def write_readings(sources: SourceMap, readings: Sequence[Reading]) -> Written:
    """Keep a batch; a reading that is there already changes nothing."""
    rows, repeats, doubles = sorted_into_rows(sources, readings)
    sources.make_tables()
    written = Written(len(readings) - len(repeats) - doubles)
    for source, by_time in rows.items():
        first_ms = min(by_time)
        if first_ms <= sources.newest_ms[source]:
            first_ms = _write_late(sources, source, by_time, repeats, written)
        else:
            _write_fresh(sources, source, by_time, first_ms)
        bench = sources.of_source[source][0].bench
        _note_time(written, bench, first_ms)
    for bench, at_ms in _keep_repeats(sources, repeats):
        written.new += 1
        _note_time(written, bench, at_ms)
    return written


def _note_time(written: Written, bench: str, at_ms: int) -> None:
    written.earliest_ms[bench] = min(at_ms, written.earliest_ms.get(bench, at_ms))


def _write_fresh(sources: SourceMap, source: int, by_time: Rows, first_ms: int) -> None:
    """Rows newer than all before: appended, and what ended with them rolled up."""
    before_ms = sources.newest_ms[source]
    rows = _padded(by_time, len(sources.of_source[source]))
    marks = ", ".join("?" * len(rows[0]))
    sources.connection.executemany(f"INSERT INTO reading_{source} VALUES ({marks})", rows)
    sources.newest_ms[source] = newest_ms = max(by_time)
    begun_ms = before_ms if before_ms >= 0 else first_ms
    if begun_ms // MINUTE_MS < newest_ms // MINUTE_MS:
        _roll_up(sources, source, by_time, before_ms)


def _write_late(
    sources: SourceMap, source: int, by_time: Rows, repeats: list[Repeat], written: Written
) -> int:
    """A batch with late rows, row by row; returns the earliest time that brought something new."""
    before_ms = sources.newest_ms[source]
    changed = []
    for at_ms, cells in by_time.items():
        held = _row(sources, source, at_ms) if at_ms <= before_ms else None
        if held is None:
            _insert(sources, source, at_ms, cells)
            changed.append(at_ms)
            continue
        filled, differing, same = _compare(sources.of_source[source], held, at_ms, cells)
        _fill(sources, source, at_ms, filled)
        repeats += differing
        written.new -= same + len(differing)
        if filled:
            changed.append(at_ms)
    sources.newest_ms[source] = max(before_ms, *by_time)
    if changed:
        _roll_up(sources, source, changed, before_ms)
    return min(changed, default=NEVER_MS)


def _row(sources: SourceMap, source: int, at_ms: int) -> tuple[Cell, ...] | None:
    sql = f"SELECT * FROM reading_{source} WHERE at_ms = ?"
    row: tuple[Cell, ...] | None = sources.connection.execute(sql, (at_ms,)).fetchone()
    return row


def _insert(sources: SourceMap, source: int, at_ms: int, cells: list[Cell]) -> None:
    row = _padded({at_ms: cells}, len(sources.of_source[source]))[0]
    marks = ", ".join("?" * len(row))
    sources.connection.execute(f"INSERT INTO reading_{source} VALUES ({marks})", row)


def _compare(
    series: Sequence[Series], held: tuple[Cell, ...], at_ms: int, cells: list[Cell]
) -> tuple[dict[int, Cell], list[Repeat], int]:
    """Cells to fill in by slot, readings that differ from those held, and how many are the same."""
    filled: dict[int, Cell] = {}
    differing: list[Repeat] = []
    same = 0
    for s, cell, there in zip(series, cells, held[1:], strict=False):
        if cell is None:
            continue
        if there is None:
            filled[s.slot] = cell
        elif there == cell:
            same += 1
        else:
            differing.append((s, at_ms, s.decode(cell)))
    return filled, differing, same


def _fill(sources: SourceMap, source: int, at_ms: int, cells: dict[int, Cell]) -> None:
    if cells:
        sets = ", ".join(f"c{slot} = ?" for slot in cells)
        sources.connection.execute(
            f"UPDATE reading_{source} SET {sets} WHERE at_ms = ?", (*cells.values(), at_ms)
        )


def _keep_repeats(sources: SourceMap, repeats: list[Repeat]) -> list[tuple[str, int]]:
    """Keep readings that differ from another of their very time; ``(bench, at_ms)`` of new ones."""
    new = []
    for s, at_ms, value in repeats:
        cursor = sources.connection.execute(
            "INSERT OR IGNORE INTO repeat VALUES (?, ?, ?)", (s.id, at_ms, value)
        )
        if cursor.rowcount:
            new.append((s.bench, at_ms))
    return new


def sorted_into_rows(
    sources: SourceMap, readings: Iterable[Reading]
) -> tuple[dict[int, Rows], list[Repeat], int]:
    """``{source: {at_ms: cells}}``, the readings that differ from another of their very time, and
    how many were delivered twice.
    """
    rows: dict[int, Rows] = {}
    repeats: list[Repeat] = []
    doubles = 0
    known = sources.series
    previous: Reading | None = None
    source, row_ms, cells = -1, -1, list[Cell]()
    for reading in readings:
        at_ms = reading.at_ms
        series = known.get((reading.bench, reading.device, reading.channel, reading.unit))
        if series is None:
            series = sources.new_series(reading, previous, source)
        previous = reading
        cell = series.encode(reading.value)
        if cell.__class__ is float:
            series, cell = _widened(sources, rows, series, reading.value)
        if series.source != source or at_ms != row_ms:
            source, row_ms = series.source, at_ms
            cells = rows.setdefault(source, {}).setdefault(at_ms, [])
        slot = series.slot
        if len(cells) <= slot:
            cells += [None] * (len(sources.of_source[source]) - len(cells))
        if cells[slot] is None:
            cells[slot] = cell
        elif cells[slot] == cell:
            doubles += 1
        else:
            repeats.append((series, at_ms, reading.value))
    return rows, repeats, doubles


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
        if level == "hour":
            slots = len(sources.of_source[source])
            keep_recent(sources.connection, source, slots, over, newest_ms // length_ms)
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
