"""``sprayout devices`` and ``sprayout relay`` over a real broker, as a person types them."""

import gc
import json
import os
import queue
import select
import sys
import threading
import tty

import paho.mqtt.client as paho
import pytest
from paho.mqtt.enums import CallbackAPIVersion

from sprayout.cli import main
from sprayout.commands.embedded_broker import embedded_broker
from sprayout.intake.broker import Broker
from sprayout.intake.events import DeviceStatus, ReadingsArrived
from sprayout.intake.mqtt_intake import MqttIntake
from sprayout.link import rpc
from sprayout.link.frames import LineDecoder, encode_line
from sprayout.link.messages import (
    ColourPack,
    Hello,
    HelloAnswer,
    RequestMessage,
    Stream,
    StreamAnswer,
)
from sprayout.link.senml import Record

pytestmark = [
    # amqtt lets go of clients' connections without closing them; Python closes them later.
    pytest.mark.filterwarnings("ignore:unclosed :ResourceWarning"),
    pytest.mark.filterwarnings("ignore:loop is closed:ResourceWarning"),
]
PATIENCE_S = 15
HELLO = HelloAnswer(1, "0.1.0", "board-1a2b3c", "rgb", ("red", "green"), (), 5)


@pytest.fixture
def port():
    with embedded_broker() as port:
        yield port
    gc.collect()


@pytest.fixture
def publishing(port):
    """Publish the same messages over and over until the test ends."""
    client = paho.Client(CallbackAPIVersion.VERSION2)
    messages, stopped = {}, threading.Event()

    def again_and_again():
        while not stopped.wait(0.05):
            for topic, payload in list(messages.items()):
                client.publish(topic, payload)

    client.connect("127.0.0.1", port)
    client.loop_start()
    publisher = threading.Thread(target=again_and_again)
    publisher.start()
    yield messages
    stopped.set()
    publisher.join(PATIENCE_S)
    client.disconnect()
    client.loop_stop()


def run(*words: str) -> int:
    with pytest.raises(SystemExit) as ended:
        main(words)
    code = ended.value.code
    assert isinstance(code, int)
    return code


class TestDevices:
    def test_ports_are_listed(self, capsys):
        assert run("devices", "--json") == 0
        assert isinstance(json.loads(capsys.readouterr().out)["ports"], list)

    def test_what_a_mapping_makes_of_live_messages(self, port, publishing, capsys):
        publishing["yard/door/state"] = '{"temperature": 68.0, "hum": 55.1}'
        publishing["yard/gate/state"] = '{"temperature": "warm"}'
        url = f"mqtt://127.0.0.1:{port}"
        mapping = ("--channel", "air_temperature", "--unit", "°F", "--pointer", "/temperature")
        listen = ("devices", "--try", "--mqtt", url, "--topic", "yard/+/state", "--for", "1")
        assert run(*listen, *mapping, "--json") == 0
        messages = json.loads(capsys.readouterr().out)["messages"]
        by_topic = {message["topic"]: message for message in messages}
        (made,) = by_topic["yard/door/state"]["readings"]
        assert made["value"] == pytest.approx(20)
        assert (made["unit"], made["device"]) == ("Cel", "yard-door-state")
        assert by_topic["yard/gate/state"]["readings"] == []
        assert "'warm', wanted a number" in by_topic["yard/gate/state"]["refused"][0]

    def test_without_a_mapping_it_shows_what_one_could_point_at(self, port, publishing, capsys):
        publishing["yard/door/state"] = '{"temperature": 68.0, "hum": 55.1}'
        url = f"mqtt://127.0.0.1:{port}"
        assert run("devices", "--try", "--mqtt", url, "--topic", "#", "--for", "1") == 0
        out = capsys.readouterr().out
        assert "  /temperature: 68\n  /hum: 55.1\n" in out

    def test_mappings_of_the_settings_file(self, port, publishing, capsys, tmp_path):
        publishing["yard/t"] = "21.5"
        file = tmp_path / "bench.toml"
        file.write_text(
            'bench = "hall"\n[[foreign]]\ntopic = "yard/t"\nchannel = "air_temperature"\n'
            'unit = "Cel"\ndevice = "yard"\n'
        )
        words = ("--mqtt", f"127.0.0.1:{port}", "--settings", str(file), "--for", "1")
        assert run("devices", "--try", *words) == 0
        assert "air_temperature 21.5 Cel  (bench hall, device yard)" in capsys.readouterr().out

    def test_silence_is_said(self, port, capsys):
        words = ("--mqtt", f"127.0.0.1:{port}", "--topic", "yard/t", "--for", "0.1")
        assert run("devices", "--try", *words) == 0
        assert "no message on yard/t within 0.1 s" in capsys.readouterr().out

    @pytest.mark.parametrize(
        ("words", "code", "line"),
        [
            ((), 2, "no broker given; add --mqtt"),
            (("--mqtt", "127.0.0.1:1"), 2, "no mapping in the settings"),
            (("--mqtt", "127.0.0.1:1", "--topic", "a"), 1, "nothing listens there"),
            (("--mqtt", "http://x", "--topic", "a"), 2, "wanted mqtt://host:port"),
            (
                ("--mqtt", "127.0.0.1:1", "--topic", "a/#/b", "--channel", "x", "--unit", "y"),
                2,
                "topic filter 'a/#/b'",
            ),
            (
                ("--mqtt", "127.0.0.1:1", "--topic", "a", "--channel", "air_temperature"),
                2,
                '"unit" is missing',
            ),
        ],
    )
    def test_bad_input_is_one_line(self, words, code, line, capsys):
        assert run("devices", "--try", *words) == code
        said = capsys.readouterr()
        assert said.out == ""
        assert line in said.err
        assert said.err.count("\n") == 1


