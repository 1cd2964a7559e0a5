"""Import of JSON lines: all of a file or nothing of it, errors named by line.

The file is read twice: once to check every line while the store is not touched, once to write
inside a single transaction.  References may point forwards and are checked at the end.
"""

from __future__ import annotations

import json
import sqlite3
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

from sprayout.errors import BadInput
from sprayout.journal import records as r
from sprayout.journal.batch import refuse_unkeepable
from sprayout.journal.coat_conditions import work_out
from sprayout.journal.ingest import write_readings
from sprayout.journal.records_json import KIND_OF, from_json
from sprayout.journal.sources import SourceMap
from sprayout.journal.store import StoreState, connect_writing, open_for_writing, translated
from sprayout.journal.tables import (
    TABLES,
    missing_reference,
    refused,
    select_records,
    table_of,
    write_record,
)

CHUNK = 20_000
Line = tuple[int, r.Record]


@dataclass(slots=True)
class Imported:
    """What an import brought: lines read per kind, and how many records were new or changed."""

    lines: Counter[str] = field(default_factory=Counter)
    new: int = 0
    changed: int = 0
    warnings: tuple[str, ...] = ()


def import_file(store: Path, file: Path, *, replace: bool = False) -> Imported:
    """Take every record of a JSON-lines file into a store, or raise and change nothing.

    The store is made where there is none.

    A record whose id is there already with other content is refused, unless ``replace`` is given.
    """
    for _ in lines_of(file):  # every line is checked before the store is touched
        pass
    state, lock = open_for_writing(store, "an import")
    with lock:
        return _written(store, file, replace, state)


def _written(store: Path, file: Path, replace: bool, state: StoreState) -> Imported:
    try:
        connection = connect_writing(store)
    except sqlite3.Error as error:
        raise translated(error, store) from error
    try:
        connection.execute("BEGIN IMMEDIATE")
        connection.execute("PRAGMA defer_foreign_keys = ON")
        done = _Import(connection, replace).run(lines_of(file))
        done.warnings = state.warnings
        connection.execute("COMMIT")
        return done
    except sqlite3.Error as error:
        raise translated(error, store) from error
    finally:
        if connection.in_transaction:
            connection.execute("ROLLBACK")
        connection.close()


def lines_of(file: Path) -> Iterator[Line]:
    """``(line number, record)`` of each line; ``BadInput`` names the first line that is wrong."""
    try:
        with file.open("rb") as lines:
            for number, line in enumerate(lines, 1):
                if line.strip():
                    yield number, _record_of(file, number, line)
    except OSError as error:
        raise BadInput(
            f"import {file}: cannot be read ({error.strerror}); check the path"
        ) from error


def _record_of(file: Path, number: int, line: bytes) -> r.Record:
    try:
        record = from_json(_DECODER.decode(line.decode("utf-8")))
        if isinstance(record, r.Reading):
            refuse_unkeepable(record)
        return record
    except UnicodeDecodeError as error:
        why = f"not UTF-8 text (byte {error.start})"
    except json.JSONDecodeError as error:
        why = f"not JSON ({error.msg} at column {error.colno})"
    except (BadInput, RecursionError) as error:
        why = str(error)
    raise BadInput(f"import {file}, line {number}: {why}; correct the line, nothing was imported")


def _refuse_constant(word: str) -> float:
    raise BadInput(f"got {word}, wanted a finite number")


_DECODER = json.JSONDecoder(parse_constant=_refuse_constant)


class _Import:
    """One import inside its transaction."""

    def __init__(self, connection: sqlite3.Connection, replace: bool) -> None:
        self._connection, self._replace = connection, replace
        self._sources = SourceMap(connection)
        self._sources.load()
        self._done = Imported()
        self._line_of: dict[tuple[type, str], int] = {}
        self._renew: dict[str, r.Coat] = {}
        self._given: set[str] = set()
        self._span: dict[str, tuple[int, int]] = {}

    def run(self, lines: Iterator[Line]) -> Imported:
        readings: list[r.Reading] = []
        for number, record in lines:
            self._done.lines[KIND_OF[type(record)]] += 1
            if isinstance(record, r.Reading):
                readings.append(record)
                if len(readings) >= CHUNK:
                    self._write_readings(readings)
                    readings = []
            else:
                self._write(number, record)
        self._write_readings(readings)
        self._check_references()
        self._renew_conditions()
        return self._done

    def _write(self, number: int, record: r.Record) -> None:
        table = table_of(type(record))
        key = getattr(record, table.key)
        held = select_records(self._connection, type(record), f"{table.key} = ?", (key,))
        if isinstance(record, r.Conditions):
            if (r.Coat, key) not in self._line_of and held:
                return  # worked out in this store, from what it knows of a coat it had before
            self._given.add(key)
        elif held and held[0] != record and not self._replace:
            raise self._wrong(
                number,
                f"{KIND_OF[type(record)]} {key!r} is on record already with other content; "
                "import with --replace to take the file's",
            )
        if held != [record]:
            try:
                write_record(self._connection, record)
            except sqlite3.IntegrityError as error:
                raise self._wrong(number, str(refused(self._connection, record, error))) from error
            self._done.new += not held
            self._done.changed += bool(held)
        if not held:
            self._line_of[type(record), key] = number
        if isinstance(record, r.Coat) and held != [record] and record.end_ms is not None:
            self._renew[key] = record
        if isinstance(record, r.Flag) and not held:
            self._widen_span(record.bench, record.raised_ms, record.cleared_ms or 2**62)
        if isinstance(record, r.ProbeCheck) and held != [record]:
            for check in (record, *held):  # held is the one it replaces
                if isinstance(check, r.ProbeCheck):
                    self._widen_span(check.bench, check.at_ms, 2**62)

    def _write_readings(self, readings: list[r.Reading]) -> None:
        if readings:
            self._done.new += write_readings(self._sources, readings).new
            for bench in {x.bench for x in readings}:
                times = [x.at_ms for x in readings if x.bench == bench]
                self._widen_span(bench, min(times), max(times))

    def _widen_span(self, bench: str, first_ms: int, last_ms: int) -> None:
        first, last = self._span.get(bench, (first_ms, last_ms))
        self._span[bench] = (min(first, first_ms), max(last, last_ms))

    def _check_references(self) -> None:
        for record in TABLES:
            table = table_of(record)
            broken = self._connection.execute(f"PRAGMA foreign_key_check({table.name})").fetchall()
            for _, rowid, *_ in broken:
                key = self._connection.execute(
                    f"SELECT {table.key} FROM {table.name} WHERE rowid = ?", (rowid,)
                ).fetchone()[0]
                found: r.Record = select_records(
                    self._connection, record, f"{table.key} = ?", (key,)
                )[0]
                missing = missing_reference(self._connection, found)
                raise self._wrong(
                    self._line_of.get((record, key), 0),
                    f"{KIND_OF[record]} {key!r} refers to {missing}, which is neither in the file "
                    "nor on record",
                )

    def _renew_conditions(self) -> None:
        for bench, (first_ms, last_ms) in self._span.items():
            touched = select_records(
                self._connection,
                r.Coat,
                "bench = ? AND end_ms >= ? AND start_ms <= ?",
                (bench, first_ms, last_ms),
            )
            self._renew |= {coat.id: coat for coat in touched}
        for key, coat in self._renew.items():
            if key not in self._given:
                write_record(
                    self._connection, work_out(self._connection, self._sources.of_source, coat)
                )

    def _wrong(self, number: int, why: str) -> BadInput:
        return BadInput(f"line {number}: {why}; nothing was imported")
