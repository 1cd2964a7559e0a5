"""Records to rows and back: one column per field, lists and objects as JSON text."""

from __future__ import annotations

import json
import sqlite3
import typing
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from sprayout.errors import BadInput
from sprayout.journal import records as r
from sprayout.journal.records_json import KIND_OF, KINDS, fields_of

# In this order a record stands after all that it refers to.
TABLES: dict[type, str] = {
    record: kind.replace("-", "_") for kind, record in KINDS.items() if record is not r.Reading
}
ORDER: dict[type, int] = {record: i for i, record in enumerate(TABLES)}
T = typing.TypeVar("T")


@dataclass(frozen=True, slots=True)
class Table:
    """How one record class lies in its table."""

    name: str
    key: str
    columns: tuple[str, ...]
    is_json: tuple[bool, ...]
    json_columns: tuple[tuple[str, Callable[[object], object]], ...]
    upsert: str
    select: str
    time: str | None


_TABLES: dict[type, Table] = {}


def table_of(record: type) -> Table:
    """The table of a record class; ``time`` is the column its records are ordered by."""
    if record not in _TABLES:
        _TABLES[record] = _look_up_table(record)
    return _TABLES[record]


def _look_up_table(record: type) -> Table:
    fields = fields_of(record)
    names = tuple(f.name for f in fields)
    key = "coat" if record is r.Conditions else "id"
    sets = ", ".join(f"{n} = excluded.{n}" for n in names if n != key)
    marks = ", ".join("?" * len(names))
    name = TABLES[record]
    columns = ", ".join(names)
    hints = typing.get_type_hints(record)
    is_json = tuple(_is_json(hints[n]) for n in names)
    return Table(
        name=name,
        key=key,
        columns=names,
        is_json=is_json,
        json_columns=tuple(
            (f.name, f.read) for f, as_json in zip(fields, is_json, strict=True) if as_json
        ),
        upsert=f"INSERT INTO {name} ({columns}) VALUES ({marks}) "
        f"ON CONFLICT ({key}) DO UPDATE SET {sets}",
        select=f"SELECT {columns} FROM {name}",
        time=next((n for n in names if n.endswith("_ms") and n != "due_ms"), None),
    )


def _is_json(hint: object) -> bool:
    inner = [a for a in typing.get_args(hint) if a is not type(None)]
    origins = {typing.get_origin(hint)} | {typing.get_origin(a) for a in inner}
    return bool(origins & {tuple, dict})


def write_record(connection: sqlite3.Connection, record: r.Record) -> None:
    """Insert the record or bring the one with its id up to date."""
    table = table_of(type(record))
    connection.execute("INSERT OR IGNORE INTO bench VALUES (?)", (record.bench,))
    connection.execute(table.upsert, to_row(record))


def to_row(record: r.Record) -> list[object]:
    """The cells of a record, in the order of its table's columns."""
    table, fields = table_of(type(record)), fields_of(type(record))
    cells: list[object] = []
    for f, as_json in zip(fields, table.is_json, strict=True):
        value = getattr(record, f.name)
        if as_json and value is not None:
            value = json.dumps(f.write(value), ensure_ascii=False, allow_nan=False)
        cells.append(value)
    return cells


def from_row(record: type[T], row: Sequence[object]) -> T:
    """The record a row holds."""
    table = table_of(record)
    values = dict(zip(table.columns, row, strict=True))
    for name, read in table.json_columns:
        cell = values[name]
        if cell is not None:
            values[name] = EMPTY[cell]() if cell in EMPTY else read(json.loads(str(cell)))
    return record(**values)


#: JSON that most cells hold, and what it is: no need to parse it.
EMPTY: dict[object, Callable[[], object]] = {"[]": tuple, "{}": dict}


def select_records(
    connection: sqlite3.Connection,
    record: type[T],
    where: str = "",
    values: Iterable[object] = (),
    *,
    newest: bool = False,
    limit: int | None = None,
) -> list[T]:
    """Records that satisfy ``where``, ordered by their time and key."""
    table = table_of(record)
    way = "DESC" if newest else "ASC"
    order = ", ".join(f"{c} {way}" for c in (table.time, table.key) if c)
    sql = f"{table.select} {f'WHERE {where}' if where else ''} ORDER BY {order}"
    if limit is not None:
        sql += f" LIMIT {int(limit)}"
    return [from_row(record, row) for row in connection.execute(sql, tuple(values))]


def missing_reference(connection: sqlite3.Connection, record: r.Record) -> str | None:
    """Which of the record's references names nothing in the store, as ``field 'id'``."""
    table = table_of(type(record))
    for row in connection.execute(f"PRAGMA foreign_key_list({table.name})"):
        other, column = row[2], row[3]
        value = getattr(record, column)
        if other == "bench" or value is None:
            continue
        key = "coat" if other == "conditions" else "id"
        if not connection.execute(f"SELECT 1 FROM {other} WHERE {key} = ?", (value,)).fetchone():
            return f"{column} {value!r}"
    return None


def refused(connection: sqlite3.Connection, record: r.Record, error: Exception) -> BadInput:
    """The one line for a record that the tables refuse."""
    what = f"{KIND_OF[type(record)]} {getattr(record, 'id', getattr(record, 'coat', ''))!r}"
    if "end_ms" in str(error):
        return BadInput(f"{what}: got an end before its start; correct the times")
    missing = missing_reference(connection, record)
    if missing is not None:
        return BadInput(f"{what}: got {missing}, which is not on record; submit that first")
    return BadInput(f"{what}: {error}; correct it and submit again")
