"""The dew point of a strip: worked out of the buckets of air and humidity of one device.

A bucket's dew point is that of its mean air and mean humidity; the range within a bucket is not
known from them, so low and high are the same line.
"""

from collections.abc import Sequence

import numpy as np

from sprayout.climate.corrections import corrected_pct
from sprayout.climate.moist_air import dew_point_c
from sprayout.climate.salts import Correction
from sprayout.journal.strip import Strip, StripChannel

Column = tuple[float | None, ...]


def with_dew_point(strip: Strip, checks: Sequence[Correction] = ()) -> Strip:
    """Add `dew_point` and `margin_to_dew_point` for each device whose channels allow it.

    Humidity is corrected by the salt checks for that; its own line stays as it was read.
    """
    of_device: dict[str, dict[str, StripChannel]] = {}
    for channel in strip.channels:
        of_device.setdefault(channel.device, {})[channel.channel] = channel
    made = [
        new for channels in of_device.values() for new in _derived(channels, strip.at_ms, checks)
    ]
    return Strip(strip.at_ms, (*strip.channels, *made), strip.resolution)


def _derived(
    channels: dict[str, StripChannel], at_ms: Sequence[int], checks: Sequence[Correction]
) -> list[StripChannel]:
    air, humidity = channels.get("air_temperature"), channels.get("relative_humidity")
    if air is None or humidity is None or not air.mean:
        return []
    rh_pct = corrected_pct(checks, air.device, np.array(at_ms), _floats(humidity.mean))
    dew_c = dew_point_c(_floats(air.mean), rh_pct)
    made = [_line(air, "dew_point", "Cel", dew_c)]
    part = channels.get("part_temperature")
    if part is not None:
        made.append(_line(air, "margin_to_dew_point", "K", _floats(part.mean) - dew_c))
    return made


def _floats(column: Column) -> np.ndarray[tuple[int, ...], np.dtype[np.float64]]:
    return np.array([np.nan if value is None else value for value in column], np.float64)


def _line(
    like: StripChannel,
    channel: str,
    unit: str,
    values: np.ndarray[tuple[int, ...], np.dtype[np.float64]],
) -> StripChannel:
    column = tuple(round(float(v), 3) if np.isfinite(v) else None for v in values)
    return StripChannel(like.bench, like.device, channel, unit, column, column, column)
