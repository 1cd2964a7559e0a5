"""What MQTT messages mean: our own packs, and foreign probes through mappings.  Pure.

A foreign probe sends a plain number, or JSON in which a pointer (RFC 6901) finds one, as a number
or as a number in text.  ``value * scale + offset`` is in the mapping's unit and is turned into
the channel's own.  Text, NaN and values no such probe can read are refused, each with one line.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterable
from dataclasses import dataclass, fields

from paho.mqtt.client import topic_matches_sub

from sprayout.errors import BadInput, SettingsError
from sprayout.intake.channels import CHANNELS, known_units, settle
from sprayout.intake.events import ChannelReading, ReadingsArrived
from sprayout.intake.packs import Parsed, from_records
from sprayout.intake.pointer import check_pointer, find
from sprayout.intake.topics import check_filter, own_device
from sprayout.link.fields import Fields, shown
from sprayout.link.senml import RELATIVE_BELOW_S, sift_pack

_NUMBER = re.compile(r"[+-]?(\d+(\.\d*)?|\.\d+)([eE][+-]?\d+)?\Z", re.ASCII)
PAYLOAD_BYTES_MAX = 64 * 1024
STALE = "a retained value of unknown age; waiting for the next live one"


@dataclass(frozen=True, slots=True)
class Mapping:
    """One channel of a foreign probe; ``unit`` is that of ``value * scale + offset``."""

    topic: str
    channel: str
    unit: str
    pointer: str | None = None
    scale: float = 1.0
    offset: float = 0.0
    bench: str = ""
    device: str | None = None

    def device_at(self, topic: str) -> str:
        """The probe's name: as set, or made from the topic its message came on."""
        return self.device or topic.strip("/").replace("/", "-")


def parse_mapping(given: object, where: str, bench: str) -> Mapping:
    """A mapping from settings; :class:`SettingsError` names what is wrong with it."""
    try:
        return _checked(_read_mapping(Fields(given, where), bench))
    except SettingsError:
        raise
    except BadInput as fault:
        raise SettingsError(f"{where}: {str(fault).removeprefix(f'{where}: ')}") from fault


def parse(topic: str, payload: bytes, mappings: Iterable[Mapping], now_ms: int) -> Parsed:
    """The readings of a foreign probe's message, one arrival per device."""
    found: dict[tuple[str, str], list[ChannelReading]] = {}
    refusals: list[str] = []
    for mapping in mappings:
        if not topic_matches_sub(mapping.topic, topic):
            continue
        try:
            reading = _read(mapping, payload, now_ms)
        except BadInput as fault:
            refusals.append(f"{topic}: {fault}")
            continue
        found.setdefault((mapping.bench, mapping.device_at(topic)), []).append(reading)
    arrivals = tuple(
        ReadingsArrived(bench, device, now_ms, tuple(readings))
        for (bench, device), readings in found.items()
    )
    return Parsed(arrivals, tuple(refusals))


def parse_own(topic: str, payload: bytes, now_ms: int, *, retained: bool = False) -> Parsed:
    """A SenML pack on ``sprayout/<bench>/<device>/senml``; bad records do not spoil good ones.

    A retained message is of any age: only records with a Unix time may stay.
    """
    named = own_device(topic)
    if named is None:
        return Parsed((), (f"{topic}: wanted sprayout/<bench>/<device>/senml",))
    bench, device, _ = named
    try:
        sifted = sift_pack(_json(payload))
    except BadInput as fault:
        return Parsed((), (f"{topic}: {fault}",))
    dated = tuple(record for record in sifted.records if record.t_s >= RELATIVE_BELOW_S)
    records = dated if retained else sifted.records
    parsed = from_records(bench, device, records, now_ms)
    stale = (STALE,) if len(records) < len(sifted.records) else ()
    refusals = (f"{topic}: {words}" for words in (*sifted.refusals, *parsed.refusals, *stale))
    return Parsed(parsed.arrivals, tuple(refusals))


def _read(mapping: Mapping, payload: bytes, now_ms: int) -> ChannelReading:
    if mapping.pointer is None:
        number = _number(_text(payload), "payload")
    else:
        number = _number(find(_json(payload), mapping.pointer), mapping.pointer or "payload")
    scaled = number * mapping.scale + mapping.offset
    value, unit = settle(mapping.channel, scaled, mapping.unit)
    return ChannelReading(mapping.channel, value, unit, now_ms)


def _number(value: object, where: str) -> float:
    if isinstance(value, str) and _NUMBER.match(value.strip(" \t\r\n")):
        return float(value)
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise BadInput(
            f"{where} is {shown(value)}, wanted a number; correct the probe or its mapping"
        )
    try:
        return float(value)
    except OverflowError:
        raise BadInput(f"{where} is {shown(value)}, wanted a number") from None


def _text(payload: bytes) -> str:
    if len(payload) > PAYLOAD_BYTES_MAX:
        raise BadInput(f"payload of {len(payload)} bytes, wanted at most {PAYLOAD_BYTES_MAX}")
    try:
        return payload.decode()
    except UnicodeDecodeError:
        raise BadInput(f"payload is {shown(payload)}, wanted text in UTF-8") from None


def _json(payload: bytes) -> object:
    text = _text(payload)
    try:
        return json.loads(text, parse_constant=_refuse_constant)
    except (ValueError, RecursionError) as fault:
        words = str(fault) if "NaN" in str(fault) or "Infinity" in str(fault) else "not JSON"
        raise BadInput(f"payload is {shown(text)} ({words}), wanted JSON") from None


def _refuse_constant(name: str) -> object:
    raise ValueError(f"{name} is not JSON")


def _read_mapping(given: Fields, bench: str) -> Mapping:
    unknown = given.given.keys() - {field.name for field in fields(Mapping)}
    if unknown:
        raise BadInput(f"unknown {', '.join(sorted(unknown))}")
    return Mapping(
        topic=given.text("topic"),
        channel=given.text("channel"),
        unit=given.text("unit"),
        pointer=given.text("pointer") if "pointer" in given.given else None,
        scale=given.number("scale") if "scale" in given.given else 1.0,
        offset=given.number("offset") if "offset" in given.given else 0.0,
        bench=given.text("bench") if "bench" in given.given else bench,
        device=given.text("device") if "device" in given.given else None,
    )


def _checked(mapping: Mapping) -> Mapping:
    check_filter(mapping.topic)
    check_pointer(mapping.pointer or "")
    known = CHANNELS.get(mapping.channel)
    if known is not None and mapping.unit not in known_units(known.unit):
        units = ", ".join(known_units(known.unit))
        raise BadInput(f"{mapping.channel} in {mapping.unit!r}, wanted one of {units}")
    if mapping.device and any(mark in mapping.topic for mark in "+#"):
        raise BadInput(
            f"topic {mapping.topic!r} may meet several probes; leave device out, and each is "
            "named by its topic"
        )
    return mapping
