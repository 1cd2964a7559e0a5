"""The JSON form of every record (contract 7): one object, ``kind`` first, times ISO 8601 with Z.

A field keeps its name; a time loses its ``_ms`` (``start_ms`` is ``"start"``), and a coat's own
kind is ``"coat_kind"``.  Empty optional fields are written too: a line says all that is known.
"""

from __future__ import annotations

import base64
import binascii
import math
import types
import typing
from collections.abc import Callable, Mapping
from dataclasses import MISSING, dataclass, fields
from datetime import UTC, datetime, timedelta

from sprayout.errors import BadInput
from sprayout.journal import records as r

KINDS: dict[str, type] = {
    "piece": r.Piece,
    "target": r.Target,
    "part": r.Part,
    "paint": r.Paint,
    "reducer": r.Reducer,
    "batch": r.Batch,
    "addition": r.BatchAddition,
    "airbrush": r.Airbrush,
    "booth": r.Booth,
    "probe-check": r.ProbeCheck,
    "cartridge": r.Cartridge,
    "calibration": r.Calibration,
    "coat": r.Coat,
    "swatch": r.Swatch,
    "former-colour": r.FormerColour,
    "photo": r.Photo,
    "finding": r.Finding,
    "flag": r.Flag,
    "cautions": r.CautionsAcknowledged,
    "clock-step": r.ClockStep,
    "conditions": r.Conditions,
    "reading": r.Reading,
}
KIND_OF: dict[type, str] = {record: kind for kind, record in KINDS.items()}
EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
MOST_MS = 253_402_300_799_999  # the end of year 9999


@dataclass(frozen=True, slots=True)
class Field:
    """One field of a record: its name inside and outside, and how a value crosses."""

    name: str
    outside: str
    required: bool
    read: Callable[[object], object]
    write: Callable[[typing.Any], object]


def format_time(at_ms: int) -> str:
    """``2026-09-04T18:00:00.000Z``."""
    at = EPOCH + timedelta(milliseconds=at_ms)
    return at.strftime("%Y-%m-%dT%H:%M:%S.") + f"{at.microsecond // 1000:03d}Z"


def parse_time(text: object) -> int:
    """Milliseconds UTC of an ISO 8601 time that says its offset; finer digits are cut."""
    wanted = "wanted an ISO 8601 time such as 2026-09-04T18:00:00.000Z"
    if not isinstance(text, str):
        raise BadInput(f"got {text!r}, {wanted}")
    try:
        at = datetime.fromisoformat(text)
    except ValueError as error:
        raise BadInput(f"got {text!r}, {wanted}") from error
    if at.tzinfo is None:
        raise BadInput(f"got {text!r} without an offset, {wanted}")
    return (at - EPOCH) // timedelta(milliseconds=1)


def to_json(record: r.Record) -> dict[str, object]:
    """The record as one JSON object, in the order of its fields."""
    kind = KIND_OF[type(record)]
    return {"kind": kind} | _object_to_json(record)


def from_json(line: object) -> r.Record:
    """The record that one JSON object states; ``BadInput`` names the field that is wrong."""
    if not isinstance(line, dict):
        raise BadInput(f'got {_short(line)}, wanted a JSON object with "kind"')
    if line.keys() == _READING_KEYS and line["kind"] == "reading":
        reading = _quick_reading(line)
        if reading is not None:
            return reading
    kind = line.get("kind")
    record = KINDS.get(kind) if isinstance(kind, str) else None
    if record is None:
        raise BadInput(f"kind: got {_short(kind)}, wanted one of {', '.join(KINDS)}")
    made = _object_from_json(record, {k: v for k, v in line.items() if k != "kind"}, str(kind))
    return typing.cast(r.Record, made)


_READING_KEYS = {"kind", "bench", "device", "channel", "value", "unit", "at"}


def _quick_reading(line: dict[str, object]) -> r.Reading | None:
    """A reading that is right, without the long way; None where that must say what is wrong."""
    value = line["value"]
    bench, device, channel, unit = line["bench"], line["device"], line["channel"], line["unit"]
    if type(value) is not float or not math.isfinite(value):
        return None
    if not type(bench) is type(device) is type(channel) is type(unit) is str:
        return None
    if "\0" in (names := f"{bench}{device}{channel}{unit}") or not names.isascii():
        return None
    try:
        return r.Reading(bench, device, channel, value + 0.0, unit, parse_time(line["at"]))
    except BadInput:
        return None


def _object_to_json(record: object) -> dict[str, object]:
    return {f.outside: f.write(getattr(record, f.name)) for f in fields_of(type(record))}


