"""`sprayout check`: is the file whole, do references hold, do rollups agree with the readings,
where are gaps, and was the clock right?
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from sprayout.journal import records as r
from sprayout.journal.ingest import MINUTE_MS
from sprayout.journal.recent import hour_cells, slots_of
from sprayout.journal.records_json import format_time
from sprayout.journal.sources import FILM_MODEL, ROLLUPS, Series, series_by_source
from sprayout.journal.tables import TABLES, select_records, table_of
from sprayout.journal.timeline import WRITTEN_MS

Subject = Literal["integrity", "orphans", "rollups", "gaps", "clock"]
AGAIN = "restore the last backup, or export and import into a new store"
GAP_MINUTES = 10
MOST_GAPS = 20


@dataclass(frozen=True, slots=True)
class Noted:
    """One thing found: ``fault`` needs action, ``note`` is to be known."""

    subject: Subject
    level: Literal["fault", "note"]
    words: str


def check(connection: sqlite3.Connection, now_ms: int) -> list[Noted]:
    """Everything worth saying about a store, faults first."""
    damage = list(_integrity(connection))
    if damage:
        return damage
    series = series_by_source(connection)
    found = list(_orphans(connection, series))
    whole = {n: of for n, of in series.items() if not _missing_tables(connection, n)}
    found += _clock(connection, whole, now_ms)
    for source, of_source in whole.items():
        found += _rollups(connection, source, of_source)
        found += _recent(connection, source, of_source)
        if of_source[0].device != FILM_MODEL:
            found += _gaps(connection, source, of_source)
    return sorted(found, key=lambda n: n.level != "fault")


def _integrity(connection: sqlite3.Connection) -> Iterator[Noted]:
    try:
        for (words,) in connection.execute("PRAGMA integrity_check(10)"):
            if words != "ok":
                yield Noted("integrity", "fault", f"{words}; restore the last backup")
    except sqlite3.DatabaseError as error:
        yield Noted("integrity", "fault", f"{error}; restore the last backup")


def _orphans(connection: sqlite3.Connection, series: dict[int, list[Series]]) -> Iterator[Noted]:
    for table, rowid, other, _ in connection.execute("PRAGMA foreign_key_check"):
        yield Noted(
            "orphans", "fault", f"{table} row {rowid} refers to a {other} that is not there"
        )
    for source in series:
        for missing in _missing_tables(connection, source):
            yield Noted("orphans", "fault", f"source {source} lacks its table {missing}; {AGAIN}")
    known = {f"reading_{source}" for (source,) in connection.execute("SELECT id FROM source")}
    for name in sorted(_tables(connection) - known):
        if name.startswith("reading_"):
            yield Noted("orphans", "fault", f"table {name} belongs to no source; {AGAIN}")


def _tables(connection: sqlite3.Connection) -> set[str]:
    rows = connection.execute("SELECT name FROM sqlite_schema WHERE type = 'table'")
    return {row[0] for row in rows}


def _missing_tables(connection: sqlite3.Connection, source: int) -> list[str]:
    wanted = {f"{level}_{source}" for level in ("reading", *ROLLUPS)}
    return sorted(wanted - _tables(connection))


def _rollups(connection: sqlite3.Connection, source: int, series: list[Series]) -> Iterator[Noted]:
    """Minutes whose rollup says something else than their raw rows, where all of those are kept."""
    counts = ", ".join(f"count(c{s.slot}) AS k{s.slot}" for s in series)
    sums = ", ".join(f"sum({s.scaled_sql(f'c{s.slot}')}) AS t{s.slot}" for s in series)
    fewer = " OR ".join(f"coalesce(m.n{s.slot}, 0) < x.k{s.slot}" for s in series)
    differ = " OR ".join(
        f"(m.n{s.slot} = x.k{s.slot} "
        f"AND abs(m.total{s.slot} - x.t{s.slot}) > 1e-6 * abs(x.t{s.slot}))"
        for s in series
    )
    wrong, first = connection.execute(
        f"SELECT count(*), min(x.start) FROM ("
        f"SELECT at_ms / {MINUTE_MS} AS start, {counts}, {sums} FROM reading_{source} GROUP BY 1"
        f") x LEFT JOIN minute_{source} m ON m.start = x.start "
        f"WHERE x.start < (SELECT max(at_ms) / {MINUTE_MS} FROM reading_{source}) "
        f"AND (m.start IS NULL OR {fewer} OR {differ})"
    ).fetchone()
    if wrong:
        yield Noted(
            "rollups",
            "fault",
            f"{_named(series)}: {wrong} minutes, the first {format_time(first * MINUTE_MS)}, "
            f"do not agree with their readings; {AGAIN}",
        )


def _recent(connection: sqlite3.Connection, source: int, series: list[Series]) -> Iterator[Noted]:
    """Hours kept for charts that say something else than their minutes."""
    rows = connection.execute("SELECT hour, cells FROM recent_minutes WHERE source = ?", (source,))
    wrong = [
        hour
        for hour, cells in rows
        if cells != hour_cells(connection, source, slots_of(cells), hour)
    ]
    if wrong:
        yield Noted(
            "rollups",
            "fault",
            f"{_named(series)}: {len(wrong)} hours kept for charts, the first "
            f"{format_time(min(wrong) * ROLLUPS['hour'])}, "
            f"do not agree with their minutes; {AGAIN}",
        )


def _gaps(connection: sqlite3.Connection, source: int, series: list[Series]) -> Iterator[Noted]:
    """Stretches of more than ten minutes without a reading, within one evening (six hours)."""
    rows = connection.execute(
        f"SELECT start, next FROM (SELECT start, lead(start) OVER (ORDER BY start) AS next "
        f"FROM minute_{source}) WHERE next - start > ? AND next - start < 360 "
        "ORDER BY start DESC LIMIT ?",
        (GAP_MINUTES, MOST_GAPS),
    )
    for start, following in rows:
        began, ended = ((m * MINUTE_MS) for m in (start + 1, following))
        yield Noted(
            "gaps",
            "note",
            f"{_named(series)}: nothing from {format_time(began)} to {format_time(ended)}",
        )


def _clock(
    connection: sqlite3.Connection, series: dict[int, list[Series]], now_ms: int
) -> Iterator[Noted]:
    for step in select_records(connection, r.ClockStep):
        yield Noted(
            "clock",
            "note",
            f"bench {step.bench}: the clock went from {format_time(step.before_ms)} "
            f"to {format_time(step.after_ms)} ({step.reason})",
        )
    for source, of_source in series.items():
        first, last = connection.execute(
            f"SELECT min(at_ms), max(at_ms) FROM reading_{source}"
        ).fetchone()
        yield from _wrong_times(_named(of_source), first, last, now_ms)
    for record in TABLES:
        table = table_of(record)
        if table.time is not None:
            first, last = connection.execute(
                f"SELECT min({table.time}), max({table.time}) FROM {table.name}"
            ).fetchone()
            yield from _wrong_times(table.name, first, last, now_ms)


def _wrong_times(
    what: str, first_ms: int | None, last_ms: int | None, now_ms: int
) -> Iterator[Noted]:
    if first_ms is not None and first_ms < WRITTEN_MS:
        yield Noted(
            "clock",
            "note",
            f"{what}: the oldest is dated {format_time(first_ms)}; "
            "a machine without a clock battery begins there until its clock is set",
        )
    if last_ms is not None and last_ms > now_ms + MINUTE_MS:
        yield Noted(
            "clock", "note", f"{what}: the newest is dated {format_time(last_ms)}, in the future"
        )


def _named(series: list[Series]) -> str:
    return f"{series[0].bench}, {series[0].device} ({', '.join(s.channel for s in series[:3])}...)"
