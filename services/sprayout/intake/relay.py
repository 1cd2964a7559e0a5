"""A bench's board forwarded to a club's broker: serial in, MQTT out.

What the board measures goes out as it came, with its times, and waits in memory while the broker
is away.  The relay judges nothing and keeps no record: the bench that reads the broker does.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from concurrent.futures import Future
from dataclasses import dataclass

from sprayout.intake.broker import Broker
from sprayout.intake.clock import wall_clock_ms
from sprayout.intake.events import (
    Acknowledge,
    DeviceStatus,
    Event,
    FaultReported,
    InputRejected,
    ReadingsArrived,
    ReadingsMissing,
)
from sprayout.intake.forwarder import Forwarder
from sprayout.intake.serial_intake import SerialIntake
from sprayout.link.messages import StreamAnswer

Say = Callable[[str], None]


@dataclass(frozen=True, slots=True)
class RelayCount:
    """Packs handed on, those the broker did not get before the end, and those given up."""

    relayed: int
    not_delivered: int
    dropped: int


class Relay:
    """One board, one broker; ``say`` is told each change of state, one line each."""

    def __init__(
        self,
        bench: str,
        port: str,
        broker: Broker,
        say: Say,
        *,
        colour_ms: int = 500,
        climate_ms: int = 1000,
        clock_ms: Callable[[], int] = wall_clock_ms,
    ) -> None:
        self._say = say
        self._forwarder = Forwarder(broker, bench, lambda online, words: say(words))
        self._periods = (colour_ms, climate_ms)
        self._intake = SerialIntake(bench, port, self._deliver, clock_ms=clock_ms)
        self._relayed = 0
        self._streaming = threading.Event()

    def start(self, *, wait_for_port: bool = False) -> None:
        """Begin; raises as :meth:`SerialIntake.start` does."""
        self._intake.start(wait_for_port=wait_for_port)

    def stop(self, flush_s: float = 5.0) -> RelayCount:
        """Close the port, give the broker a last chance to take what waits, and leave."""
        self._intake.stop()
        waiting = self._forwarder.stop(flush_s)
        return RelayCount(self._relayed, waiting, self._forwarder.dropped)

    def _deliver(self, event: Event, acknowledge: Acknowledge | None) -> None:
        self._forwarder.take(event)
        match event:
            case ReadingsArrived():
                self._relayed += 1
            case DeviceStatus():
                self._say(f"{event.device}: {event.words}")
                if event.online:
                    self._begin_stream()
            case FaultReported():
                self._say(f"{event.device}: {event.part}: {event.words}")
            case InputRejected():
                self._say(f"{event.source}: {event.words}")
            case ReadingsMissing():
                self._say(f"{event.device}: {event.count} readings were lost on the cable")

    def _begin_stream(self) -> None:
        if not self._streaming.is_set():  # later the intake restores it by itself
            self._intake.stream(*self._periods).add_done_callback(self._stream_answered)

    def _stream_answered(self, future: Future[StreamAnswer]) -> None:
        if (fault := future.exception()) is None:
            self._streaming.set()
        else:
            self._say(f"the board does not stream: {fault}")
