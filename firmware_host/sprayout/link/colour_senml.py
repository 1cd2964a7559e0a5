"""A colour measurement as a plain SenML pack, so that it can leave the cable whole.

On the cable the gain, the integration time and the ambient counts stand beside the pack.  Over
MQTT there is only the pack, and counts without their gain say nothing: they become records of
their own.  Units are registered ones (RFC 8428, table 12.1; ``/`` marks a bare number).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from sprayout.link.messages import ColourPack
from sprayout.link.senml import Record

GAIN, INTEGRATION_TIME, FULL_SCALE, LIGHT = "gain", "integration_time", "full_scale", "light"
_AMBIENT, _SATURATED = "/ambient", "/saturated"


@dataclass(frozen=True, slots=True)
class ColourSetting:
    """How the counts beside it were taken; ``ambient`` by channel name (counts)."""

    gain: float
    integration_ms: float
    full_scale: float
    light: str
    saturated: tuple[str, ...]
    ambient: dict[str, float]


def setting_of(pack: ColourPack) -> ColourSetting:
    """How a pack from the cable was taken."""
    channels = (record.name for record in pack.records)
    return ColourSetting(
        gain=pack.gain,
        integration_ms=pack.integration_ms,
        full_scale=pack.full_scale,
        light=pack.light,
        saturated=pack.saturated,
        ambient=dict(zip(channels, pack.ambient, strict=False)),
    )


def colour_to_records(counts: Sequence[Record], setting: ColourSetting) -> tuple[Record, ...]:
    """The counts first, then how they were taken, all at the time of the first count."""
    t_s = counts[0].t_s if counts else 0.0
    taken = [
        Record(GAIN, "/", setting.gain, t_s),
        Record(INTEGRATION_TIME, "s", setting.integration_ms / 1000, t_s),
        Record(FULL_SCALE, "count", setting.full_scale, t_s),
        Record(LIGHT, "/", float(setting.light == "on"), t_s),
    ]
    ambient = [
        Record(channel + _AMBIENT, "count", value, t_s)
        for channel, value in setting.ambient.items()
    ]
    saturated = [Record(channel + _SATURATED, "/", 1.0, t_s) for channel in setting.saturated]
    return (*counts, *taken, *ambient, *saturated)


def split_colour(records: Iterable[Record]) -> tuple[tuple[Record, ...], ColourSetting | None]:
    """The measured channels apart from how they were taken; None where that is not said whole."""
    listed = tuple(records)
    by_name = {record.name: record for record in listed}
    if not {GAIN, INTEGRATION_TIME, FULL_SCALE} <= by_name.keys():
        return listed, None
    setting = ColourSetting(
        gain=by_name.pop(GAIN).value,
        integration_ms=by_name.pop(INTEGRATION_TIME).value * 1000,
        full_scale=by_name.pop(FULL_SCALE).value,
        light="on" if _take(by_name, LIGHT, 1.0) else "off",
        saturated=tuple(name.removesuffix(_SATURATED) for name in _ending(by_name, _SATURATED)),
        ambient={
            name.removesuffix(_AMBIENT): by_name[name].value for name in _ending(by_name, _AMBIENT)
        },
    )
    kept = [record for name, record in by_name.items() if not name.endswith((_AMBIENT, _SATURATED))]
    return tuple(kept), setting


def _take(by_name: dict[str, Record], name: str, otherwise: float) -> float:
    record = by_name.pop(name, None)
    return otherwise if record is None else record.value


def _ending(by_name: dict[str, Record], suffix: str) -> list[str]:
    return [name for name in by_name if name.endswith(suffix)]
