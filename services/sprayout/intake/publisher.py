"""One device's packs to a broker, kept while the broker is away.

QoS 1: each pack is kept until the broker has it, for hours of a broker's absence, in memory.
Packs carry Unix times, so that one that travels twice is still one reading at the other end.
"""

from __future__ import annotations

import json
import threading
from collections.abc import Callable

from sprayout.intake.broker import Broker
from sprayout.intake.connection import KEPT_MESSAGES_MAX, Connection, ConnectionListener, Will
from sprayout.intake.events import ReadingsArrived
from sprayout.intake.packs import to_records
from sprayout.intake.topics import OFFLINE, ONLINE, senml_topic, status_topic
from sprayout.link.senml import format_pack


class Publisher:
    """Says ``sprayout/<bench>/<device>/senml`` and ``…/status`` for one device."""

    def __init__(
        self,
        broker: Broker,
        bench: str,
        device: str,
        said: Callable[[bool, str], None],
        *,
        kept_max: int = KEPT_MESSAGES_MAX,
    ) -> None:
        self._senml, self._status = senml_topic(bench, device), status_topic(bench, device)
        self._online = False
        self._sent = self._arrived = self._dropped = 0
        self._changed = threading.Condition()
        listener = ConnectionListener(self._say_status, said, published=self._published)
        self._connection = Connection(
            broker,
            f"sprayout-relay-{bench}-{device}",
            listener,
            kept_max=kept_max,
            will=Will(self._status, OFFLINE),
        )

    @property
    def dropped(self) -> int:
        """Packs lost because the broker was away for longer than can be kept."""
        return self._dropped

    @property
    def waiting(self) -> int:
        """Messages the broker does not have yet."""
        return self._sent - self._arrived

    @property
    def connected(self) -> bool:
        """The broker has accepted us and is there."""
        return self._connection.up

    def start(self) -> None:
        """Begin to connect; returns at once."""
        self._connection.start()

    def publish(self, arrival: ReadingsArrived) -> None:
        """Send, or keep for later, one pack."""
        payload = json.dumps(format_pack(to_records(arrival)), separators=(",", ":"))
        self._send(self._senml, payload, retain=False)

    def say_status(self, online: bool) -> None:
        """Tell, retained, whether the device is there."""
        self._online = online
        if self._connection.up:
            self._say_status()

    def flush(self, timeout_s: float) -> int:
        """Wait until the broker has everything; how many packs it still has not."""
        with self._changed:
            self._changed.wait_for(lambda: self.waiting <= 0, timeout_s)
            return self.waiting

    def stop(self) -> None:
        """Say offline and leave."""
        if self._connection.up:
            self._online = False
            self._say_status()
            self.flush(2.0)
        self._connection.stop()

    def _say_status(self) -> None:
        self._send(self._status, ONLINE if self._online else OFFLINE, retain=True)

    def _send(self, topic: str, payload: str, *, retain: bool) -> None:
        # Not under the lock: paho holds its own while it calls _published.
        kept = self._connection.publish(topic, payload, retain=retain)
        with self._changed:
            self._sent += kept
            self._dropped += not kept

    def _published(self) -> None:
        with self._changed:
            self._arrived += 1
            self._changed.notify_all()
