"""Export: every record as one JSON line, in an order that depends on nothing but the records.

So that export, import into an empty store and export again give the very same bytes.
"""

from __future__ import annotations

import heapq
import json
import sqlite3
from collections.abc import Generator, Iterator
from dataclasses import dataclass
from datetime import date
from operator import itemgetter

from sprayout.errors import BadInput
from sprayout.journal import records as r
from sprayout.journal.records_json import format_time, parse_time, to_json
from sprayout.journal.sources import Series, load_series
from sprayout.journal.tables import TABLES, from_row, table_of

SHELF = (
    r.Piece, r.Target, r.Part, r.Paint, r.Reducer, r.Batch, r.Airbrush, r.Booth, r.ProbeCheck,
    r.Cartridge,
)  # fmt: skip
ENDS: dict[type, str] = {r.Coat: "end_ms", r.Flag: "cleared_ms", r.Conditions: "to_ms"}
END_MS = 2**62


@dataclass(frozen=True, slots=True)
class Range:
    """What to export: ``from_ms <= time < to_ms``, one bench or all.

    Readings and dated records are chosen by time, coats and flags when any of theirs lies in it.
    Shelf records (pieces, paints, batches...) are always taken, and so is whatever a chosen record
    refers to: every export can be imported.
    """

    from_ms: int = 0
    to_ms: int = END_MS
    bench: str | None = None

    @property
    def whole(self) -> bool:
        return self == Range()


def parse_when(text: str, field: str) -> int:
    """Milliseconds of a date (its midnight UTC) or an ISO 8601 time; ``field`` is what it is of."""
    try:
        date.fromisoformat(text)
    except ValueError:
        try:
            return parse_time(text)
        except BadInput as error:
            raise BadInput(f"{field}: {error} or a date such as 2026-09-04") from error
    return parse_time(text + "T00:00:00Z")


def export_lines(connection: sqlite3.Connection, chosen: Range) -> Generator[str]:
    """JSON lines, each with its newline; within one read transaction, so of one moment."""
    connection.execute("BEGIN")
    try:
        for record in records_of(connection, chosen):
            yield json.dumps(to_json(record), ensure_ascii=False) + "\n"
        yield from reading_lines(connection, chosen)
    finally:
        connection.execute("ROLLBACK")


def records_of(connection: sqlite3.Connection, chosen: Range) -> Iterator[r.Record]:
    """All chosen records but readings: by kind, then time, then id."""
    keys = None if chosen.whole else _closed(connection, _chosen_keys(connection, chosen))
    for record in TABLES:
        table = table_of(record)
        order = ", ".join(c for c in (table.time, table.key) if c)
        for row in connection.execute(f"{table.select} ORDER BY {order}"):
            made: r.Record = from_row(record, row)
            if keys is None or getattr(made, table.key) in keys[record]:
                yield made


Keys = dict[type, set[str]]


def _chosen_keys(connection: sqlite3.Connection, chosen: Range) -> Keys:
    keys: Keys = {}
    for record in TABLES:
        table = table_of(record)
        where = ["bench = coalesce(?, bench)"]
        values: list[object] = [chosen.bench]
        if record not in SHELF and table.time is not None:
            ended = ENDS.get(record, table.time)
            where.append(f"coalesce({ended}, {END_MS}) >= ? AND {table.time} < ?")
            values += [chosen.from_ms, chosen.to_ms]
        sql = f"SELECT {table.key} FROM {table.name} WHERE {' AND '.join(where)}"
        keys[record] = {row[0] for row in connection.execute(sql, values)}
    return keys


def _closed(connection: sqlite3.Connection, keys: Keys) -> Keys:
    """With everything that the chosen records refer to."""
    record_of = {table_of(record).name: record for record in TABLES}
    grown = True
    while grown:
        grown = False
        for record in TABLES:
            table = table_of(record)
            for link in connection.execute(f"PRAGMA foreign_key_list({table.name})").fetchall():
                other = record_of.get(link[2])
                if other is None:
                    continue
                rows = connection.execute(
                    f"SELECT {table.key}, {link[3]} FROM {table.name} WHERE {link[3]} IS NOT NULL"
                )
                wanted = {there for here, there in rows if here in keys[record]}
                grown |= not wanted <= keys[other]
                keys[other] |= wanted
    return keys


def reading_lines(connection: sqlite3.Connection, chosen: Range) -> Iterator[str]:
    """One line per reading, by time, bench, device, channel, unit and value."""
    streams = []
    by_source: dict[int, list[Series]] = {}
    for s in load_series(connection):
        if chosen.bench in (None, s.bench):
            by_source.setdefault(s.source, []).append(s)
    for source, series in by_source.items():
        streams.append(_source_lines(connection, source, series, chosen))
        streams += [_repeat_lines(connection, s, chosen) for s in series if _repeats(connection, s)]
    for _, line in heapq.merge(*streams, key=itemgetter(0)):
        yield line


Keyed = tuple[tuple[int, str, str, str, str, float], str]


def _source_lines(
    connection: sqlite3.Connection, source: int, series: list[Series], chosen: Range
) -> Iterator[Keyed]:
    ordered = sorted(series, key=lambda s: (s.channel, s.unit))
    ways = [(s, f"c{s.slot}", *_frame(s)) for s in ordered]
    columns = ", ".join(way[1] for way in ways)
    rows = connection.cursor().execute(
        f"SELECT at_ms, {columns} FROM reading_{source} WHERE at_ms >= ? AND at_ms < ? "
        "ORDER BY at_ms",
        (chosen.from_ms, chosen.to_ms),
    )
    for at_ms, *cells in rows:
        at = format_time(at_ms)
        for (s, _, before, between), cell in zip(ways, cells, strict=True):
            if cell is not None:
                value = s.decode(cell)
                key = (at_ms, s.bench, s.device, s.channel, s.unit, value)
                yield key, f'{before}{value!r}{between}{at}"}}\n'


def _repeats(connection: sqlite3.Connection, s: Series) -> bool:
    row = connection.execute("SELECT 1 FROM repeat WHERE series = ? LIMIT 1", (s.id,)).fetchone()
    return row is not None


def _repeat_lines(connection: sqlite3.Connection, s: Series, chosen: Range) -> Iterator[Keyed]:
    before, between = _frame(s)
    rows = connection.cursor().execute(
        "SELECT at_ms, value FROM repeat WHERE series = ? AND at_ms >= ? AND at_ms < ? "
        "ORDER BY at_ms, value",
        (s.id, chosen.from_ms, chosen.to_ms),
    )
    for at_ms, value in rows:
        key = (at_ms, s.bench, s.device, s.channel, s.unit, value)
        yield key, f'{before}{value!r}{between}{format_time(at_ms)}"}}\n'


def _frame(s: Series) -> tuple[str, str]:
    """What stands before the value and between value and time, in the words of ``to_json``."""
    example = json.dumps(
        to_json(r.Reading(s.bench, s.device, s.channel, 0.0, s.unit, 0)), ensure_ascii=False
    )
    before, _, rest = example.rpartition("0.0, ")
    between = rest.removesuffix(format_time(0) + '"}')
    return before, ", " + between
