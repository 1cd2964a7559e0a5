"""Every record goes to JSON and back unchanged; a wrong line is named by its field."""

import json
import sqlite3
import types
import typing
from collections.abc import Iterator
from contextlib import closing
from typing import Any

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from sprayout.errors import BadInput
from sprayout.journal import records as r
from sprayout.journal.records_json import (
    KINDS,
    format_time,
    from_json,
    parse_time,
    to_json,
)
from sprayout.journal.store import connect_writing, prepare_store
from sprayout.journal.tables import select_records, table_of, write_record

QUICK = settings(deadline=None, max_examples=15)
texts = st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\0"), max_size=8)
numbers = st.floats(allow_nan=False, allow_infinity=False).map(lambda x: x + 0.0)
times = st.integers(0, 253_402_300_799_999)
json_values = st.none() | st.booleans() | texts | numbers | st.lists(numbers, max_size=3)
PLAIN: dict[object, st.SearchStrategy[Any]] = {
    str: texts,
    float: numbers,
    int: st.integers(-(2**60), 2**60),
    bytes: st.binary(max_size=20),
}


def values(hint: Any, time: bool) -> st.SearchStrategy[Any]:
    """Any value of a field's type."""
    origin, args = typing.get_origin(hint), typing.get_args(hint)
    if origin in (types.UnionType, typing.Union):
        return st.none() | values(args[0], time)
    if origin is typing.Literal:
        return st.sampled_from(args)
    if origin is dict:
        return st.dictionaries(texts, json_values, max_size=3)
    if origin is tuple and args[-1] is Ellipsis:
        return st.lists(values(args[0], False), max_size=3).map(tuple)
    if origin is tuple:
        return st.tuples(*(values(a, False) for a in args))
    if time:
        return times
    return PLAIN[hint] if hint in PLAIN else records(hint)


def records(kind: type) -> st.SearchStrategy[Any]:
    """Any record of a class, by the types of its fields."""
    hints = typing.get_type_hints(kind)
    return st.builds(kind, **{n: values(h, n.endswith("_ms")) for n, h in hints.items()})


@pytest.mark.parametrize("kind", KINDS)
@QUICK
@given(data=st.data())
def test_every_record_goes_out_and_comes_back(kind: str, data: st.DataObject) -> None:
    record = data.draw(records(KINDS[kind]))
    line = json.dumps(to_json(record), ensure_ascii=False, allow_nan=False)
    assert json.loads(line)["kind"] == kind
    assert from_json(json.loads(line)) == record


@pytest.fixture(scope="module")
def connection(tmp_path_factory: pytest.TempPathFactory) -> Iterator[sqlite3.Connection]:
    path = tmp_path_factory.mktemp("rows") / "a.db"
    prepare_store(path)
    with closing(connect_writing(path)) as connection:
        connection.execute("PRAGMA foreign_keys = OFF")  # any record, whatever it refers to
        connection.execute("PRAGMA synchronous = OFF")
        yield connection


@pytest.mark.parametrize("kind", sorted(set(KINDS) - {"reading"}))
@QUICK
@given(data=st.data())
def test_every_record_goes_into_its_table_and_comes_back(
    kind: str, data: st.DataObject, connection: sqlite3.Connection
) -> None:
    record = data.draw(records(KINDS[kind]))
    if isinstance(record, r.Coat):
        assume(record.end_ms is None or record.end_ms >= record.start_ms)
    write_record(connection, record)
    table = table_of(type(record))
    key = getattr(record, table.key)
    assert select_records(connection, type(record), f"{table.key} = ?", (key,)) == [record]


def test_a_reading_line_is_that_of_the_contract() -> None:
    reading = r.Reading("quay", "board", "air_temperature", 21.25, "Cel", 1_788_540_000_123)
    assert to_json(reading) == {
        "kind": "reading",
        "bench": "quay",
        "device": "board",
        "channel": "air_temperature",
        "value": 21.25,
        "unit": "Cel",
        "at": "2026-09-04T16:40:00.123Z",
    }


@QUICK
@given(at_ms=times)
def test_times_go_out_and_come_back(at_ms: int) -> None:
    assert parse_time(format_time(at_ms)) == at_ms


@pytest.mark.parametrize(
    ("text", "at_ms"),
    [
        ("1970-01-01T00:00:00Z", 0),
        ("2026-09-04T18:40:00.123+02:00", 1_788_540_000_123),
        ("2026-03-29T01:59:59.999+01:00", 1_774_745_999_999),  # before the clocks go forward
        ("2026-03-29T03:00:00+02:00", 1_774_746_000_000),  # a moment later, daylight saving
    ],
)
def test_offsets_are_taken_off(text: str, at_ms: int) -> None:
    assert parse_time(text) == at_ms


READING = {"kind": "reading", "bench": "b", "device": "d", "channel": "c", "unit": "Cel"}
TIMED = READING | {"at": "2026-09-04T18:00:00Z"}
COAT = {"kind": "coat", "id": "c", "bench": "b", "piece": "p", "coat_kind": "tack coat"}


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ([], "wanted a JSON object"),
        ({}, "kind: got None, wanted one of piece"),
        ({"kind": "spoon"}, "kind: got 'spoon'"),
        ({"kind": ["reading"]}, "kind: got"),
        (TIMED, "reading, field value: missing"),
        (TIMED | {"value": "21"}, "reading, field value: got '21', wanted a number"),
        (TIMED | {"value": True}, "field value: got True, wanted a number"),
        (TIMED | {"value": float("nan")}, "field value: got nan, wanted a finite number"),
        (TIMED | {"value": 10**400}, "field value: got 1"),
        (
            READING | {"value": 1, "at": "yesterday"},
            "field at: got 'yesterday', wanted an ISO 8601",
        ),
        (READING | {"value": 1, "at": "2026-09-04T18:00:00"}, "without an offset"),
        (READING | {"value": 1, "at": 5}, "field at: got 5"),
        (TIMED | {"value": 1, "colour": "red"}, "unknown field 'colour'"),
        (TIMED | {"value": 1, "bench": 5}, "field bench: got 5, wanted text"),
        (TIMED | {"value": 1, "bench": "a\0b"}, "without NUL"),
        (COAT | {"start": "2026-09-04T18:00:00Z", "settings": []}, "field settings: got \\[\\]"),
        (
            {
                "kind": "target",
                "id": "t",
                "bench": "b",
                "name": "n",
                "lab": [1, 2],
                "white": "d50-2",
            },
            "field lab: got \\[1, 2\\], wanted a list of 3",
        ),
        (
            {"kind": "photo", "id": "p", "bench": "b", "media_type": "image/png", "data": "%%"},
            "field data: got '%%', wanted base64",
        ),
        (
            {"kind": "flag", "id": "f", "bench": "b", "key": "k", "level": "panic"},
            "field level: got 'panic', wanted one of note",
        ),
    ],
)
def test_a_wrong_line_is_named_by_its_field(line: object, words: str) -> None:
    with pytest.raises(BadInput, match=words):
        from_json(line)
