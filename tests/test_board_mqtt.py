"""A board with a radio at a real broker: its packs arrive once, with their own time."""

import json
import shutil
import socket
import subprocess
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from types import ModuleType

import paho.mqtt.client as paho
import pytest

from sprayout.commands.embedded_broker import embedded_broker
from sprayout.intake.foreign import parse_own
from sprayout.link.colour_senml import split_colour
from sprayout.link.senml import parse_pack
from sprayout.sim import board_program
from sprayout.sim.micropython_board import serve_micropython
from sprayout.sim.surroundings import SPECTRAL_CHANNELS, SteadySurroundings
from sprayout.sim.virtual_board import BoardTicks, VirtualBoard

TOPIC = "sprayout/north/board-1a2b3c"
BEGAN_S = 1_788_000_000  # an evening in 2026
MOSQUITTO = shutil.which("mosquitto") or "/usr/sbin/mosquitto"
needs_mosquitto = pytest.mark.skipif(
    not Path(MOSQUITTO).exists(), reason="mosquitto is not installed"
)


def packets() -> ModuleType:
    return board_program.load()["mqtt_packets"]


# OASIS MQTT 3.1.1, table 2.4: number of bytes -> remaining length field
@pytest.mark.parametrize(
    ("count", "field"),
    [
        (0, "00"), (127, "7f"), (128, "8001"), (16_383, "ff7f"), (16_384, "808001"),
        (2_097_151, "ffff7f"), (2_097_152, "80808001"), (268_435_455, "ffffff7f"),
    ],
)  # fmt: skip
def test_remaining_length(count: int, field: str) -> None:
    assert packets()._length(count).hex() == field


def test_connect_packet_by_the_standard() -> None:
    """Variable header as in figure 3.6 of MQTT 3.1.1: 00 04 MQTT 04 flags keep-alive."""
    packet = packets().connect("b", "ann", "pw", "t", "offline", 30)
    assert packet[:12].hex() == "1022" + "00044d515454" + "04" + "ee" + "001e"
    assert packet[12:] == b"\0\1b\0\1t\0\7offline\0\3ann\0\2pw"


def test_publish_packet_by_the_standard() -> None:
    """Topic a/b, packet identifier 10: figure 3.11 of MQTT 3.1.1, with QoS 1."""
    assert packets().publish("a/b", b"x", 10).hex() == "3208" + "0003612f62" + "000a" + "78"


def test_reader_takes_packets_however_they_are_cut() -> None:
    octets = bytes.fromhex("20020000" + "40020001" + "d000")
    for chunk in (1, 2, 3, 10):
        reader, seen = packets().Reader(), []
        for at in range(0, len(octets), chunk):
            seen += reader.feed(octets[at : at + chunk])
        assert seen == [(2, b"\0\0"), (4, b"\0\1"), (13, b"")]


class Ether:
    """A network that is there, and a clock that knows the time."""

    def __init__(self, now: Callable[[], float]) -> None:
        self._now = now
        self.there = True

    def step(self) -> None:
        """Nothing to join."""

    def up(self) -> bool:
        return self.there

    def unix_ms(self) -> tuple[int, int]:
        ms = int(self._now() * 1000)
        return BEGAN_S + ms // 1000, ms % 1000


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def answers(port: int) -> bool:
    with socket.socket() as probe:
        return probe.connect_ex(("127.0.0.1", port)) == 0


