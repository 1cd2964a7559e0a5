"""A foreign probe's messages, whole and broken, over a real broker and a real socket."""

import gc
import itertools
import json
import queue
import socket
import threading
import warnings
from collections.abc import Iterator
from contextlib import ExitStack

import paho.mqtt.client as mqtt
import pytest
from paho.mqtt.enums import CallbackAPIVersion

from sprayout.commands.embedded_broker import embedded_broker
from sprayout.errors import BadInput, LinkError
from sprayout.sim.foreign_probe import ForeignProbe, ProbeFault, ProbeSettings, message

WAIT_S = 20.0


@pytest.fixture(scope="module")
def port() -> Iterator[int]:
    with ExitStack() as stack:
        port = stack.enter_context(embedded_broker())
        yield port
        with warnings.catch_warnings():
            # amqtt leaves the socket of a client that is just leaving to the collector.
            warnings.simplefilter("ignore", ResourceWarning)
            stack.close()
            gc.collect()


class Ticks:
    """A clock that every look finds 10 s on, until it stands still at ``end_s``."""

    def __init__(self, end_s: float) -> None:
        self._t_s, self._end_s = 0.0, end_s

    def __call__(self) -> float:
        self._t_s = min(self._t_s + 10.0, self._end_s)
        return self._t_s


class Listener:
    """Another client of the broker: what it hears lies in ``heard``."""

    def __init__(self, port: int, topic: str) -> None:
        self.heard: queue.Queue[bytes] = queue.Queue()
        subscribed = threading.Event()
        self._client = mqtt.Client(CallbackAPIVersion.VERSION2, client_id=f"listener-{topic}")
        self._client.on_message = lambda _c, _u, told: self.heard.put(told.payload)
        self._client.on_subscribe = lambda *_: subscribed.set()
        self._client.connect("127.0.0.1", port)
        self._client.subscribe(topic, qos=1)
        self._client.loop_start()
        assert subscribed.wait(WAIT_S)

    def next(self) -> bytes:
        return self.heard.get(timeout=WAIT_S)

    def leave(self) -> None:
        self._client.disconnect()
        self._client.loop_stop()


def test_it_publishes_in_its_own_words_at_its_own_pace(port: int) -> None:
    topic = "workshop/yard-door-sensor/state"
    listener = Listener(port, topic)
    settings = ProbeSettings(port=port, interval_s=20.0, speed=10_000.0)
    probe = ForeignProbe(lambda: (21.44, 55.06), Ticks(100.0), settings)
    probe.start()
    try:
        told = [json.loads(listener.next()) for _ in range(3)]
    finally:
        probe.stop()
        listener.leave()
    assert all(one["temperature"] == 21.4 and one["hum"] == 55.1 for one in told)
    assert 3 <= probe.published <= 5, "one for each 20 s that passed, and no more"
    probe.stop()


def test_bad_moments_come_in_the_order_of_the_list(port: int) -> None:
    topic = "workshop/bad-day/state"
    listener = Listener(port, topic)
    settings = ProbeSettings(
        port=port, topic=topic, client_id="bad-day", interval_s=10.0, speed=10_000.0
    )
    faults = (
        ProbeFault("text", 0.0, 40.0),
        ProbeFault("silence", 40.0, 300.0),
        ProbeFault("broken", 300.0, 400.0),
        ProbeFault("absurd", 400.0, 1e9),
    )
    probe = ForeignProbe(lambda: (20.0, 50.0), Ticks(500.0), settings, faults)
    probe.start()
    try:
        heard = [listener.next()]
        while b"-300" not in heard[-1]:
            heard.append(listener.next())
    finally:
        probe.stop()
        listener.leave()
    kinds = ["text" if b"warming" in h else "absurd" if b"-300" in h else "broken" for h in heard]
    assert [kind for kind, _ in itertools.groupby(kinds)] == ["text", "broken", "absurd"]


def test_a_second_start_is_refused(port: int) -> None:
    probe = ForeignProbe(
        lambda: (20.0, 50.0), lambda: 0.0, ProbeSettings(port=port, client_id="twice")
    )
    probe.start()
    with pytest.raises(BadInput, match="running already"):
        probe.start()
    probe.stop()


def test_a_broker_that_refuses_is_said_in_one_line() -> None:
    """The refusal is MQTT 3.1.1's CONNACK with return code 5 (section 3.2.2.3)."""

    def refuse(door: socket.socket) -> None:
        caller, _ = door.accept()
        with caller:
            caller.recv(1024)
            caller.sendall(bytes([0x20, 0x02, 0x00, 0x05]))
            caller.recv(1024)

    with socket.create_server(("127.0.0.1", 0)) as door:
        doorman = threading.Thread(target=refuse, args=(door,))
        doorman.start()
        probe = ForeignProbe(
            lambda: (20.0, 50.0), lambda: 0.0, ProbeSettings(port=door.getsockname()[1])
        )
        with pytest.raises(LinkError, match="lets it not in: it says Not authorized"):
            probe.start()
        doorman.join(WAIT_S)
    assert probe.published == 0


def test_no_broker_is_said_in_one_line() -> None:
    with socket.create_server(("127.0.0.1", 0)) as door:
        closed = door.getsockname()[1]
    probe = ForeignProbe(lambda: (20.0, 50.0), lambda: 0.0, ProbeSettings(port=closed))
    with pytest.raises(LinkError, match=f"no broker answers at 127.0.0.1:{closed}"):
        probe.start()
    probe.stop()


@pytest.mark.parametrize(
    ("kind", "expected"),
    [
        ("text", {"temperature": "warming up", "hum": "n/a"}),
        ("absurd", {"temperature": -300.0, "hum": 140.0}),
    ],
)
def test_faulty_messages(kind: str, expected: dict[str, object]) -> None:
    fault = ProbeFault(kind, 0.0, 1.0)  # type: ignore[arg-type]
    payload = message(ProbeSettings(), 20.0, 50.0, fault)
    assert payload is not None
    assert expected.items() <= json.loads(payload).items()


def test_nan_is_bare_a_broken_message_is_not_json_and_silence_is_nothing() -> None:
    settings = ProbeSettings(temperature_key="t", humidity_key="feuchte")
    assert b'"t": NaN, "feuchte": NaN' in (
        message(settings, 20.0, 50.0, ProbeFault("nan", 0.0, 1.0)) or b""
    )
    with pytest.raises(json.JSONDecodeError):
        json.loads(message(settings, 20.0, 50.0, ProbeFault("broken", 0.0, 1.0)) or b"{}")
    assert message(settings, 20.0, 50.0, ProbeFault("silence", 0.0, 1.0)) is None


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        ({"port": 0}, "port"),
        ({"host": ""}, "host"),
        ({"topic": "a/#"}, "topic"),
        ({"topic": ""}, "topic"),
        ({"interval_s": 0.0}, "interval"),
        ({"speed": float("nan")}, "speed"),
        ({"temperature_key": "hum"}, "keys"),
    ],
)
def test_bad_settings_are_refused(arguments: dict[str, object], says: str) -> None:
    with pytest.raises(BadInput, match=says):
        ProbeSettings(**arguments)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (("melts", 0.0, 1.0), "wanted one of"),
        (("nan", 5.0, 1.0), "end after the start"),
        (("nan", -1.0, 1.0), "0 or"),
    ],
)
def test_bad_faults_are_refused(arguments: tuple[str, float, float], says: str) -> None:
    with pytest.raises(BadInput, match=says):
        ProbeFault(*arguments)  # type: ignore[arg-type]
