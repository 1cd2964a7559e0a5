"""The virtual board on a pty, opened by pyserial as any serial port is."""

import json
import math
import time
from collections.abc import Callable
from pathlib import Path
from zlib import crc32

import pytest
import serial

from sprayout.errors import BadInput
from sprayout.sim.pty_cable import serve_on_pty
from sprayout.sim.surroundings import SteadySurroundings
from sprayout.sim.virtual_board import VirtualBoard

Json = dict[str, object]


class Line:
    """A serial port and the lines on it."""

    def __init__(self, path: str) -> None:
        self.port = serial.Serial(path, timeout=5, exclusive=True)

    def ask(self, method: str, params: Json, number: int = 1) -> Json:
        request = {"jsonrpc": "2.0", "id": number, "method": method, "params": params}
        text = json.dumps(request).encode()
        self.port.write(text + b" *%08x\n" % crc32(text))
        return self.until(lambda message: message.get("id") == number)

    def until(self, wanted: Callable[[Json], bool]) -> Json:
        while True:
            line = self.port.readline()
            assert line.endswith(b"\n"), "no answer in 5 s"
            message = json.loads(line[:-11])
            if wanted(message):
                return message  # type: ignore[no-any-return]


def test_port_opens_answers_and_can_be_opened_again() -> None:
    with serve_on_pty(VirtualBoard(SteadySurroundings())) as cable:
        for _ in range(2):
            line = Line(cable.path)
            assert line.ask("hello", {"protocol": 1})["result"]["device"] == "board-1a2b3c"  # type: ignore[index]
            line.port.close()


def test_pulled_cable_and_replugged_under_the_same_name(tmp_path: Path) -> None:
    link = tmp_path / "bench-board"
    with serve_on_pty(VirtualBoard(SteadySurroundings()), link) as cable:
        assert cable.path == str(link)
        line = Line(cable.path)
        line.ask("configure", {"gain": 8})
        cable.pull()
        assert not link.is_symlink()
        with pytest.raises(serial.SerialException):
            while line.port.read(1000):
                pass
        line.port.close()
        with pytest.raises(serial.SerialException):
            Line(cable.path)
        cable.replug()
        again = Line(cable.path)
        assert again.ask("configure", {})["result"]["gain"] == 64  # type: ignore[index]
        again.port.close()
    assert not link.is_symlink()


def test_stream_comes_by_itself() -> None:
    with serve_on_pty(VirtualBoard(SteadySurroundings())) as cable:
        line = Line(cable.path)
        line.ask("stream", {"colour_ms": 0, "climate_ms": 50})
        for _ in range(3):
            pack = line.until(lambda message: message.get("method") == "reading")
            assert pack["params"]["senml"][0]["n"] == "air_temperature"  # type: ignore[index]
        line.port.close()


def test_two_boards_in_one_process_do_not_mix() -> None:
    warm, cold = (SteadySurroundings(air_temperature_c=c) for c in (30.0, 10.0))
    boards = [VirtualBoard(s, device=f"board-{n}") for n, s in (("warm", warm), ("cold", cold))]
    with serve_on_pty(boards[0]) as first, serve_on_pty(boards[1]) as second:
        lines = [Line(first.path), Line(second.path)]
        for line, name, air_c in zip(lines, ("warm", "cold"), (30.0, 10.0), strict=True):
            assert line.ask("hello", {"protocol": 1})["result"]["device"] == f"board-{name}"  # type: ignore[index]
            pack = line.ask("measure", {"of": ["climate"]})["result"]
            assert pack["senml"][0]["v"] == pytest.approx(air_c, abs=0.2)  # type: ignore[index]
            line.port.close()


def test_simulated_time_may_run_faster() -> None:
    """60 simulated seconds a second: a minute of climate comes in about one."""
    begun = time.monotonic()
    board = VirtualBoard(
        SteadySurroundings(), clock=lambda: 60 * (time.monotonic() - begun), speed=60.0
    )
    with serve_on_pty(board) as cable:
        line = Line(cable.path)
        line.ask("stream", {"colour_ms": 0, "climate_ms": 6000})
        for _ in range(10):
            line.until(lambda message: message.get("method") == "reading")
        uptime_ms = line.ask("hello", {"protocol": 1})["result"]["uptime_ms"]  # type: ignore[index]
        line.port.close()
    assert uptime_ms >= 54_000
    assert math.isfinite(uptime_ms)


def test_a_file_in_the_way_is_not_overwritten(tmp_path: Path) -> None:
    taken = tmp_path / "notes.txt"
    taken.write_text("mine")
    with (
        pytest.raises(BadInput, match="a file of that name is there"),
        serve_on_pty(VirtualBoard(SteadySurroundings()), taken),
    ):
        pass
    assert taken.read_text() == "mine"


def test_speed_must_be_above_0() -> None:
    with pytest.raises(BadInput, match="speed is 0"):
        VirtualBoard(SteadySurroundings(), speed=0)