class StreamingBoard:
    """Answers hello and stream over a pseudo-terminal, then sends packs until it is closed."""

    def __init__(self, link):
        self.far, self._near = os.openpty()
        tty.setraw(self._near)
        link.symlink_to(os.ttyname(self._near))
        self.sent = 0
        self._wake_read, self._wake_write = os.pipe()
        self._thread = threading.Thread(target=self._run)
        self._thread.start()

    def close(self):
        os.write(self._wake_write, b"x")
        self._thread.join(PATIENCE_S)
        for end in (self.far, self._near, self._wake_read, self._wake_write):
            os.close(end)

    def _run(self):
        decoder, streaming = LineDecoder(), False
        while True:
            ready, _, _ = select.select([self.far, self._wake_read], [], [], 0.02)
            if self._wake_read in ready:
                return
            for line in decoder.receive(os.read(self.far, 4096)) if ready else ():
                message = rpc.parse_message(line)
                assert isinstance(message, RequestMessage)
                streaming = streaming or isinstance(message.request, Stream)
                answer = HELLO if isinstance(message.request, Hello) else StreamAnswer(500, 1000)
                os.write(self.far, encode_line(rpc.result_json(message.id, answer)))
            if streaming:
                self._send()

    def _send(self):
        counts = (Record("red", "count", self.sent), Record("green", "count", 7))
        pack = ColourPack(self.sent, "on", 16, 50.0, 1024, (), (3, 5), counts)
        os.write(self.far, encode_line(rpc.notification_json(pack)))
        self.sent += 1


@pytest.mark.skipif(sys.platform == "win32", reason="Windows has no pseudo-terminals")
class TestRelay:
    @pytest.fixture
    def board(self, tmp_path):
        running = StreamingBoard(tmp_path / "board")
        yield running
        running.close()

    def test_a_bench_relayed_to_another_that_reads_the_broker(self, port, board, tmp_path, capsys):
        heard = queue.Queue()

        def deliver(event, acknowledge):
            heard.put(event)
            if acknowledge:
                acknowledge()

        club = MqttIntake(Broker("127.0.0.1", port), deliver, client_id="club")
        club.start()
        assert club.wait_until_subscribed(PATIENCE_S)
        words = ("--serial", str(tmp_path / "board"), "--mqtt", f"127.0.0.1:{port}")
        assert run("relay", *words, "--bench", "hall", "--for", "1", "--json") == 0
        count = json.loads(capsys.readouterr().out)
        assert count["relayed"] > 5
        assert (count["not_delivered"], count["dropped"]) == (0, 0)
        club.stop()
        events = [heard.get() for _ in range(heard.qsize())]
        arrived = [event for event in events if isinstance(event, ReadingsArrived)]
        assert [event.readings[0].value for event in arrived] == list(range(count["relayed"]))
        assert {(event.bench, event.device) for event in arrived} == {("hall", "board-1a2b3c")}
        assert arrived[0].colour is not None
        assert (arrived[0].colour.gain, arrived[0].colour.ambient) == (16, (3, 5))
        states = [
            event.online
            for event in events
            if isinstance(event, DeviceStatus) and event.device == "board-1a2b3c"
        ]
        assert True in states
        assert states[-1] is False

    def test_bad_input_is_one_line(self, port, tmp_path, capsys):
        words = ("relay", "--mqtt", f"127.0.0.1:{port}", "--for", "1")
        assert run(*words, "--serial", str(tmp_path / "none")) == 2
        assert "it is not there" in capsys.readouterr().err
        assert run(*words, "--serial", "x", "--bench", "a/b") == 2
        assert "bench 'a/b': wanted a name without / + #" in capsys.readouterr().err
