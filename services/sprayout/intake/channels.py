"""The channels we know: their unit, what a probe can possibly read, and other units for them.

A value outside its span is a broken probe or a wrong mapping, not weather: it is refused, so that
it never stands beside good readings.  The spans are wide on purpose (common practice, no source);
absolute zero and 0 to 100 %RH are physics.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from sprayout.errors import BadInput

ABSOLUTE_ZERO_C = -273.15


@dataclass(frozen=True, slots=True)
class Channel:
    """A channel's registered unit (RFC 8428, 12.1) and the span of values it can take."""

    unit: str
    low: float
    high: float


_COUNTS = Channel("count", 0, 1e7)
CHANNELS: dict[str, Channel] = {
    "air_temperature": Channel("Cel", -60, 150),
    "part_temperature": Channel("Cel", -80, 450),
    "relative_humidity": Channel("%RH", 0, 100),
    "pressure": Channel("Pa", 30_000, 120_000),
    "booth_pressure": Channel("Pa", -5_000, 5_000),
    "air_speed": Channel("m/s", 0, 100),
} | dict.fromkeys(
    ("f1", "f2", "f3", "f4", "f5", "f6", "f7", "f8", "clear", "nir", "red", "green", "blue"),
    _COUNTS,
)

# canonical = value * factor + offset.  Factors: NIST SP 811 (2008), appendix B.8 and B.9.
_CONVERSIONS: dict[str, dict[str, tuple[float, float]]] = {
    "Cel": {
        "°C": (1, 0),
        "C": (1, 0),
        "degC": (1, 0),
        "K": (1, ABSOLUTE_ZERO_C),
        "°F": (5 / 9, -160 / 9),
        "F": (5 / 9, -160 / 9),
        "degF": (5 / 9, -160 / 9),
    },
    "%RH": {"%": (1, 0), "/": (100, 0)},
    "Pa": {
        "hPa": (100, 0),
        "mbar": (100, 0),
        "kPa": (1000, 0),
        "bar": (100_000, 0),
        "inHg": (3386.389, 0),
        "mmHg": (133.3224, 0),
        "inH2O": (249.0889, 0),
        "mmH2O": (9.80665, 0),
        "psi": (6894.757, 0),
    },
    "m/s": {
        "km/h": (1 / 3.6, 0),
        "ft/min": (0.00508, 0),
        "fpm": (0.00508, 0),
        "mph": (0.44704, 0),
        "kn": (1852 / 3600, 0),
    },
}


def known_units(unit: str) -> tuple[str, ...]:
    """The units that can be turned into ``unit``, itself first."""
    return (unit, *_CONVERSIONS.get(unit, {}))


def settle(channel: str, value: float, unit: str | None) -> tuple[float, str]:
    """The value in the channel's own unit, checked; :class:`BadInput` says what is wrong.

    A channel we do not know keeps its unit; only finite values pass.
    """
    if not math.isfinite(value):
        raise BadInput(f"{channel} reads {value}, wanted a number; check the probe")
    known = CHANNELS.get(channel)
    if known is None:
        return value, unit or ""
    settled = _convert(channel, value, unit, known.unit)
    if not known.low <= settled <= known.high:
        got = f"{value:g} {unit}" if unit == known.unit else f"{value:g} {unit} = {settled:g}"
        raise BadInput(
            f"{channel} reads {got}, wanted {known.low:g} to {known.high:g} {known.unit}; "
            "check the probe, or the unit and scale of its mapping"
        )
    return settled, known.unit


def _convert(channel: str, value: float, unit: str | None, wanted: str) -> float:
    if unit == wanted:
        return value
    factor = _CONVERSIONS.get(wanted, {}).get(unit or "")
    if factor is None:
        units = ", ".join(known_units(wanted))
        raise BadInput(f"{channel} has the unit {unit or 'none'}, wanted one of {units}")
    return value * factor[0] + factor[1]
