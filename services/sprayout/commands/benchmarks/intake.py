"""Readings a second from the broker to the disk, beside a bare paho loop that parses and discards.

Publishers, broker and receiver are three processes on this machine; what is counted is what the
journal has committed (SQLite, ``synchronous=FULL``, one commit a second) and the broker was told
so.  The broker is mosquitto where it is installed, else the embedded one.  Durable and bare rounds
take turns, so that a busy machine slows both.
"""

from __future__ import annotations

import json
import multiprocessing
import os
import statistics
import tempfile
import threading
import time
from collections.abc import Callable, Iterator
from concurrent.futures import Future
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import paho.mqtt.client as paho
from paho.mqtt.enums import CallbackAPIVersion

from sprayout.bench.on_record import rows_of
from sprayout.commands.benchmarks.brokers import broker_name, running_broker
from sprayout.errors import LinkError
from sprayout.intake.broker import Broker
from sprayout.intake.events import Acknowledge, Event, InputRejected, ReadingsArrived
from sprayout.intake.mqtt_intake import MqttIntake
from sprayout.intake.topics import SENML_FILTER, senml_topic
from sprayout.journal.reader import Reader
from sprayout.journal.store import prepare_store
from sprayout.journal.writer import Writer
from sprayout.link.senml import Record, format_pack

GOAL_PER_S = 5_000
DEVICES = 4
WAIT_S = 120.0
CHANNELS = (
    ("air_temperature", "Cel", 21.3),
    ("relative_humidity", "%RH", 48.2),
    ("part_temperature", "Cel", 20.9),
    ("booth_pressure", "Pa", 14.2),
    ("air_speed", "m/s", 0.55),
)


@dataclass(frozen=True, slots=True)
class Load:
    """So many packs in all, each of so many readings, from :data:`DEVICES` devices in turn."""

    packs: int
    readings_each: int
    first_ms: int

    @property
    def readings(self) -> int:
        return self.packs * self.readings_each

    def messages(self) -> Iterator[tuple[str, str]]:
        """Topic and payload of each pack; every pack of a device has its own millisecond."""
        for n in range(self.packs):
            t_s = (self.first_ms + n) / 1000
            records = [
                Record(name, unit, value + n % 50 / 100, t_s)
                for name, unit, value in CHANNELS[: self.readings_each]
            ]
            yield senml_topic("bench", f"probe-{n % DEVICES}"), json.dumps(format_pack(records))


def run(quick: bool) -> dict[str, object]:
    """Return the figures; `quick` sends a tenth of the packs, once."""
    packs, rounds = (2_000, 1) if quick else (10_000, 3)
    whole = [_pair(packs, 5) for _ in range(rounds)]
    single = [_pair(packs, 1) for _ in range(rounds)]
    return {
        "broker": broker_name(),
        "cores": os.cpu_count(),
        "packs_each_round": packs,
        "rounds": rounds,
        "figures": [
            _figure("readings/s on disk, five to a pack", _median(whole, "durable"), GOAL_PER_S),
            _figure("the same for a second of processor time", _median(whole, "of_cpu"), None),
            _figure("the same beside a bare loop, ratio", _ratio(whole), None),
            _figure("readings/s on disk, one to a pack", _median(single, "durable"), None),
            _figure("the same for a second of processor time", _median(single, "of_cpu"), None),
            _figure("the same beside a bare loop, ratio", _ratio(single), None),
        ],
    }


def _figure(name: str, value: float, goal: float | None) -> dict[str, object]:
    met = None if goal is None else value >= goal
    return {"figure": name, "value": value, "goal": goal, "met": met}


@dataclass(frozen=True, slots=True)
class _Rates:
    """Readings a second: durable, durable by the receiver's processor time, and bare."""

    durable: float
    of_cpu: float
    bare: float


def _median(rates: list[_Rates], name: str) -> int:
    values: list[float] = [getattr(one, name) for one in rates]
    return round(statistics.median(values))


def _ratio(rates: list[_Rates]) -> float:
    return round(statistics.median(one.durable / one.bare for one in rates), 3)


