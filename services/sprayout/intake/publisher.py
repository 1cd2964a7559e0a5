"""One device's packs to a broker, kept while the broker is away.

QoS 1: each pack is kept until the broker has it, for hours of a broker's absence, in memory.
Packs carry Unix times, so that one that travels twice is still one reading at the other end.
"""

from __future__ import annotations

import json
import threading
from collections.abc import Callable

import paho.mqtt.client as paho

from sprayout.intake.broker import Broker
from sprayout.intake.connection import Connection, ConnectionListener, Will
from sprayout.intake.events import ReadingsArrived
from sprayout.intake.packs import to_records
from sprayout.intake.topics import OFFLINE, ONLINE, senml_topic, status_topic
from sprayout.link.senml import format_pack

KEPT_MESSAGES_MAX = 60_000
"""Message numbers have 16 bits; this is an hour and a half of a board at full rate."""

_IN_FLIGHT_MAX = 100


class Publisher:
    """Says ``sprayout/<bench>/<device>/senml`` and ``…/status`` for one device."""

    def __init__(
        self, broker: Broker, bench: str, device: str, said: Callable[[bool, str], None]
    ) -> None:
        self._senml, self._status = senml_topic(bench, device), status_topic(bench, device)
        self._online = False
        self._sent = self._arrived = self._dropped = 0
        self._changed = threading.Condition()
        listener = ConnectionListener(self._connected, lambda message: None, said)
        self._connection = Connection(
            broker, f"sprayout-relay-{bench}-{device}", listener, will=Will(self._status, OFFLINE)
        )
        client = self._connection.client
        client.max_queued_messages_set(KEPT_MESSAGES_MAX)
        client.max_inflight_messages_set(_IN_FLIGHT_MAX)
        client.on_publish = self._on_publish

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

    def _connected(self, client: paho.Client) -> None:
        self._say_status()

    def _say_status(self) -> None:
        self._send(self._status, ONLINE if self._online else OFFLINE, retain=True)

    def _send(self, topic: str, payload: str, *, retain: bool) -> None:
        # Not under the lock: paho holds its own while it calls _on_publish.
        sent = self._connection.client.publish(topic, payload, qos=1, retain=retain)
        with self._changed:
            if sent.rc == paho.MQTT_ERR_QUEUE_SIZE:
                self._dropped += 1
            else:
                self._sent += 1

    def _on_publish(
        self, client: paho.Client, userdata: object, mid: int, reason: object, properties: object
    ) -> None:
        with self._changed:
            self._arrived += 1
            self._changed.notify_all()
