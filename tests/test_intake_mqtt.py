"""Readings over a broker: one suite, against the embedded broker and against mosquitto.

The embedded one (amqtt) speaks MQTT 3.1.1 without TLS here; mosquitto runs as a program on a free
loopback port, with TLS, a password file and its state on disk.
"""

import asyncio
import contextlib
import gc
import getpass
import json
import queue
import socket
import subprocess
import threading
from dataclasses import replace

import paho.mqtt.client as paho
import pytest
from amqtt.broker import Broker as EmbeddedBroker
from paho.mqtt.enums import CallbackAPIVersion
from pwdlib.hashers.argon2 import Argon2Hasher

from sprayout.errors import BadInput
from sprayout.intake.broker import Broker
from sprayout.intake.events import (
    ChannelReading,
    ColourDetail,
    DeviceStatus,
    InputRejected,
    ReadingsArrived,
)
from sprayout.intake.foreign import Mapping
from sprayout.intake.forwarder import Forwarder
from sprayout.intake.mqtt_intake import MqttIntake
from sprayout.intake.publisher import Publisher
from sprayout.intake.topics import senml_topic, status_topic

pytestmark = [
    # amqtt lets go of clients' connections without closing them, and paho of its socket after a
    # failed TLS handshake; Python closes them when it collects them.
    pytest.mark.filterwarnings("ignore:unclosed :ResourceWarning"),
    pytest.mark.filterwarnings("ignore:loop is closed:ResourceWarning"),
]
PATIENCE_S = 15
NOW_MS = 1_764_063_600_000
USER, PASSWORD = "bench", "linseed & lead"


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


class Amqtt:
    """The embedded broker in a thread of its own."""

    keeps_sessions = False

    def __init__(self, folder):
        self.passwords = folder / "passwords"
        self.passwords.write_text(f"{USER}:{Argon2Hasher().hash(PASSWORD)}\n")
        self.address = Broker("127.0.0.1", free_port(), user=USER, password=PASSWORD)
        self._loop = asyncio.new_event_loop()
        self._thread = threading.Thread(target=self._loop.run_forever)
        self._thread.start()
        self.start()

    def start(self):
        self._broker = self._run(self._make())
        self._run(self._broker.start())

    async def _make(self):
        bind = f"{self.address.host}:{self.address.port}"
        return EmbeddedBroker(
            {
                "listeners": {"default": {"type": "tcp", "bind": bind}},
                "plugins": {
                    "amqtt.plugins.authentication.FileAuthPlugin": {
                        "password_file": str(self.passwords)
                    }
                },
            }
        )

    def stop(self):
        self._run(self._broker.shutdown())

    def close(self):
        self.stop()
        self._loop.call_soon_threadsafe(self._loop.stop)
        self._thread.join(PATIENCE_S)
        self._loop.close()

    def _run(self, work):
        return asyncio.run_coroutine_threadsafe(work, self._loop).result(PATIENCE_S)


class Mosquitto:
    """Debian's broker as its users run it."""

    keeps_sessions = True

    def __init__(self, folder):
        self._folder = folder
        certificate = self._certificate()
        self.address = Broker(
            "127.0.0.1", free_port(), True, USER, PASSWORD, ca_file=certificate, version="3.1.1"
        )
        self._settings = folder / "mosquitto.conf"
        self._settings.write_text(
            f"listener {self.address.port} 127.0.0.1\n"
            f"certfile {certificate}\nkeyfile {folder / 'key.pem'}\n"
            f"allow_anonymous false\npassword_file {self._password_file()}\n"
            f"persistence true\npersistence_location {folder}/\n"
            f"max_queued_messages 0\nmax_inflight_messages 0\n"
            f"user {getpass.getuser()}\nlog_type information\nlog_dest stderr\n"
        )
        self.start()

    def _certificate(self):
        path = self._folder / "certificate.pem"
        subprocess.run(
            f"openssl req -x509 -newkey ec -pkeyopt ec_paramgen_curve:prime256v1 -nodes -days 2 "
            f"-subj /CN=localhost -addext subjectAltName=IP:127.0.0.1,DNS:localhost "
            f"-keyout {self._folder / 'key.pem'} -out {path}".split(),
            check=True,
            capture_output=True,
        )
        return path

    def _password_file(self):
        path = self._folder / "passwords"
        subprocess.run(
            ["mosquitto_passwd", "-c", "-b", str(path), USER, PASSWORD],
            check=True,
            capture_output=True,
        )
        return path

    def start(self):
        self._program = subprocess.Popen(
            ["mosquitto", "-c", str(self._settings)], stderr=subprocess.PIPE, text=True
        )
        said = []
        for line in self._program.stderr:
            said.append(line)
            if line.rstrip().endswith("running"):
                break
        else:
            pytest.fail("".join(said))
        self._reader = threading.Thread(target=self._program.stderr.read)
        self._reader.start()

    def stop(self):
        self._program.terminate()
        self._program.wait(PATIENCE_S)
        self._reader.join(PATIENCE_S)
        self._program.stderr.close()

    close = stop


