"""Is the fan running?  Readings and their age in, a state and its words out.

The rule behind it: spraying only while the fan runs (interlock; 29 CFR 1910.107, NFPA 33), and a
visible gauge or alarm on the booth (1910.107(b)(5)(i)).  A reading that is missing, stale or not
a number confirms nothing; a reading that has fallen speaks against all others.
"""

import math
from dataclasses import dataclass
from typing import Literal

from sprayout.errors import BadInput
from sprayout.safety.wording import said

State = Literal["confirmed", "not confirmed", "unknown"]


@dataclass(frozen=True, slots=True)
class Reading:
    """One sensor's last value and how long ago it came, both ``None`` where nothing came."""

    value: float | None
    age_s: float | None


@dataclass(frozen=True, slots=True)
class FanReadings:
    """What the bench knows of its fan; ``None`` where no such sensor is wired.

    ``booth_pressure_pa`` is the drop across the filter, or the booth against the room; which hose
    sits where is not known, so its magnitude counts.
    """

    air_speed_m_s: Reading | None = None
    booth_pressure_pa: Reading | None = None
    fan_power_w: Reading | None = None


@dataclass(frozen=True, slots=True)
class FanLimits:
    """From which reading on the fan counts as running, and how old a reading may be.

    The defaults are ours (project choice): 0.3 m/s and 2 Pa lie well above a sensor's own zero;
    set them from the booth's reading with the fan on and a dirty filter.
    """

    air_speed_min_m_s: float = 0.3
    suction_min_pa: float = 2.0
    power_min_w: float = 5.0
    oldest_s: float = 5.0
    suction_max_pa: float | None = None
    """Over this the filter is taken for blocked (twice the clean drop is a usual change)."""

    def __post_init__(self) -> None:
        names = ("air_speed_min_m_s", "suction_min_pa", "power_min_w", "oldest_s", "suction_max_pa")
        for name in names:
            value = getattr(self, name)
            if name == "suction_max_pa" and value is None:
                continue
            if not (math.isfinite(value) and value > 0):
                raise BadInput(
                    f"fan limit {name}: got {value}, wanted a number above 0; "
                    "take it from a reading with the fan running"
                )


@dataclass(frozen=True, slots=True)
class FanState:
    """What may be said of the fan, and the words for it."""

    state: State
    words: str

    @property
    def confirmed(self) -> bool:
        """True only where airflow or suction was read, fresh and high enough, and nothing fell."""
        return self.state == "confirmed"


@dataclass(frozen=True, slots=True)
class _Channel:
    name: str
    unit: str
    reading: Reading | None
    least: float
    moves_air: bool
    most: float | None = None

    def fresh(self, oldest_s: float) -> float | None:
        """The value where it is a number and young enough, else ``None``."""
        if self.reading is None or self.reading.value is None or self.reading.age_s is None:
            return None
        value, age_s = self.reading.value, self.reading.age_s
        fresh = math.isfinite(value) and math.isfinite(age_s) and 0.0 <= age_s <= oldest_s
        return value if fresh else None


def evaluate(readings: FanReadings, limits: FanLimits | None = None) -> FanState:
    """State of the fan from its readings.

    ``confirmed``: airflow or suction is fresh and high enough and no wired reading has fallen or
    gone missing.  ``not confirmed``: a reading has fallen, a wired sensor is silent, or only the
    motor's power is known.  ``unknown``: nothing usable at all.
    """
    limits = limits or FanLimits()
    wired = [c for c in _channels(readings, limits) if c.reading is not None]
    values = [(channel, channel.fresh(limits.oldest_s)) for channel in wired]
    if not any(value is not None for _, value in values):
        return FanState("unknown", _nothing_words(wired))
    for channel, value in values:
        if value is not None and value < channel.least:
            return FanState("not confirmed", _fallen_words(channel, value))
        if value is not None and channel.most is not None and value > channel.most:
            return FanState("not confirmed", _blocked_words(channel, value, channel.most))
    for channel, value in values:
        if value is None:
            words = f"Fan not confirmed: {channel.name} gives no fresh reading. Stop and look."
            return FanState("not confirmed", words)
    moving = [(c, v) for c, v in values if c.moves_air and v is not None]
    if not moving:
        words = (
            "Fan not confirmed: the motor draws power, but nothing shows that air moves "
            "(loose wheel, blocked filter). Hold a thread at the face and look."
        )
        return FanState("not confirmed", words)
    seen = ", ".join(f"{c.name} {said(v)} {c.unit}" for c, v in moving)
    return FanState("confirmed", f"Fan moves air: {seen}. This says nothing about vapour.")


def _channels(readings: FanReadings, limits: FanLimits) -> tuple[_Channel, ...]:
    pressure = readings.booth_pressure_pa
    suction = pressure and Reading(
        None if pressure.value is None else abs(pressure.value), pressure.age_s
    )
    return (
        _Channel("airflow", "m/s", readings.air_speed_m_s, limits.air_speed_min_m_s, True),
        _Channel("suction", "Pa", suction, limits.suction_min_pa, True, limits.suction_max_pa),
        _Channel("fan power", "W", readings.fan_power_w, limits.power_min_w, False),
    )


def _nothing_words(wired: list[_Channel]) -> str:
    if not wired:
        return (
            "Fan unknown: no airflow, pressure or power sensor is wired. Look at the fan and hold "
            "a thread at the booth face before you spray."
        )
    names = " and ".join(channel.name for channel in wired)
    return f"Fan unknown: {names} silent or too old. Do not rely on it; look at the fan."


def _fallen_words(channel: _Channel, value: float) -> str:
    return (
        f"Fan not confirmed: {channel.name} {said(value)} {channel.unit}, under "
        f"{said(channel.least)} {channel.unit}. Stop spraying, check fan, filter and duct."
    )


def _blocked_words(channel: _Channel, value: float, most: float) -> str:
    return (
        f"Fan not confirmed: {channel.name} {said(value)} {channel.unit}, over {said(most)} "
        f"{channel.unit}: the filter is blocked and little air moves. Change it."
    )
