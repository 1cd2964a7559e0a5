"""A board's readings to a club's broker: each device with a publisher of its own.

``sprayout relay`` forwards and nothing else; a bench that keeps its own record may forward as
well, and then passes over what comes back to it from the broker (:meth:`Forwarder.owns`).
"""

from __future__ import annotations

from collections.abc import Callable

from sprayout.intake.broker import Broker
from sprayout.intake.events import DeviceStatus, Event, ReadingsArrived
from sprayout.intake.publisher import Publisher
from sprayout.intake.topics import check_level


class Forwarder:
    """``said`` is told each change of the connection, one line each."""

    def __init__(self, broker: Broker, bench: str, said: Callable[[bool, str], None]) -> None:
        check_level(bench, "bench")
        self._broker, self._bench, self._said = broker, bench, said
        self._publishers: dict[str, Publisher] = {}

    @property
    def dropped(self) -> int:
        """Packs lost because the broker was away for longer than can be kept."""
        return sum(publisher.dropped for publisher in self._publishers.values())

    def owns(self, bench: str, device: str) -> bool:
        """What this device sends over the broker came from here."""
        return bench == self._bench and device in self._publishers

    def take(self, event: Event) -> None:
        """Send on readings and the coming and going of a board; the rest stays here."""
        match event:
            case ReadingsArrived():
                self._publisher(event.device).publish(event)
            case DeviceStatus(online=True):
                self._publisher(event.device).say_status(True)
            case DeviceStatus() if event.device in self._publishers:
                self._publishers[event.device].say_status(False)

    def stop(self, flush_s: float) -> int:
        """Give the broker a last chance to take what waits; how many packs it did not."""
        waiting = sum(publisher.flush(flush_s) for publisher in self._publishers.values())
        for publisher in self._publishers.values():
            publisher.stop()
        return waiting

    def _publisher(self, device: str) -> Publisher:
        if device not in self._publishers:
            self._publishers[device] = Publisher(self._broker, self._bench, device, self._said)
            self._publishers[device].start()
        return self._publishers[device]
