"""Faults of the virtual board as values in a list; times are seconds of the board's own clock.

::

    faults = [NoAnswer("sht31", from_s=60, to_s=75), CableNoise(per_byte=1e-3)]
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import TypeVar

from sprayout.errors import BadInput

CHIPS = ("as7341", "tcs34725", "sht31", "mlx90614", "sdp810")


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """Something is wrong from ``from_s`` until just before ``to_s``."""

    from_s: float = 0.0
    to_s: float = math.inf

    def __post_init__(self) -> None:
        if not self.from_s < self.to_s:
            raise BadInput(
                f"fault {type(self).__name__}: from_s is {self.from_s}, to_s {self.to_s}; "
                "it must begin before it ends"
            )

    def holds(self, t_s: float) -> bool:
        return self.from_s <= t_s < self.to_s


def _known_chip(chip: str) -> None:
    if chip not in CHIPS:
        raise BadInput(f"fault of chip {chip!r}: unknown chip; use one of {', '.join(CHIPS)}")


@dataclass(frozen=True, slots=True)
class NoAnswer(Fault):
    """The chip does not acknowledge its address."""

    chip: str

    def __post_init__(self) -> None:
        super(NoAnswer, self).__post_init__()
        _known_chip(self.chip)


@dataclass(frozen=True, slots=True)
class StuckBus(Fault):
    """A chip holds the data line low; nine clock pulses free it if ``frees``."""

    frees: bool = False


@dataclass(frozen=True, slots=True)
class WrongIdentity(Fault):
    """The identity register reads ``reads``: another chip at the address of this one."""

    chip: str
    reads: int

    def __post_init__(self) -> None:
        super(WrongIdentity, self).__post_init__()
        _known_chip(self.chip)


@dataclass(frozen=True, slots=True)
class PowerLoss(Fault):
    """At ``from_s`` the chip's supply dips: its registers are as after power-up."""

    chip: str

    def __post_init__(self) -> None:
        super(PowerLoss, self).__post_init__()
        _known_chip(self.chip)


@dataclass(frozen=True, slots=True)
class BadCheckSum(Fault):
    """A bit of what is read from the chip flips on the way, in a ``share`` of the reads."""

    chip: str
    share: float = 1.0

    def __post_init__(self) -> None:
        super(BadCheckSum, self).__post_init__()
        _known_chip(self.chip)


@dataclass(frozen=True, slots=True)
class DriftingLed(Fault):
    """The LED gives ``per_hour`` of its light less (or more, if negative) each hour."""

    per_hour: float

    def factor(self, t_s: float) -> float:
        hours = max(0.0, min(t_s, self.to_s) - self.from_s) / 3600
        return max(0.0, 1 - self.per_hour * hours)


@dataclass(frozen=True, slots=True)
class SoakedProbe(Fault):
    """The climate probe was long above 80 %RH and reads high.

    The SHT3x data sheet gives about +3 %RH after 60 h, going back slowly in dry air; the time
    constant of going back is ours.
    """

    offset_pct: float = 3.0
    recovery_s: float = 6 * 3600.0

    def offset(self, t_s: float) -> float:
        if t_s < self.from_s:
            return 0.0
        return self.offset_pct * math.exp(-max(0.0, t_s - self.to_s) / self.recovery_s)


@dataclass(frozen=True, slots=True)
class CableNoise(Fault):
    """Each byte on the cable, either way, is replaced by a random one with this probability."""

    per_byte: float


@dataclass(frozen=True, slots=True)
class BouncingButton(Fault):
    """For ``for_s`` after each press and release the contact toggles at ``hz``."""

    hz: float = 100_000.0
    for_s: float = 0.02


AnyFault = TypeVar("AnyFault", bound=Fault)


def of_kind(faults: Iterable[Fault], kind: type[AnyFault]) -> tuple[AnyFault, ...]:
    """The faults of one kind, in order."""
    return tuple(fault for fault in faults if isinstance(fault, kind))