BROKERS = [
    pytest.param(Amqtt, id="amqtt"),
    pytest.param(Mosquitto, id="mosquitto", marks=pytest.mark.needs("mosquitto", "openssl")),
]


@pytest.fixture(params=BROKERS)
def broker(request, tmp_path):
    running = request.param(tmp_path)
    yield running
    running.close()


@pytest.fixture
def mosquitto(tmp_path):
    running = Mosquitto(tmp_path)
    yield running
    running.close()


class Received:
    """What an intake delivers, acknowledged at once or when told."""

    def __init__(self, acknowledging=True):
        self.events = queue.Queue()
        self.acknowledging = acknowledging

    def __call__(self, event, acknowledge):
        if acknowledge is not None and self.acknowledging:
            acknowledge()
        self.events.put((event, acknowledge))

    def next(self, kind, timeout_s=PATIENCE_S):
        return self.next_pair(kind, timeout_s)[0]

    def next_pair(self, kind, timeout_s=PATIENCE_S):
        while True:
            event, acknowledge = self.events.get(timeout=timeout_s)
            if isinstance(event, kind):
                return event, acknowledge


@pytest.fixture
def intake_of():
    """Start intakes, wait until they are subscribed, stop them at the end."""
    running = []

    def start(address, received, *, wait=True, **more):
        more = {"client_id": "sprayout-test", "clock_ms": lambda: NOW_MS} | more
        intake = MqttIntake(address, received, **more)
        running.append(intake)
        intake.start()
        if wait:
            assert intake.wait_until_subscribed(PATIENCE_S)
        return intake

    yield start
    for intake in running:
        intake.stop()


@contextlib.contextmanager
def foreign_client(address):
    """Any program that publishes."""
    client = paho.Client(CallbackAPIVersion.VERSION2, client_id="someone")
    client.username_pw_set(address.user, address.password)
    if address.tls:
        client.tls_set(ca_certs=str(address.ca_file))
    connected = threading.Event()
    client.on_connect = lambda *_: connected.set()
    client.connect(address.host, address.port)
    client.loop_start()
    assert connected.wait(PATIENCE_S)

    def publish(topic, payload, **more):
        client.publish(topic, payload, **more).wait_for_publish(PATIENCE_S)

    try:
        yield publish
    finally:
        client.disconnect()
        client.loop_stop()


def air(value: float, n: int = 0) -> ReadingsArrived:
    at_ms = NOW_MS - 60_000 + n
    reading = ChannelReading("air_temperature", value, "Cel", at_ms)
    return ReadingsArrived("hall", "probe-1", at_ms, (reading,))


def pack(value: object, **more: object) -> str:
    return json.dumps([{"n": "air_temperature", "u": "Cel", "v": value, **more}])


COLOUR = ReadingsArrived(
    "hall",
    "board-1a2b3c",
    NOW_MS - 5000,
    tuple(
        ChannelReading(name, counts, "count", NOW_MS - 5000)
        for name, counts in (("red", 210), ("green", 1024), ("blue", 88.5))
    ),
    ColourDetail(16, 50.04, 1024, ("green",), (3, 5, 2), "on"),
)


