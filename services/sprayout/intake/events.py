"""What comes in, as values: one frozen dataclass per thing that happens.

Times are Unix milliseconds, UTC.  An intake hands each event to a receiver of type
:data:`Deliver`, from a thread of its own.  Where an acknowledgement comes along, the sender keeps
the message until the receiver calls it, which it does once the record is committed.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class ChannelReading:
    """One value of one channel at one time."""

    channel: str
    value: float
    unit: str
    at_ms: int


@dataclass(frozen=True, slots=True)
class ColourDetail:
    """How a colour measurement was taken.

    ``ambient`` are the counts with the LED off, in the order of the channel readings; empty where
    the sender did not say.  ``saturated`` names the channels at the top of their range.
    """

    gain: float
    integration_ms: float
    full_scale: float
    saturated: tuple[str, ...]
    ambient: tuple[float, ...]
    light: str


@dataclass(frozen=True, slots=True)
class ReadingsArrived:
    """One pack of readings of one device; ``colour`` is there where they are counts of light."""

    bench: str
    device: str
    at_ms: int
    readings: tuple[ChannelReading, ...]
    colour: ColourDetail | None = None
    sequence: int | None = None


@dataclass(frozen=True, slots=True)
class DeviceStatus:
    """A board, a probe or a broker came or went, and what there is to say about it."""

    bench: str
    device: str
    at_ms: int
    online: bool
    words: str


@dataclass(frozen=True, slots=True)
class ButtonPressed:
    """The board's push button; ``count`` presses since it started."""

    bench: str
    device: str
    at_ms: int
    count: int
    sequence: int


@dataclass(frozen=True, slots=True)
class FaultReported:
    """The board says that a part of it failed."""

    bench: str
    device: str
    at_ms: int
    part: str
    words: str
    count: int
    sequence: int


@dataclass(frozen=True, slots=True)
class ReadingsMissing:
    """So many messages of the board were lost on the way: a gap, to be shown as one."""

    bench: str
    device: str
    at_ms: int
    count: int


@dataclass(frozen=True, slots=True)
class LinkCounters:
    """What the cable did since the intake started; sent when something bad was counted."""

    bench: str
    device: str
    at_ms: int
    good: int
    failed_checks: int
    overlong: int
    missing: int
    unexpected: int


@dataclass(frozen=True, slots=True)
class InputRejected:
    """Something came in and was refused: one line that says what, got, wanted, next step."""

    source: str
    words: str
    at_ms: int


Event = (
    ReadingsArrived
    | DeviceStatus
    | ButtonPressed
    | FaultReported
    | ReadingsMissing
    | LinkCounters
    | InputRejected
)
Acknowledge = Callable[[], None]
Deliver = Callable[[Event, Acknowledge | None], None]
