"""Sensor Measurement Lists (SenML, RFC 8428) in JSON: parse and format, numbers only.

A pack is a JSON array of records.  Base fields (``bn bt bu bv bver``) hold for their record and
those after it until set anew (RFC 8428, 4.1); a resolved record has its base name and value
added in (4.6).  A time below 2**28 counts from now, in seconds, negative being the past; one
above is Unix time (4.5.3).  Text, data and truth values are legal SenML but no measurement of
ours: they are refused by name.  A field ending in ``_`` that we do not know must not be passed
over (4.4).
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from sprayout.errors import BadInput
from sprayout.link.fields import shown

RELATIVE_BELOW_S = 2**28
"""Times below this count from now (RFC 8428, 4.5.3)."""

VERSION = 10
"""The version of SenML that RFC 8428 describes (4.4)."""

_PLAIN = frozenset(("n", "u", "v", "t"))  # such a record leaves the base as it is
_MEASURED = frozenset(("n", "u", "v", "t", "vs", "vb", "vd", "s"))
_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9\-:./_]*\Z")  # RFC 8428, 4.5.1


@dataclass(frozen=True, slots=True)
class Record:
    """One resolved measurement; ``t_s`` below 2**28 counts from now, else it is Unix time."""

    name: str
    unit: str | None
    value: float
    t_s: float = 0.0


@dataclass(frozen=True, slots=True)
class Sifted:
    """The good records of a pack, and one line for each that was refused."""

    records: tuple[Record, ...]
    refusals: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _Base:
    name: str = ""
    time_s: float = 0.0
    unit: str | None = None
    value: float = 0.0


def at_ms(record: Record, now_ms: int) -> int:
    """Unix time of a record in ms, ``now_ms`` being the time its pack arrived."""
    if record.t_s < RELATIVE_BELOW_S:
        return now_ms + round(record.t_s * 1000)
    return round(record.t_s * 1000)


def at_time(records: Iterable[Record], now_ms: int) -> tuple[Record, ...]:
    """The same records with Unix times, for a pack that will be read later than ``now_ms``."""
    return tuple(replace(record, t_s=at_ms(record, now_ms) / 1000) for record in records)


def format_pack(records: Iterable[Record]) -> list[dict[str, object]]:
    """The pack as JSON values; a time that all records share is written once, as ``bt``."""
    listed = list(records)
    times = {record.t_s for record in listed}
    shared_s = listed[0].t_s if len(times) == 1 else 0.0
    pack = [_format_record(record, record.t_s - shared_s) for record in listed]
    if shared_s:
        pack[0] = {"bt": shared_s, **pack[0]}
    return pack


def parse_pack(pack: object) -> tuple[Record, ...]:
    """The resolved records of a pack; :class:`BadInput` names the first record that is wrong."""
    sifted = sift_pack(pack)
    if sifted.refusals:
        raise BadInput(sifted.refusals[0])
    return sifted.records


def sift_pack(pack: object) -> Sifted:
    """The good records of a pack apart from the bad; :class:`BadInput` if it is no pack at all."""
    if not isinstance(pack, list) or not pack:
        raise BadInput(f"SenML: got {shown(pack)}, wanted an array of records (RFC 8428)")
    base = _Base()
    records: list[Record] = []
    refusals: list[str] = []
    for position, item in enumerate(pack, start=1):
        try:
            base = _next_base(item, base)
            records.extend(_measured(item, base))
        except BadInput as fault:
            refusals.append(f"SenML record {position}{_called(item)}: {fault}")
    return Sifted(tuple(records), tuple(refusals))


def _format_record(record: Record, t_s: float) -> dict[str, object]:
    written: dict[str, object] = {"n": record.name}
    if record.unit is not None:
        written["u"] = record.unit
    value = record.value
    written["v"] = int(value) if float(value).is_integer() and abs(value) < 2**53 else value
    if t_s:
        written["t"] = t_s
    return written


def _next_base(item: object, before: _Base) -> _Base:
    if not isinstance(item, dict):
        raise BadInput(f"got {shown(item)}, wanted an object")
    if item.keys() <= _PLAIN:
        return before
    _refuse_unknown(item)
    return _Base(
        name=_text(item, "bn", before.name) or "",
        time_s=_number(item, "bt", before.time_s),
        unit=_text(item, "bu", before.unit),
        value=_number(item, "bv", before.value),
    )


def _measured(item: Mapping[str, object], base: _Base) -> list[Record]:
    """The record's measurement; none where only base fields stand."""
    if item.keys().isdisjoint(_MEASURED):
        return []
    return [_resolve(item, base)]


def _resolve(item: Mapping[str, object], base: _Base) -> Record:
    name = base.name + (_text(item, "n", "") or "")
    if not _NAME.match(name):
        raise BadInput(f'name is {shown(name)}, wanted letters, digits and "-:./_" ("n" or "bn")')
    if "v" not in item:
        kind = next((kind for kind in ("vs", "vb", "vd", "s") if kind in item), None)
        got = f'"{kind}" {shown(item[kind])}' if kind else "no value"
        raise BadInput(f'got {got}, wanted a number in "v"')
    value = _number(item, "v", 0.0) + base.value
    return Record(name, _text(item, "u", base.unit), value, _number(item, "t", 0.0) + base.time_s)


def _refuse_unknown(item: Mapping[str, object]) -> None:
    if _number(item, "bver", VERSION) > VERSION:
        raise BadInput(f'"bver" is {shown(item["bver"])}, wanted at most {VERSION}')
    for field in item:
        if field.endswith("_"):
            raise BadInput(f'field "{field}" must be understood (RFC 8428, 4.4) and is not')


def _number(item: Mapping[str, object], field: str, otherwise: float) -> float:
    if field not in item:
        return otherwise
    value = item[field]
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise BadInput(f'"{field}" is {shown(value)}, wanted a number')
    return _finite(value, field)


def _finite(value: float, field: str) -> float:
    try:
        number = float(value)
    except OverflowError:
        number = math.inf
    if not math.isfinite(number):
        raise BadInput(f'"{field}" is {shown(value)}, wanted a finite number')
    return number


def _text(item: Mapping[str, object], field: str, otherwise: str | None) -> str | None:
    if field not in item:
        return otherwise
    value = item[field]
    if not isinstance(value, str):
        raise BadInput(f'"{field}" is {shown(value)}, wanted text')
    return value


def _called(item: object) -> str:
    name = item.get("n", item.get("bn")) if isinstance(item, dict) else None
    return f" ({name[:60]})" if isinstance(name, str) else ""
