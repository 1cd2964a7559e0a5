"""Moving what was recorded under a wrong clock to its true time.

A board computer without a clock battery records from 1970 on until its clock is set; the jump tells
by how much everything before it was wrong.  Readings and records of that stretch are moved as they
are, their order kept; the ``clock-step`` record says what was done, and moving back undoes it.
"""

from __future__ import annotations

import sqlite3
from dataclasses import dataclass

from sprayout.errors import BadInput
from sprayout.journal import records as r
from sprayout.journal.ingest import MINUTE_MS, roll_up, write_readings
from sprayout.journal.recent import forget_recent
from sprayout.journal.sources import ROLLUPS, Series, SourceMap
from sprayout.journal.tables import TABLES, table_of


@dataclass(frozen=True, slots=True)
class Move:
    """What ``bench`` recorded at ``from_ms <= time < to_ms`` really happened ``by_ms`` later."""

    bench: str
    from_ms: int
    to_ms: int
    by_ms: int


def retime(sources: SourceMap, move: Move) -> int:
    """Move readings and records, rollups with them; returns how many readings were moved."""
    if move.from_ms >= move.to_ms or move.from_ms + move.by_ms < 0:
        raise BadInput(
            f"retime: got {move.from_ms} to {move.to_ms} by {move.by_ms} ms, "
            "wanted an end after the start and no time before 1970"
        )
    moved: list[r.Reading] = []
    for source, series in sources.of_source.items():
        if series[0].bench == move.bench:
            moved += _taken_out(sources, source, series, move)
    write_readings(sources, moved)
    _move_repeats(sources.connection, move)
    _move_records(sources.connection, move)
    return len(moved)


def _taken_out(
    sources: SourceMap, source: int, series: list[Series], move: Move
) -> list[r.Reading]:
    """The source's readings of the stretch, with their true times, out of rows and rollups."""
    connection, span = sources.connection, (move.from_ms, move.to_ms)
    rows = connection.execute(
        f"SELECT * FROM reading_{source} WHERE at_ms >= ? AND at_ms < ? ORDER BY at_ms", span
    ).fetchall()
    if not rows:
        return []
    _refuse_dropped(connection, source, series, move)
    connection.execute(f"DELETE FROM reading_{source} WHERE at_ms >= ? AND at_ms < ?", span)
    newest = connection.execute(f"SELECT max(at_ms) FROM reading_{source}").fetchone()[0]
    sources.newest_ms[source] = -1 if newest is None else newest
    forget_recent(connection, source)
    below = "reading"
    for level, length_ms in ROLLUPS.items():
        first, last = move.from_ms // length_ms, (move.to_ms - 1) // length_ms
        connection.execute(
            f"DELETE FROM {level}_{source} WHERE start BETWEEN ? AND ?", (first, last)
        )
        roll_up(sources, source, level, below, first, min(last + 1, (newest or 0) // length_ms))
        below = level
    return [
        r.Reading(s.bench, s.device, s.channel, s.decode(cell), s.unit, at_ms + move.by_ms)
        for at_ms, *cells in rows
        for s, cell in zip(series, cells, strict=True)
        if cell is not None
    ]


def _refuse_dropped(
    connection: sqlite3.Connection, source: int, series: list[Series], move: Move
) -> None:
    """Readings that only a rollup still knows cannot be moved."""
    counted = " + ".join(f"coalesce(n{s.slot}, 0)" for s in series)
    raw = " + ".join(f"count(c{s.slot})" for s in series)
    span = (move.from_ms // MINUTE_MS, (move.to_ms - 1) // MINUTE_MS)
    rolled = connection.execute(
        f"SELECT coalesce(sum({counted}), 0) FROM minute_{source} WHERE start BETWEEN ? AND ?", span
    ).fetchone()[0]
    kept = connection.execute(
        f"SELECT {raw} FROM reading_{source} WHERE at_ms / {MINUTE_MS} BETWEEN ? AND ?", span
    ).fetchone()[0]
    if kept < rolled:
        raise BadInput(
            "retime: raw readings of that stretch were dropped already; nothing was moved"
        )


def _move_repeats(connection: sqlite3.Connection, move: Move) -> None:
    connection.execute(
        "UPDATE OR REPLACE repeat SET at_ms = at_ms + ? WHERE at_ms >= ? AND at_ms < ? "
        "AND series IN "
        "(SELECT series.id FROM series JOIN source ON source.id = source WHERE bench = ?)",
        (move.by_ms, move.from_ms, move.to_ms, move.bench),
    )


def _move_records(connection: sqlite3.Connection, move: Move) -> None:
    for record in TABLES:
        if record in (r.ClockStep, r.Conditions):
            continue
        table = table_of(record)
        times = [name for name in table.columns if name.endswith("_ms")]
        if times:
            sets = ", ".join(
                f"{t} = CASE WHEN {t} >= :first AND {t} < :end THEN {t} + :by ELSE {t} END"
                for t in times
            )
            connection.execute(
                f"UPDATE {table.name} SET {sets} WHERE bench = :bench",
                {
                    "first": move.from_ms,
                    "end": move.to_ms,
                    "by": move.by_ms,
                    "bench": move.bench,
                },
            )
