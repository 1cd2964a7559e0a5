"""What host and board say to each other, as values: protocol version 1.

Requests go from host to board and each has its answer; notifications come from the board by
themselves.  :data:`METHODS` is the protocol at a glance.  How the values stand in JSON is the
business of :mod:`sprayout.link.rpc`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from sprayout.link.senml import Record

PROTOCOL = 1
SEQUENCE_MODULUS = 2**29
"""One counter numbers measures and notifications, so that gaps show; it wraps here, because a
small MicroPython board has 31-bit integers without taking heap."""

PARSE_ERROR, UNKNOWN_METHOD, WRONG_PARAMS = -32700, -32601, -32602  # JSON-RPC 2.0, section 5.1
PART_FAILED, BUSY = -32001, -32002

COLOUR, CLIMATE, PART, AIRFLOW = "colour", "climate", "part", "airflow"
QUANTITIES = (COLOUR, CLIMATE, PART, AIRFLOW)
"""What ``measure`` can be asked for; colour is asked for alone."""


@dataclass(frozen=True, slots=True)
class Hello:
    """Who are you?  The first request after a port opens."""

    protocol: int = PROTOCOL


@dataclass(frozen=True, slots=True)
class Chip:
    """One chip the board found, with its identity register as read."""

    role: str
    chip: str
    address: int
    identity: str


@dataclass(frozen=True, slots=True)
class HelloAnswer:
    """The board by name, and what sits on it."""

    protocol: int
    firmware: str
    device: str
    sensor: str
    channels: tuple[str, ...]
    chips: tuple[Chip, ...]
    uptime_ms: int


@dataclass(frozen=True, slots=True)
class Configure:
    """Set what is given; ``"auto"`` chooses the gain on the surface now under the sensor."""

    gain: float | Literal["auto"] | None = None
    integration_ms: float | None = None
    led_ma: float | None = None


@dataclass(frozen=True, slots=True)
class ConfigureAnswer:
    """What is in force; ``full_scale`` is the count at which a channel clips."""

    gain: float
    integration_ms: float
    full_scale: float
    led_ma: float


@dataclass(frozen=True, slots=True)
class Measure:
    """Measure once, now: ``("colour",)`` or any of climate, part and airflow."""

    of: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class ColourPack:
    """Raw counts of one colour measurement, ambient light not subtracted.

    ``ambient`` holds the counts with the LED off, in channel order (counts).
    """

    sequence: int
    light: str
    gain: float
    integration_ms: float
    full_scale: float
    saturated: tuple[str, ...]
    ambient: tuple[float, ...]
    records: tuple[Record, ...]


@dataclass(frozen=True, slots=True)
class ClimatePack:
    """Booth climate: only what exists and answered."""

    sequence: int
    records: tuple[Record, ...]


Pack = ColourPack | ClimatePack


@dataclass(frozen=True, slots=True)
class Stream:
    """Send packs by itself every so many milliseconds of board time; 0 stops."""

    colour_ms: int
    climate_ms: int


@dataclass(frozen=True, slots=True)
class StreamAnswer:
    """The periods in force after the board bounded them."""

    colour_ms: int
    climate_ms: int


@dataclass(frozen=True, slots=True)
class SelfTest:
    """Test yourself and say what failed."""


@dataclass(frozen=True, slots=True)
class Check:
    """One line of the self-test."""

    name: str
    passed: bool
    words: str


@dataclass(frozen=True, slots=True)
class SelfTestAnswer:
    """The whole self-test."""

    passed: bool
    checks: tuple[Check, ...]


@dataclass(frozen=True, slots=True)
class Button:
    """The push button was pressed; ``count`` presses since the board started."""

    sequence: int
    count: int


@dataclass(frozen=True, slots=True)
class Fault:
    """A part of the board failed, ``count`` times so far."""

    sequence: int
    part: str
    words: str
    count: int


Request = Hello | Configure | Measure | Stream | SelfTest
Answer = HelloAnswer | ConfigureAnswer | Pack | StreamAnswer | SelfTestAnswer
Notification = Pack | Button | Fault

METHODS: dict[type[Request], str] = {
    Hello: "hello",
    Configure: "configure",
    Measure: "measure",
    Stream: "stream",
    SelfTest: "self_test",
}


@dataclass(frozen=True, slots=True)
class RequestMessage:
    """A request on the cable; the answer carries the same id."""

    id: int
    request: Request


@dataclass(frozen=True, slots=True)
class ResultMessage:
    """An answer on the cable, not yet read: what it means depends on the request."""

    id: int
    result: object


@dataclass(frozen=True, slots=True)
class FailureMessage:
    """A JSON-RPC error; ``id`` is None where the request could not be read."""

    id: int | None
    code: int
    words: str


@dataclass(frozen=True, slots=True)
class NotificationMessage:
    """Something the board says by itself."""

    notification: Notification


Message = RequestMessage | ResultMessage | FailureMessage | NotificationMessage