def _object_from_json(record: type, given: Mapping[str, object], what: str) -> object:
    known = fields_of(record)
    values: dict[str, object] = {}
    for f in known:
        if f.outside in given:
            try:
                values[f.name] = f.read(given[f.outside])
            except BadInput as error:
                raise BadInput(f"{what}, field {f.outside}: {error}") from error
        elif f.required:
            raise BadInput(f"{what}, field {f.outside}: missing, wanted a value")
    unknown = given.keys() - {f.outside for f in known}
    if unknown:
        raise BadInput(
            f"{what}: got the unknown field {min(unknown)!r}, "
            f"wanted only {', '.join(f.outside for f in known)}"
        )
    return record(**values)


_FIELDS: dict[type, tuple[Field, ...]] = {}


def fields_of(record: type) -> tuple[Field, ...]:
    """The fields of a record class, with the way into and out of JSON its annotations ask for."""
    if record not in _FIELDS:
        _FIELDS[record] = _look_up_fields(record)
    return _FIELDS[record]


def _look_up_fields(record: type) -> tuple[Field, ...]:
    hints = typing.get_type_hints(record)
    made = []
    for f in fields(record):
        read, write = _ways(hints[f.name], time=f.name.endswith("_ms"))
        required = f.default is MISSING and f.default_factory is MISSING
        made.append(Field(f.name, _outside(f.name), required, read, write))
    return tuple(made)


def _outside(name: str) -> str:
    return "coat_kind" if name == "kind" else name.removesuffix("_ms")


Ways = tuple[Callable[[object], object], Callable[[typing.Any], object]]


def _ways(hint: object, time: bool) -> Ways:
    origin = typing.get_origin(hint)
    if origin in (types.UnionType, typing.Union):
        inner = next(a for a in typing.get_args(hint) if a is not type(None))
        return _optional(_ways(inner, time))
    if origin is typing.Literal:
        return _choice(typing.get_args(hint)), _same
    if origin is tuple:
        return _list_of(typing.get_args(hint))
    if origin is dict:
        return _object, _same
    if time:
        return parse_time, format_time
    plain: dict[object, Ways] = {
        str: (_text, _same),
        int: (_whole, _same),
        float: (_number, float),
        bytes: (_bytes, lambda data: base64.b64encode(data).decode()),
    }
    if hint in plain:
        return plain[hint]
    inner_class = typing.cast(type, hint)
    return (lambda v: _object_from_json(inner_class, _object(v), "part of it")), _object_to_json


def _optional(ways: Ways) -> Ways:
    read, write = ways
    return (
        lambda v: None if v is None else read(v),
        lambda v: None if v is None else write(v),
    )


def _list_of(args: tuple[object, ...]) -> Ways:
    read, write = _ways(args[0], time=False)
    length = None if args[-1] is Ellipsis else len(args)

    def read_all(value: object) -> object:
        if not isinstance(value, list) or (length is not None and len(value) != length):
            raise BadInput(f"got {_short(value)}, wanted a list" + (f" of {length}" * bool(length)))
        return tuple(read(v) for v in value)

    return read_all, lambda values: [write(v) for v in values]


def _choice(choices: tuple[object, ...]) -> Callable[[object], object]:
    def read(value: object) -> object:
        if value not in choices:
            raise BadInput(f"got {_short(value)}, wanted one of {', '.join(map(str, choices))}")
        return value

    return read


def _same(value: object) -> object:
    return value


def _text(value: object) -> str:
    if not isinstance(value, str):
        raise BadInput(f"got {_short(value)}, wanted text")
    if "\0" in value or any("\ud800" <= c <= "\udfff" for c in value):
        raise BadInput(f"got {_short(value)}, wanted text without NUL or half characters")
    return value


def _whole(value: object) -> int:
    if not isinstance(value, int) or isinstance(value, bool) or abs(value) >= 2**63:
        raise BadInput(f"got {_short(value)}, wanted a whole number")
    return value


def _number(value: object) -> float:
    if not isinstance(value, (int, float)) or isinstance(value, bool):
        raise BadInput(f"got {_short(value)}, wanted a number")
    try:
        number = float(value)
    except OverflowError as error:
        raise BadInput(f"got {_short(value)}, wanted a number below 1.8e308") from error
    if not math.isfinite(number):
        raise BadInput(f"got {value!r}, wanted a finite number")
    return number + 0.0  # -0.0 becomes 0.0: the store has one zero


def _object(value: object) -> dict[str, object]:
    if not isinstance(value, dict):
        raise BadInput(f"got {_short(value)}, wanted an object")
    return value


def _bytes(value: object) -> bytes:
    try:
        return base64.b64decode(_text(value), validate=True)
    except (binascii.Error, ValueError) as error:
        raise BadInput(f"got {_short(value)}, wanted base64 text") from error


def _short(value: object) -> str:
    text = repr(value)
    return text if len(text) <= 60 else text[:57] + "..."
