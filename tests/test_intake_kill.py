"""kill -9 while readings come in: what the broker was told is on disk, the rest comes again.

A receiver (intake and journal, as a bench runs them) is killed in the middle of its work, over and
over.  In the end each reading is on record, once.
"""

import getpass
import os
import socket
import subprocess
import sys
import threading
from collections.abc import Callable
from pathlib import Path

import pytest

from sprayout.intake.broker import Broker
from sprayout.intake.events import ChannelReading, ReadingsArrived
from sprayout.intake.mqtt_intake import MqttIntake
from sprayout.intake.publisher import Publisher
from sprayout.journal.reader import Reader
from sprayout.journal.store import prepare_store

PATIENCE_S = 30
FIRST_MS = 1_764_063_600_000
PACKS = 600
ROOT = Path(__file__).parents[1]

RECEIVER = """
import sys
from pathlib import Path
from sprayout.bench.on_record import rows_of
from sprayout.intake.broker import Broker
from sprayout.intake.events import ReadingsArrived
from sprayout.intake.mqtt_intake import MqttIntake
from sprayout.journal.writer import Writer

with Writer(Path(sys.argv[1]), every_s=0.05) as writer:
    def deliver(event, acknowledge):
        if not isinstance(event, ReadingsArrived):
            return
        def committed(future):
            future.result()
            acknowledge()
            print(event.at_ms, flush=True)
        writer.submit(rows_of(event, event.bench)).add_done_callback(committed)

    MqttIntake(Broker("127.0.0.1", int(sys.argv[2])), deliver, client_id="receiver").start()
    sys.stdin.read()
"""


@pytest.fixture
def mosquitto(tmp_path):
    with socket.create_server(("127.0.0.1", 0)) as door:
        port = door.getsockname()[1]
    settings = tmp_path / "mosquitto.conf"
    settings.write_text(
        f"listener {port} 127.0.0.1\nallow_anonymous true\nuser {getpass.getuser()}\n"
        "max_queued_messages 0\nlog_type information\nlog_dest stderr\n"
    )
    program = subprocess.Popen(
        ["mosquitto", "-c", str(settings)], stderr=subprocess.PIPE, text=True
    )
    assert any(line.rstrip().endswith("running") for line in program.stderr)
    rest = threading.Thread(target=program.stderr.read)
    rest.start()
    yield port
    program.terminate()
    program.wait(PATIENCE_S)
    rest.join(PATIENCE_S)
    program.stderr.close()


def receive(store: Path, port: int, enough: Callable[[set[int]], bool]) -> set[int]:
    """Run a receiver until it has told of ``enough`` commits, then kill it."""
    roots = [str(ROOT / folder) for folder in ("services", "firmware_host", "simulators")]
    program = subprocess.Popen(
        [sys.executable, "-c", RECEIVER, str(store), str(port)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
        env=os.environ | {"PYTHONPATH": os.pathsep.join(roots)},
    )
    stuck = threading.Timer(PATIENCE_S, program.kill)
    stuck.start()
    told: set[int] = set()
    for line in program.stdout:
        told.add(int(line))
        if enough(told):
            break
    stuck.cancel()
    program.kill()
    program.communicate()
    return told


def send_all(port: int) -> None:
    """Send everything to a broker that knows the receiver and keeps it for it."""
    address = Broker("127.0.0.1", port)
    first = MqttIntake(address, lambda event, acknowledge: None, client_id="receiver")
    first.start()
    assert first.wait_until_subscribed(PATIENCE_S)
    first.stop()
    publisher = Publisher(address, "hall", "probe", lambda online, words: None)
    publisher.start()
    for n in range(PACKS):
        reading = ChannelReading("air_temperature", 20 + n / 1000, "Cel", FIRST_MS + n)
        publisher.publish(ReadingsArrived("hall", "probe", reading.at_ms, (reading,)))
    assert publisher.flush(PATIENCE_S) == 0
    publisher.stop()


@pytest.mark.needs("mosquitto")
def test_killed_over_and_over_nothing_is_lost_and_nothing_is_there_twice(mosquitto, tmp_path):
    store = tmp_path / "bench.sqlite"
    prepare_store(store)
    send_all(mosquitto)
    told = set()
    for _ in range(3):
        told |= receive(store, mosquitto, lambda seen: len(seen) >= 60)
    assert len(told) < PACKS
    told |= receive(store, mosquitto, lambda seen: FIRST_MS + PACKS - 1 in seen)
    reader = Reader(store)
    kept = [reading.at_ms for reading in reader.readings("hall", FIRST_MS, FIRST_MS + PACKS)]
    reader.close()
    assert told <= set(kept)
    assert kept == [FIRST_MS + n for n in range(PACKS)]