@pytest.fixture(autouse=True)
def what_is_left_open_is_closed_here():
    """…and not during another module's tests, where it would be an error."""
    yield
    gc.collect()


class TestTheSameOnBothBrokers:
    def test_a_pack_of_our_own_arrives(self, broker, intake_of):
        received = Received()
        intake_of(broker.address, received)
        with foreign_client(broker.address) as publish:
            publish(senml_topic("hall", "probe-1"), pack(21.5), qos=1)
        assert received.next(ReadingsArrived) == replace(
            air(21.5),
            at_ms=NOW_MS,
            readings=(ChannelReading("air_temperature", 21.5, "Cel", NOW_MS),),
        )

    def test_coming_and_going_of_a_device(self, broker, intake_of):
        received = Received()
        intake_of(broker.address, received)
        with foreign_client(broker.address) as publish:
            for state in ("online", "offline", "perhaps"):
                publish(status_topic("hall", "probe-1"), state, qos=1, retain=True)
        seen = [received.next(DeviceStatus) for _ in range(3)]
        assert (seen[0].online, seen[0].device) == (True, f"broker {broker.address}")
        assert [(status.device, status.online) for status in seen[1:]] == [
            ("probe-1", True),
            ("probe-1", False),
        ]
        assert "wanted online" in received.next(InputRejected).words

    def test_a_message_waits_for_its_acknowledgement(self, broker, intake_of):
        received = Received(acknowledging=False)
        intake = intake_of(broker.address, received)
        with foreign_client(broker.address) as publish:
            for n in range(3):
                publish(senml_topic("hall", "probe-1"), pack(20 + n), qos=1)
        pairs = [received.next_pair(ReadingsArrived) for _ in range(3)]
        assert intake.unacknowledged == 3
        for _, acknowledge in pairs:
            acknowledge()
            acknowledge()  # once is enough, twice does no harm
        assert intake.unacknowledged == 0

    def test_a_foreign_probe_through_a_mapping(self, broker, intake_of):
        received = Received()
        mappings = (
            Mapping("yard/+/state", "air_temperature", "°F", "/temperature", bench="hall"),
            Mapping("yard/+/state", "relative_humidity", "%", "/hum", bench="hall"),
        )
        intake_of(broker.address, received, mappings=mappings)
        with foreign_client(broker.address) as publish:
            publish("yard/door/state", json.dumps({"temperature": 68.0, "hum": 55.1}))
        assert received.next(ReadingsArrived) == ReadingsArrived(
            "hall",
            "yard-door-state",
            NOW_MS,
            (
                ChannelReading("air_temperature", pytest.approx(20), "Cel", NOW_MS),
                ChannelReading("relative_humidity", 55.1, "%RH", NOW_MS),
            ),
        )

    def test_bad_messages_get_a_line_each_and_good_ones_go_on(self, broker, intake_of):
        received = Received()
        intake = intake_of(broker.address, received)
        bad = (
            "warm",
            '[{"n":"air_temperature","u":"Cel","v":NaN}]',
            pack("warm"),
            pack(-300),
            pack(21.5, u="mood"),
            "[]",
            b"\xff\xfe",
        )
        with foreign_client(broker.address) as publish:
            for payload in bad:
                publish(senml_topic("hall", "probe-1"), payload, qos=1)
            publish(senml_topic("hall", "probe-1"), pack(21.5), qos=1)
        lines = [received.next(InputRejected) for _ in bad]
        assert all(line.source == "sprayout/hall/probe-1/senml" for line in lines)
        assert received.next(ReadingsArrived).readings[0].value == 21.5
        assert received.events.empty()
        assert intake.unacknowledged == 0

    def test_a_retained_value_without_a_time_is_not_taken_for_a_live_one(self, broker, intake_of):
        with foreign_client(broker.address) as publish:
            publish(senml_topic("hall", "probe-1"), pack(21.5), qos=1, retain=True)
        received = Received()
        intake_of(broker.address, received)
        assert "a retained value of unknown age" in received.next(InputRejected).words
        with foreign_client(broker.address) as publish:
            publish(senml_topic("hall", "probe-1"), pack(22.5), qos=1, retain=True)
        assert received.next(ReadingsArrived).readings[0].value == 22.5

    def test_what_a_publisher_says_arrives_as_it_was(self, broker, intake_of):
        received = Received()
        intake_of(broker.address, received)
        publisher = Publisher(broker.address, "hall", "board-1a2b3c", lambda online, words: None)
        publisher.start()
        publisher.say_status(True)
        publisher.publish(COLOUR)
        assert received.next(ReadingsArrived) == COLOUR
        publisher.stop()
        while received.next(DeviceStatus).online:
            pass

    def test_a_bench_that_forwards_does_not_hear_itself(self, broker, intake_of):
        received = Received()
        forwarder = Forwarder(broker.address, "hall", lambda online, words: None)
        intake = intake_of(broker.address, received, is_ours=forwarder.owns)
        forwarder.take(DeviceStatus("hall", "board-1a2b3c", NOW_MS, True, "here"))
        forwarder.take(COLOUR)
        assert forwarder.stop(PATIENCE_S) == 0
        with foreign_client(broker.address) as publish:
            publish(senml_topic("hall", "probe-1"), pack(21.5), qos=1)
        assert received.next(ReadingsArrived).device == "probe-1"
        assert intake.unacknowledged == 0

    def test_broker_away_and_back_everything_kept_arrives_once(self, broker, intake_of):
        """All that was published while it was away, and nothing twice for a journal."""
        received, said = Received(), queue.Queue()
        intake = intake_of(broker.address, received)
        publisher = Publisher(
            broker.address, "hall", "probe-1", lambda online, words: said.put((online, words))
        )
        if broker.keeps_sessions:
            publisher.start()
            assert said.get(timeout=PATIENCE_S)[0]
        broker.stop()
        while received.next(DeviceStatus).online:
            pass
        for n in range(300):
            publisher.publish(air(20 + n / 100, n))
        assert publisher.waiting >= 300
        broker.start()
        assert intake.wait_until_subscribed(PATIENCE_S)
        if not broker.keeps_sessions:  # its subscriptions were gone: see that they are back first
            publisher.start()
        assert publisher.flush(PATIENCE_S) == 0
        arrived = {}
        while len(arrived) < 300:
            (reading,) = received.next(ReadingsArrived).readings
            arrived[reading.at_ms] = reading.value
        assert arrived == {NOW_MS - 60_000 + n: 20 + n / 100 for n in range(300)}
        assert publisher.dropped == 0
        publisher.stop()

    def test_a_wrong_password_is_one_clear_line(self, broker, intake_of):
        received = Received()
        wrong = replace(broker.address, password="guess")
        intake_of(wrong, received, wait=False)
        status = received.next(DeviceStatus)
        assert not status.online
        assert "refused us (" in status.words
        assert "check user and password" in status.words
        assert "guess" not in status.words


