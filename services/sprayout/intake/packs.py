"""From SenML records to an arrival: times fixed, units settled, absurd values refused.  Pure."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from sprayout.errors import BadInput
from sprayout.intake.channels import settle
from sprayout.intake.events import ChannelReading, ColourDetail, ReadingsArrived
from sprayout.link.colour_senml import (
    ColourSetting,
    colour_to_records,
    setting_of,
    split_colour,
)
from sprayout.link.messages import ColourPack, Pack
from sprayout.link.senml import Record, at_ms

AHEAD_MS_MAX = 60_000
"""A reading dated later than this would look live long after its probe fell silent."""


@dataclass(frozen=True, slots=True)
class Parsed:
    """What one message gave: arrivals to record, and one line for each value refused."""

    arrivals: tuple[ReadingsArrived, ...] = ()
    refusals: tuple[str, ...] = ()


def settle_records(
    records: Iterable[Record], now_ms: int
) -> tuple[tuple[ChannelReading, ...], tuple[str, ...]]:
    """The good readings, and one line for each refused."""
    readings: list[ChannelReading] = []
    refusals: list[str] = []
    for record in records:
        try:
            readings.append(_settle_record(record, now_ms))
        except BadInput as fault:
            refusals.append(str(fault))
    return tuple(readings), tuple(refusals)


def _settle_record(record: Record, now_ms: int) -> ChannelReading:
    value, unit = settle(record.name, record.value, record.unit)
    time_ms = at_ms(record, now_ms)
    if time_ms > now_ms + AHEAD_MS_MAX:
        ahead_s = (time_ms - now_ms) / 1000
        raise BadInput(
            f"{record.name} is dated {ahead_s:.0f} s ahead of this computer, wanted at most "
            f"{AHEAD_MS_MAX // 1000} s; set the clock of the one that is wrong"
        )
    return ChannelReading(record.name, value, unit, time_ms)


def from_board(bench: str, device: str, pack: Pack, now_ms: int) -> Parsed:
    """A pack that came over the cable."""
    readings, refusals = settle_records(pack.records, now_ms)
    setting = setting_of(pack) if isinstance(pack, ColourPack) else None
    return _parsed(bench, device, readings, refusals, setting, pack.sequence)


def from_records(bench: str, device: str, records: Iterable[Record], now_ms: int) -> Parsed:
    """A pack that came over the broker, where a colour setting stands among the records."""
    measured, setting = split_colour(records)
    readings, refusals = settle_records(measured, now_ms)
    return _parsed(bench, device, readings, refusals, setting, None)


def _parsed(
    bench: str,
    device: str,
    readings: tuple[ChannelReading, ...],
    refusals: tuple[str, ...],
    setting: ColourSetting | None,
    sequence: int | None,
) -> Parsed:
    if not readings:
        return Parsed((), refusals)
    colour = None if setting is None else _detail(setting, readings)
    newest_ms = max(reading.at_ms for reading in readings)
    arrival = ReadingsArrived(bench, device, newest_ms, readings, colour, sequence)
    return Parsed((arrival,), refusals)


def _detail(setting: ColourSetting, readings: Iterable[ChannelReading]) -> ColourDetail:
    channels = [reading.channel for reading in readings]
    whole = all(channel in setting.ambient for channel in channels)
    return ColourDetail(
        gain=setting.gain,
        integration_ms=setting.integration_ms,
        full_scale=setting.full_scale,
        saturated=setting.saturated,
        ambient=tuple(setting.ambient[channel] for channel in channels) if whole else (),
        light=setting.light,
    )


def to_records(arrival: ReadingsArrived) -> tuple[Record, ...]:
    """An arrival as the records of a pack for the broker, with its times as they are."""
    counts = tuple(
        Record(reading.channel, reading.unit or None, reading.value, reading.at_ms / 1000)
        for reading in arrival.readings
    )
    return counts if arrival.colour is None else colour_to_records(counts, _setting(arrival))


def _setting(arrival: ReadingsArrived) -> ColourSetting:
    detail = arrival.colour
    assert detail is not None
    channels = (reading.channel for reading in arrival.readings)
    return ColourSetting(
        gain=detail.gain,
        integration_ms=detail.integration_ms,
        full_scale=detail.full_scale,
        light=detail.light,
        saturated=detail.saturated,
        ambient=dict(zip(channels, detail.ambient, strict=False)),
    )