@contextmanager
def mosquitto(port: int, folder: Path) -> Iterator[int]:
    (folder / "m.conf").write_text(f"listener {port} 127.0.0.1\nallow_anonymous true\n")
    process = subprocess.Popen(
        [MOSQUITTO, "-c", str(folder / "m.conf")],
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    try:
        until_s = time.monotonic() + 10
        while not answers(port) and time.monotonic() < until_s:
            time.sleep(0.02)
        yield port
    finally:
        process.terminate()
        process.wait()


class Listener:
    """A subscriber that keeps what it hears."""

    def __init__(self, port: int) -> None:
        self.messages: list[tuple[str, bytes, bool]] = []
        self.heard = threading.Condition()
        self.client = paho.Client(paho.CallbackAPIVersion.VERSION2)
        self.ready = False
        self.client.on_connect = lambda client, *_: client.subscribe("sprayout/#", qos=1)
        self.client.on_subscribe = self._subscribed
        self.client.on_message = self._keep
        self.client.reconnect_delay_set(1, 1)
        self.client.connect("127.0.0.1", port)
        self.client.loop_start()

    def _keep(self, client: object, given: object, message: paho.MQTTMessage) -> None:
        with self.heard:
            self.messages.append((message.topic, message.payload, message.retain))
            self.heard.notify_all()

    def _subscribed(self, *_: object) -> None:
        with self.heard:
            self.ready = True
            self.heard.notify_all()

    def packs(self) -> list[bytes]:
        return [payload for topic, payload, _ in list(self.messages) if topic.endswith("/senml")]

    def wait(self, enough: Callable[[], bool]) -> None:
        with self.heard:
            until_s = time.monotonic() + 20
            while not enough():
                assert time.monotonic() < until_s, self.messages[-3:]
                self.heard.wait(0.05)

    def close(self) -> None:
        self.client.disconnect()
        self.client.loop_stop()


class PacedClock:
    """Simulated seconds at a speed that may change."""

    def __init__(self, speed: float) -> None:
        self.speed, self._since, self._at_s = speed, time.monotonic(), 0.0

    def __call__(self) -> float:
        return self._at_s + self.speed * (time.monotonic() - self._since)

    def pace(self, speed: float) -> None:
        self._at_s, self._since, self.speed = self(), time.monotonic(), speed


class RadioBoard:
    """A virtual board with a radio, run in a thread at ``speed``."""

    def __init__(self, port: int, speed: float = 1.0) -> None:
        clock = PacedClock(speed)
        self.board = VirtualBoard(SteadySurroundings(), clock=clock)
        modules, ticks = board_program.load(), BoardTicks(clock)
        self.may_dial = threading.Event()
        self.may_dial.set()

        def dial() -> object:
            if not self.may_dial.is_set():
                raise OSError("no route")
            return modules["tcp"].Tcp("127.0.0.1", port)

        broker = modules["broker"].Broker(dial, ticks, "board-1a2b3c", TOPIC)
        program = self.board.program
        self.ether = Ether(clock)
        self.telemetry = modules["telemetry"].Telemetry(program, self.ether, broker, ticks)
        program.telemetry = self.telemetry
        self.broker, self.clock = broker, clock
        self._over = threading.Event()
        self._thread = threading.Thread(target=self._run)
        self._thread.start()

    def waiting(self) -> int:
        """Packs that no broker has acknowledged yet."""
        return len(self.telemetry.buffer) + (self.broker.payload is not None)

    def _run(self) -> None:
        while not self._over.wait(0.001):
            self.board.step()

    def close(self) -> None:
        self._over.set()
        self._thread.join()
        if self.broker._tcp:
            self.broker._tcp.close()


def times_ms(packs: list[bytes], now_s: float = BEGAN_S + 7200) -> list[int]:
    """Time of each pack as the intake reads it."""
    parsed = [parse_own(f"{TOPIC}/senml", payload, int(now_s * 1000)) for payload in packs]
    assert not [words for one in parsed for words in one.refusals]
    return [one.arrivals[0].readings[0].at_ms for one in parsed]


@pytest.mark.parametrize("kind", ["amqtt", pytest.param("mosquitto", marks=needs_mosquitto)])
def test_board_says_that_it_is_there_and_sends_the_air(kind: str, tmp_path: Path) -> None:
    made = embedded_broker() if kind == "amqtt" else mosquitto(free_port(), tmp_path)
    with made as port:
        listener, board = Listener(port), RadioBoard(port, speed=5.0)
        listener.wait(lambda: len(listener.packs()) >= 3)
        board.close()
        listener.wait(lambda: listener.messages[-1][:2] == (f"{TOPIC}/status", b"offline"))
        listener.close()
    assert (f"{TOPIC}/status", b"online") in [message[:2] for message in listener.messages]
    for payload in listener.packs():
        parsed = parse_own(f"{TOPIC}/senml", payload, (BEGAN_S + 60) * 1000)
        readings = {r.channel: r.value for r in parsed.arrivals[0].readings}
        assert readings["air_temperature"] == pytest.approx(21.3, abs=0.2)
        assert set(readings) == {
            "air_temperature",
            "relative_humidity",
            "part_temperature",
            "booth_pressure",
        }
    assert all(BEGAN_S * 1000 <= at < (BEGAN_S + 600) * 1000 for at in times_ms(listener.packs()))


@needs_mosquitto
def test_broker_away_for_ten_minutes_and_everything_arrives_once(tmp_path: Path) -> None:
    """The outage at two hundred times the speed; what was measured in it arrives after it."""
    port = free_port()
    with mosquitto(port, tmp_path):
        board, first = RadioBoard(port, speed=5.0), Listener(port)
        first.wait(lambda: len(first.packs()) >= 3)
    first.close()
    board.may_dial.clear()
    before_s, measured, waiting = board.clock(), board.telemetry.measured, board.waiting()
    board.clock.pace(200.0)
    while board.clock() < before_s + 600:
        time.sleep(0.05)
    board.clock.pace(5.0)
    assert board.waiting() >= 100
    with mosquitto(port, tmp_path):
        again = Listener(port)
        again.wait(lambda: again.ready)
        board.may_dial.set()
        again.wait(lambda: board.waiting() == 0)
        board.close()
        expected = waiting + board.telemetry.measured - measured - board.waiting()
        again.wait(lambda: len(set(again.packs())) >= expected)
        again.close()
    assert board.telemetry.lost == 0
    # A pack sent again after a lost acknowledgement is the same bytes: one reading in the journal.
    assert len(set(again.packs())) == expected
    at = times_ms(again.packs())
    assert at == sorted(at) and at[0] < (BEGAN_S + before_s + 10) * 1000


def test_full_buffer_lets_the_oldest_go_and_counts_it() -> None:
    modules = board_program.load()
    telemetry = modules["telemetry"].Telemetry(
        None, Ether(lambda: 0.0), None, BoardTicks(lambda: 0.0)
    )
    most = modules["telemetry"].MOST_WAITING
    for number in range(most + 7):
        telemetry._keep([{"n": "air_temperature", "u": "Cel", "v": number}], (BEGAN_S, 5))
    assert (len(telemetry.buffer), telemetry.lost) == (most, 7)
    assert json.loads(telemetry.buffer[0])[0]["v"] == 7


def test_without_a_known_time_nothing_is_measured_for_the_broker() -> None:
    class Timeless(Ether):
        def unix_ms(self) -> None:  # type: ignore[override]
            return None

    clock_s = [0.0]
    board = VirtualBoard(SteadySurroundings(), clock=lambda: clock_s[0])
    modules, ticks = board_program.load(), BoardTicks(lambda: clock_s[0])

    def dial() -> object:
        raise OSError("nobody")

    broker = modules["broker"].Broker(dial, ticks, "b", TOPIC)
    telemetry = modules["telemetry"].Telemetry(board.program, Timeless(lambda: 0.0), broker, ticks)
    board.program.telemetry = telemetry
    for _ in range(3000):
        clock_s[0] += max(board.step(), 1) / 1000
    telemetry.pressed()
    assert telemetry.buffer == [] and clock_s[0] > 20
    assert broker.words == "no broker at that address"


def test_colour_pack_reads_as_the_host_reads_it() -> None:
    board = VirtualBoard(SteadySurroundings(), clock=lambda: 0.0)
    pack = {
        "gain": 64, "integration_ms": 50.04, "full_scale": 18000, "light": "on",
        "saturated": ["f7"], "ambient": list(range(10)),
        "senml": [{"n": c, "u": "count", "v": 100} for c in SPECTRAL_CHANNELS],
    }  # fmt: skip
    records = board_program.load()["telemetry"].colour_records(pack)
    channels, setting = split_colour(parse_pack(records))
    assert [record.name for record in channels] == list(SPECTRAL_CHANNELS)
    assert setting is not None and board is not None
    assert (setting.gain, setting.full_scale, setting.saturated) == (64, 18000, ("f7",))
    assert setting.integration_ms == pytest.approx(50.04)
    assert list(setting.ambient.values()) == list(range(10))


@needs_mosquitto
@pytest.mark.needs("micropython")
def test_real_micropython_sends_with_a_heap_of_192_kb(tmp_path: Path) -> None:
    port = free_port()
    original = (board_program.board_folder() / "settings.py").read_text()
    changed = original.replace('WIFI_NAME = ""', 'WIFI_NAME = "workshop"')
    changed = changed.replace('"192.168.1.10"', '"127.0.0.1"').replace("1883", str(port))
    changed = changed.replace('BENCH = "bench"', 'BENCH = "north"')
    (tmp_path / "settings.py").write_text(changed)
    program = tmp_path / "main.py"
    program.write_bytes((board_program.board_folder() / "main.py").read_bytes())
    with mosquitto(port, tmp_path):
        listener = Listener(port)
        with serve_micropython(SteadySurroundings(), program=program):
            listener.wait(lambda: len(listener.packs()) >= 2)
        listener.wait(lambda: listener.messages[-1][1] == b"offline")
        listener.close()
    assert listener.messages[0][:2] == (f"{TOPIC}/status", b"online")
    for at_ms in times_ms(listener.packs(), time.time()):
        assert abs(at_ms - time.time() * 1000) < 30_000


def test_button_sends_a_colour_to_the_broker() -> None:
    clock_s = [0.0]
    board = VirtualBoard(SteadySurroundings(), clock=lambda: clock_s[0])
    modules, ticks = board_program.load(), BoardTicks(lambda: clock_s[0])

    def dial() -> object:
        raise OSError("nobody")

    broker = modules["broker"].Broker(dial, ticks, "b", TOPIC)
    ether = Ether(lambda: clock_s[0])
    telemetry = modules["telemetry"].Telemetry(board.program, ether, broker, ticks)
    board.program.telemetry = telemetry
    pressed = False
    while clock_s[0] < 1.0:
        if clock_s[0] > 0.2 and not pressed:
            pressed = True
            telemetry.pressed()
        clock_s[0] += max(board.step(), 1) / 1000
    [colour] = (json.loads(payload) for payload in telemetry.buffer)
    by_name = {record["n"]: record["v"] for record in colour}
    assert by_name["clear"] > 10_000 and by_name["gain"] == 64
    [at_ms] = times_ms(telemetry.buffer)
    assert at_ms == pytest.approx(BEGAN_S * 1000 + 200, abs=20)


@needs_mosquitto
def test_network_that_goes_and_comes_back(tmp_path: Path) -> None:
    with mosquitto(free_port(), tmp_path) as port:
        listener, board = Listener(port), RadioBoard(port, speed=5.0)
        listener.wait(lambda: len(listener.packs()) >= 2)
        board.ether.there = False
        listener.wait(lambda: listener.messages[-1][1] == b"offline")
        heard = len(listener.packs())
        listener.wait(lambda: board.waiting() >= 3)
        board.ether.there = True
        listener.wait(lambda: len(listener.packs()) >= heard + 3)
        board.close()
        listener.close()
    assert times_ms(listener.packs()) == sorted(times_ms(listener.packs()))