def test_what_cannot_be_kept_any_longer_is_counted():
    address = Broker("127.0.0.1", free_port())
    publisher = Publisher(address, "hall", "probe-1", lambda online, words: None, kept_max=10)
    for n in range(15):
        publisher.publish(air(20, n))
    assert (publisher.waiting, publisher.dropped) == (10, 5)
    assert publisher.flush(0) == 10
    publisher.stop()


def test_a_certificate_file_that_is_none(tmp_path):
    file = tmp_path / "notes.pem"
    file.write_text("no certificate")
    with pytest.raises(BadInput, match="cannot be used as its certificate"):
        MqttIntake(Broker("club", tls=True, ca_file=file), Received(), client_id="x")


class TestNotThere:
    def test_nothing_listens(self, intake_of):
        received = Received()
        address = Broker("127.0.0.1", free_port())
        intake_of(address, received, wait=False)
        assert received.next(DeviceStatus) == DeviceStatus(
            "",
            f"broker {address}",
            NOW_MS,
            False,
            f"broker {address}: nothing listens there; start the broker or correct the address",
        )

    def test_no_such_host(self, intake_of):
        received = Received()
        intake_of(Broker("broker.invalid"), received, wait=False)
        assert "no such host; correct the address" in received.next(DeviceStatus).words


