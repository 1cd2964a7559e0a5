"""Readings from a broker: our own packs, and foreign probes through mappings.

Our own topics are subscribed with QoS 1 in a persistent session and a message is acknowledged
only when the receiver says that it is on record, so what a crash interrupts comes again.  Foreign
values carry no time of their own: they are taken with QoS 0, because a broker that kept them for
an absent client would deliver them hours late as if they were of now.  For the same reason a
retained value without a time is refused.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterable

import paho.mqtt.client as paho

from sprayout.intake.broker import Broker
from sprayout.intake.clock import wall_clock_ms
from sprayout.intake.connection import Connection, ConnectionListener
from sprayout.intake.events import (
    Acknowledge,
    Deliver,
    DeviceStatus,
    InputRejected,
)
from sprayout.intake.foreign import STALE, Mapping, parse, parse_own
from sprayout.intake.packs import Parsed
from sprayout.intake.topics import OFFLINE, ONLINE, SENML_FILTER, STATUS_FILTER, own_device


class MqttIntake:
    """Everything that arrives at one broker.

    ``is_ours`` says of a bench and device that this program itself forwards them to the broker:
    what comes back of them is passed over.
    """

    def __init__(
        self,
        broker: Broker,
        deliver: Deliver,
        *,
        client_id: str,
        mappings: Iterable[Mapping] = (),
        is_ours: Callable[[str, str], bool] = lambda bench, device: False,
        clock_ms: Callable[[], int] = wall_clock_ms,
    ) -> None:
        self._deliver, self._clock_ms = deliver, clock_ms
        self._mappings, self._is_ours = tuple(mappings), is_ours
        self._device = f"broker {broker}"
        self._waiting = 0
        self._lock = threading.Lock()
        self._subscribed = threading.Event()
        listener = ConnectionListener(
            self._subscribe, self._said, self._received, self._on_subscribed
        )
        self._connection = Connection(broker, client_id, listener, manual_ack=True)

    @property
    def connected(self) -> bool:
        """The broker has accepted us and is there."""
        return self._connection.up

    @property
    def unacknowledged(self) -> int:
        """Messages not on record yet; many brokers send no more than 20 ahead of that."""
        return self._waiting

    def wait_until_subscribed(self, timeout_s: float) -> bool:
        """Wait until the broker sends what we asked for; False if it did not say so in time."""
        return self._subscribed.wait(timeout_s)

    def start(self) -> None:
        """Begin to connect; a broker that is away or refuses is told about and retried."""
        self._connection.start()

    def stop(self) -> None:
        """Leave; the broker keeps what it has for us."""
        self._connection.stop()

    def _subscribe(self) -> None:
        self._waiting = 0
        ours = [(SENML_FILTER, 1), (STATUS_FILTER, 1)]
        foreign = dict.fromkeys((mapping.topic, 0) for mapping in self._mappings)
        self._connection.subscribe([*ours, *foreign])

    def _on_subscribed(self, refusals: list[str]) -> None:
        if refusals:
            words = f"{self._device}: lets us not read {len(refusals)} topics ({refusals[0]})"
            self._reject(self._device, f"{words}; grant this user read access to them")
        self._subscribed.set()

    def _received(self, message: paho.MQTTMessage) -> None:
        try:
            topic = message.topic
        except UnicodeDecodeError:
            self._reject("?", "a topic that is not UTF-8")
            return self._acknowledgement(message)()
        acknowledge = self._acknowledgement(message)
        named = own_device(topic)
        if named is not None and self._is_ours(named[0], named[1]):
            return acknowledge()  # this program sent it, and has it already
        if named is not None and named[2] == "status":
            self._status(named[0], named[1], bytes(message.payload))
            return acknowledge()
        return self._readings(topic, message, acknowledge, own=named is not None)

    def _readings(
        self, topic: str, message: paho.MQTTMessage, acknowledge: Acknowledge, *, own: bool
    ) -> None:
        now_ms, payload = self._clock_ms(), bytes(message.payload)
        if own:
            parsed = parse_own(topic, payload, now_ms, retained=message.retain)
        elif message.retain:
            parsed = Parsed((), (f"{topic}: {STALE}",))
        else:
            parsed = parse(topic, payload, self._mappings, now_ms)
        for words in parsed.refusals:
            self._reject(topic, words)
        self._pass_on(parsed, acknowledge)

    def _pass_on(self, parsed: Parsed, acknowledge: Acknowledge) -> None:
        if not parsed.arrivals:
            acknowledge()  # nothing in it to record: it must not come again
            return
        after_all = _after(len(parsed.arrivals), acknowledge)
        for arrival in parsed.arrivals:
            self._deliver(arrival, after_all)

    def _acknowledgement(self, message: paho.MQTTMessage) -> Acknowledge:
        """Acknowledges once, on the connection the message came by and no later one."""
        if message.qos == 0:
            return lambda: None
        generation, mid, qos = self._connection.generation, message.mid, message.qos
        with self._lock:
            self._waiting += 1

        def acknowledge() -> None:
            with self._lock:
                if generation != self._connection.generation:
                    return
                self._waiting -= 1
            self._connection.acknowledge(mid, qos)

        return _after(1, acknowledge)

    def _status(self, bench: str, device: str, payload: bytes) -> None:
        if payload not in (ONLINE.encode(), OFFLINE.encode()):
            if payload:  # an empty one clears the retained state
                self._reject(f"{bench}/{device}", f"status is {payload[:40]!r}, wanted online")
            return
        online = payload == ONLINE.encode()
        words = "reports online" if online else "reports offline, or its connection was lost"
        self._deliver(DeviceStatus(bench, device, self._clock_ms(), online, words), None)

    def _said(self, online: bool, words: str) -> None:
        if not online:
            self._subscribed.clear()
        self._deliver(DeviceStatus("", self._device, self._clock_ms(), online, words), None)

    def _reject(self, source: str, words: str) -> None:
        self._deliver(InputRejected(source, words, self._clock_ms()), None)


def _after(count: int, act: Callable[[], None]) -> Callable[[], None]:
    """A call that acts on its ``count``-th time, and never again."""
    left = iter(range(count - 1, -1, -1))
    lock = threading.Lock()

    def called() -> None:
        with lock:
            remaining = next(left, None)
        if remaining == 0:
            act()

    return called