def _pair(packs: int, readings_each: int) -> _Rates:
    """Durable and bare, each with a fresh broker: one session, no backlog."""
    load = Load(packs, readings_each, time.time_ns() // 1_000_000 - packs - 60_000)
    with running_broker() as broker:
        cpu_before_s = time.process_time()
        durable_s = _durable_s(broker, load)
        cpu_s = time.process_time() - cpu_before_s
    with running_broker() as broker:
        bare_s = _bare_s(broker, load)
    return _Rates(load.readings / durable_s, load.readings / cpu_s, load.readings / bare_s)


class _Countdown:
    """Seconds from the first of ``count`` arrivals to the last that is done."""

    def __init__(self, count: int) -> None:
        self._left, self._lock, self._done = count, threading.Lock(), threading.Event()
        self._first_s: float | None = None
        self._last_s = 0.0

    def arrived(self) -> None:
        if self._first_s is None:
            self._first_s = time.perf_counter()

    def done(self) -> None:
        with self._lock:
            self._left -= 1
            if self._left == 0:
                self._last_s = time.perf_counter()
                self._done.set()

    def wait_s(self) -> float:
        if not self._done.wait(WAIT_S) or self._first_s is None:
            raise LinkError(f"benchmark: {self._left} packs did not arrive within {WAIT_S:g} s")
        return self._last_s - self._first_s


def _durable_s(broker: Broker, load: Load) -> float:
    with tempfile.TemporaryDirectory() as folder:
        store = Path(folder) / "bench.db"
        prepare_store(store)
        countdown = _Countdown(load.packs)
        with Writer(store) as writer:
            intake = MqttIntake(broker, _receiver(writer, countdown), client_id="benchmark")
            intake.start()
            try:
                if not intake.wait_until_subscribed(WAIT_S):
                    raise LinkError(f"broker {broker}: it did not take our subscription")
                with _publishing(broker, load):
                    seconds = countdown.wait_s()
            finally:
                intake.stop()
        _check_on_disk(store, load)
    return seconds


def _receiver(writer: Writer, countdown: _Countdown) -> Callable[[Event, Acknowledge | None], None]:
    def deliver(event: Event, acknowledge: Acknowledge | None) -> None:
        if isinstance(event, InputRejected):
            raise LinkError(f"benchmark: {event.words}")
        if not isinstance(event, ReadingsArrived):
            return

        def committed(future: Future[None]) -> None:
            future.result()
            if acknowledge is not None:
                acknowledge()
            countdown.done()

        countdown.arrived()
        writer.submit(rows_of(event, event.bench)).add_done_callback(committed)

    return deliver


def _check_on_disk(store: Path, load: Load) -> None:
    """Each reading that was sent is on disk, once."""
    reader = Reader(store)
    try:
        found = len(reader.readings("bench", load.first_ms, load.first_ms + load.packs))
    finally:
        reader.close()
    if found != load.readings:
        raise LinkError(f"benchmark: {found} readings are on disk, wanted {load.readings}")


def _bare_s(broker: Broker, load: Load) -> float:
    """A paho client that parses the JSON and forgets it."""
    countdown, subscribed = _Countdown(load.packs), threading.Event()

    def received(client: paho.Client, userdata: object, message: paho.MQTTMessage) -> None:
        countdown.arrived()
        json.loads(message.payload)
        countdown.done()

    client = paho.Client(CallbackAPIVersion.VERSION2, client_id="bare")
    client.username_pw_set(broker.user or "", broker.password)
    client.on_message = received
    client.on_subscribe = lambda *_: subscribed.set()
    client.connect(broker.host, broker.port)
    client.subscribe(SENML_FILTER, qos=1)
    client.loop_start()
    try:
        if not subscribed.wait(WAIT_S):
            raise LinkError(f"broker {broker}: it did not take our subscription")
        with _publishing(broker, load):
            return countdown.wait_s()
    finally:
        client.disconnect()
        client.loop_stop()


@contextmanager
def _publishing(broker: Broker, load: Load) -> Iterator[None]:
    process = multiprocessing.get_context("spawn").Process(target=publish, args=(broker, load))
    process.start()
    try:
        yield
        process.join(WAIT_S)
    finally:
        process.kill()
        process.join()


def publish(broker: Broker, load: Load) -> None:
    """Send the whole load with QoS 1, in a process of its own."""
    client = paho.Client(CallbackAPIVersion.VERSION2, client_id="load")
    client.username_pw_set(broker.user or "", broker.password)
    client.max_inflight_messages_set(200)
    client.connect(broker.host, broker.port)
    client.loop_start()
    last = None
    for topic, payload in load.messages():
        last = client.publish(topic, payload, qos=1)
    if last is not None:
        last.wait_for_publish(WAIT_S)
    client.disconnect()
    client.loop_stop()
