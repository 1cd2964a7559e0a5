"""A broker to measure with: mosquitto where it is installed, else the embedded one."""

from __future__ import annotations

import getpass
import multiprocessing
import shutil
import socket
import subprocess
import tempfile
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from multiprocessing.connection import Connection
from pathlib import Path

from sprayout.errors import LinkError
from sprayout.intake.broker import Broker

START_S = 20.0


def broker_name() -> str:
    """Which broker :func:`running_broker` runs here."""
    return "embedded (amqtt)" if shutil.which("mosquitto") is None else "mosquitto"


@contextmanager
def running_broker() -> Iterator[Broker]:
    """A broker in a process of its own, for as long as the block lasts."""
    if shutil.which("mosquitto") is None:
        with _embedded() as port:
            yield Broker("127.0.0.1", port)
    else:
        with tempfile.TemporaryDirectory() as folder, _mosquitto(Path(folder)) as port:
            yield Broker("127.0.0.1", port)


@contextmanager
def _mosquitto(folder: Path) -> Iterator[int]:
    port, settings = _free_port(), folder / "mosquitto.conf"
    settings.write_text(
        f"listener {port} 127.0.0.1\nallow_anonymous true\nuser {getpass.getuser()}\n"
        "max_queued_messages 0\nmax_inflight_messages 0\n"
        "log_dest stderr\nlog_type information\n"
    )
    program = subprocess.Popen(
        ["mosquitto", "-c", str(settings)], stderr=subprocess.PIPE, text=True
    )
    assert program.stderr is not None
    if not any(line.rstrip().endswith("running") for line in program.stderr):
        raise LinkError("benchmark: mosquitto did not start; try it by hand")
    rest = threading.Thread(target=program.stderr.read, daemon=True)
    rest.start()
    try:
        yield port
    finally:
        program.terminate()
        program.wait(START_S)
        rest.join(START_S)
        program.stderr.close()


@contextmanager
def _embedded() -> Iterator[int]:
    spawning = multiprocessing.get_context("spawn")
    ours, theirs = spawning.Pipe()
    process = spawning.Process(target=_run_embedded, args=(theirs,))
    process.start()
    try:
        if not ours.poll(START_S):
            raise LinkError("benchmark: the embedded broker did not start")
        yield int(ours.recv())
    finally:
        ours.send("stop")
        process.join(START_S)
        process.kill()


def _run_embedded(host: Connection) -> None:
    from sprayout.commands.embedded_broker import embedded_broker

    with embedded_broker() as port:
        host.send(port)
        host.recv()


def _free_port() -> int:
    with socket.create_server(("127.0.0.1", 0)) as door:
        return int(door.getsockname()[1])