@pytest.mark.needs("mosquitto", "openssl")
class TestMosquitto:
    """What amqtt cannot do: it drops a message that is not acknowledged within five seconds."""

    def test_what_is_not_acknowledged_comes_again_and_what_is_does_not(self, mosquitto, intake_of):
        silent = Received(acknowledging=False)
        first = intake_of(mosquitto.address, silent)
        with foreign_client(mosquitto.address) as publish:
            for n in range(3):
                publish(senml_topic("hall", "probe-1"), pack(20 + n, t=NOW_MS / 1000), qos=1)
        pairs = [silent.next_pair(ReadingsArrived) for _ in range(3)]
        pairs[1][1]()
        first.stop()
        pairs[0][1]()  # too late: this connection is over
        again = Received()
        second = intake_of(mosquitto.address, again, wait=False)
        values = [again.next(ReadingsArrived).readings[0].value for _ in range(2)]
        assert sorted(values) == [20, 22]
        second.stop()
        third = Received()
        intake_of(mosquitto.address, third)
        with foreign_client(mosquitto.address) as publish:
            publish(senml_topic("hall", "probe-1"), pack(29), qos=1)
        assert third.next(ReadingsArrived).readings[0].value == 29

    def test_mqtt_5(self, mosquitto, intake_of):
        received = Received(acknowledging=False)
        five = replace(mosquitto.address, version="5")
        first = intake_of(five, received)
        with foreign_client(mosquitto.address) as publish:
            publish(senml_topic("hall", "probe-1"), pack(21.5, t=NOW_MS / 1000), qos=1)
        received.next(ReadingsArrived)
        first.stop()
        again = Received()
        intake_of(five, again, wait=False)
        assert again.next(ReadingsArrived).readings[0].value == 21.5

    def test_published_by_hand(self, mosquitto, intake_of):
        received = Received()
        intake_of(mosquitto.address, received)
        address = mosquitto.address
        command = (
            f"mosquitto_pub -h localhost -p {address.port} --cafile {address.ca_file} -u {USER} "
            "-q 1 -t sprayout/hall/by-hand/senml"
        )
        payload = '[{"n":"relative_humidity","u":"%RH","v":48.2}]'
        subprocess.run([*command.split(), "-P", PASSWORD, "-m", payload], check=True)
        arrived = received.next(ReadingsArrived)
        assert (arrived.bench, arrived.device) == ("hall", "by-hand")
        assert arrived.readings == (ChannelReading("relative_humidity", 48.2, "%RH", NOW_MS),)

    def test_a_certificate_nobody_vouches_for(self, mosquitto, intake_of):
        received = Received()
        intake_of(replace(mosquitto.address, ca_file=None), received, wait=False)
        assert "its certificate is not trusted" in received.next(DeviceStatus).words

    def test_plain_speech_on_a_tls_port(self, mosquitto, intake_of):
        received = Received()
        intake_of(replace(mosquitto.address, tls=False, ca_file=None), received, wait=False)
        assert "does it want TLS (mqtts://)?" in received.next(DeviceStatus).words


def test_tls_on_a_plain_port(intake_of):
    with socket.create_server(("127.0.0.1", 0)) as plain:
        answering = threading.Thread(target=answer_plainly, args=(plain,))
        answering.start()
        received = Received()
        intake_of(Broker(*plain.getsockname(), tls=True), received, wait=False)
        assert "use mqtt:// or its TLS port" in received.next(DeviceStatus).words
        answering.join(PATIENCE_S)


def answer_plainly(server):
    connection, _ = server.accept()
    with connection:
        connection.recv(1000)
        connection.sendall(b"this is no TLS\r\n")
