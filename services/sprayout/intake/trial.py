"""What mappings would make of live messages: nothing is recorded, nothing acknowledged."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass

import paho.mqtt.client as paho

from sprayout.intake.broker import Broker
from sprayout.intake.clock import wall_clock_ms
from sprayout.intake.connection import Connection, ConnectionListener
from sprayout.intake.foreign import Mapping, parse, parse_own
from sprayout.intake.packs import Parsed
from sprayout.intake.topics import own_device

NUMBERS_SHOWN = 20


@dataclass(frozen=True, slots=True)
class Tried:
    """One live message and what the mappings make of it.

    ``numbers`` lists what a mapping could point at: JSON pointer and value; the pointer is empty
    where the whole payload is a number.
    """

    topic: str
    payload: str
    retained: bool
    parsed: Parsed
    numbers: tuple[tuple[str, float], ...]


class Trial:
    """Listens on the mappings' topics, or any others, and tells what would come of it."""

    def __init__(
        self,
        broker: Broker,
        filters: Iterable[str],
        mappings: Iterable[Mapping],
        tried: Callable[[Tried], None],
        said: Callable[[bool, str], None],
        *,
        clock_ms: Callable[[], int] = wall_clock_ms,
    ) -> None:
        self._filters, self._mappings = tuple(dict.fromkeys(filters)), tuple(mappings)
        self._tried, self._clock_ms = tried, clock_ms
        listener = ConnectionListener(self._subscribe, said, self._received)
        self._connection = Connection(broker, "", listener, persistent=False)

    def start(self) -> None:
        """Begin to connect; returns at once."""
        self._connection.start()

    def stop(self) -> None:
        """Leave; the broker keeps nothing for us."""
        self._connection.stop()

    def _subscribe(self) -> None:
        self._connection.subscribe([(topic_filter, 0) for topic_filter in self._filters])

    def _received(self, message: paho.MQTTMessage) -> None:
        payload = bytes(message.payload)
        self._tried(
            try_message(message.topic, payload, message.retain, self._mappings, self._clock_ms())
        )


def try_message(
    topic: str, payload: bytes, retained: bool, mappings: Iterable[Mapping], now_ms: int
) -> Tried:
    """What the mappings make of one message.  Pure."""
    if own_device(topic) is not None:
        parsed = parse_own(topic, payload, now_ms, retained=retained)
    else:
        parsed = parse(topic, payload, mappings, now_ms)
    text = payload.decode(errors="replace")
    return Tried(topic, text, retained, parsed, tuple(numbers_in(text))[:NUMBERS_SHOWN])


def numbers_in(text: str) -> Iterator[tuple[str, float]]:
    """JSON pointer (RFC 6901) and value of each number in a payload."""
    try:
        document = json.loads(text)
    except (ValueError, RecursionError):
        return
    yield from _numbers(document, "")


def _numbers(value: object, pointer: str) -> Iterator[tuple[str, float]]:
    if isinstance(value, dict):
        for key, inner in value.items():
            token = str(key).replace("~", "~0").replace("/", "~1")
            yield from _numbers(inner, f"{pointer}/{token}")
    elif isinstance(value, list):
        for place, inner in enumerate(value):
            yield from _numbers(inner, f"{pointer}/{place}")
    elif isinstance(value, int | float) and not isinstance(value, bool):
        yield pointer, value
