"""CSV per table for a spreadsheet: one way out, no way back in (that is what JSON lines are for).

A text that a spreadsheet would take for a formula gets an apostrophe in front (CWE-1236).
"""

from __future__ import annotations

import csv
import io
import json
import sqlite3
from collections.abc import Generator, Iterable, Iterator
from dataclasses import dataclass

from sprayout.journal import records as r
from sprayout.journal.interchange import Range, reading_lines, records_of
from sprayout.journal.records_json import KIND_OF, fields_of, to_json

FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "\n")
READING_COLUMNS = ("bench", "device", "channel", "value", "unit", "at")


@dataclass(frozen=True, slots=True)
class Sheet:
    """One table: its file name without ending, and its lines of CSV text."""

    name: str
    lines: Generator[str]


def sheets(connection: sqlite3.Connection, chosen: Range) -> Iterator[Sheet]:
    """A sheet for each kind that has records, the readings last."""
    by_kind: dict[type, list[r.Record]] = {}
    for record in records_of(connection, chosen):
        by_kind.setdefault(type(record), []).append(record)
    for kind, records in by_kind.items():
        yield Sheet(KIND_OF[kind], _record_lines(kind, records))
    yield Sheet("reading", _reading_lines(connection, chosen))


def guarded(value: object) -> object:
    """A cell that no spreadsheet takes for a formula; numbers stay numbers."""
    if isinstance(value, str) and value.lstrip(" ").startswith(FORMULA_STARTS):
        return "'" + value
    return value


def csv_line(cells: Iterable[object]) -> str:
    """One line of CSV (RFC 4180) with every text cell guarded."""
    out = io.StringIO()
    csv.writer(out, lineterminator="\r\n").writerow([guarded(cell) for cell in cells])
    return out.getvalue()


def _record_lines(kind: type, records: list[r.Record]) -> Generator[str]:
    names = [f.outside for f in fields_of(kind)]
    yield csv_line(_headings(names))
    for record in records:
        yield csv_line(_cells(to_json(record), names))


def _headings(names: list[str]) -> Iterator[str]:
    for name in names:
        yield from ("L", "a", "b") if name == "lab" else (name,)


def _cells(line: dict[str, object], names: list[str]) -> Iterator[object]:
    for name in names:
        value = line[name]
        if name == "lab":
            yield from value if isinstance(value, list) else (None, None, None)
        elif isinstance(value, (list, dict)):
            yield json.dumps(value, ensure_ascii=False) if value else None
        else:
            yield value


def _reading_lines(connection: sqlite3.Connection, chosen: Range) -> Generator[str]:
    yield csv_line(READING_COLUMNS)
    for line in reading_lines(connection, chosen):
        reading = json.loads(line)
        yield csv_line(reading[name] for name in READING_COLUMNS)
