"""A virtual board on a pty, so that pyserial and other programs open it as a serial port.

::

    with serve_on_pty(board) as cable:
        serial.Serial(cable.path)
        cable.pull()      # as if the plug were pulled: the port vanishes, the board is dark
        cable.replug()    # it is back under the same name; the board starts anew
"""

import contextlib
import os
import pty
import select
import tempfile
import threading
import tty
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from sprayout.errors import BadInput
from sprayout.sim.virtual_board import VirtualBoard

_CHUNK = 256
_LONGEST_SLEEP_S = 0.05
_SHORTEST_SLEEP_S = 0.001  # fast simulated time would otherwise never let others run


class PtyEnds:
    """A raw pty; ``port`` stays open here so that the board survives a host that closes it."""

    def __init__(self) -> None:
        self.board, self.port = pty.openpty()
        tty.setraw(self.port)
        os.set_blocking(self.board, False)

    @property
    def name(self) -> str:
        return os.ttyname(self.port)

    def close_port(self) -> None:
        """Let go of the host's side."""
        if self.port >= 0:
            os.close(self.port)
            self.port = -1

    def close(self) -> None:
        os.close(self.board)
        self.close_port()


@dataclass(frozen=True, slots=True)
class PtyPort:
    """The board's end of the pty, straight: what nobody reads stays with the board."""

    line: int

    def read(self) -> bytes:
        try:
            return os.read(self.line, _CHUNK)
        except BlockingIOError:
            return b""

    def write(self, octets: bytes) -> int:
        try:
            return os.write(self.line, octets)
        except BlockingIOError:
            return 0


class PortName:
    """A symlink that names the port and survives a replug, as by-id names do."""

    def __init__(self, link: Path) -> None:
        if link.exists() and not link.is_symlink():
            raise BadInput(f"port name {link}: a file of that name is there; choose another name")
        self.link = link

    def point_to(self, name: str) -> None:
        fresh = self.link.with_name(f".{self.link.name}.{os.getpid()}")
        fresh.symlink_to(name)
        fresh.replace(self.link)

    def remove(self) -> None:
        self.link.unlink(missing_ok=True)


class PtyCable:
    """The board's thread and its cable.  ``path`` is the port's stable name."""

    def __init__(self, board: VirtualBoard, link: Path) -> None:
        self._board = board
        self._name = PortName(link)
        self._ends: PtyEnds | None = None
        self._thread: threading.Thread | None = None
        self._unplugged = threading.Event()
        self._failure: BaseException | None = None
        self._wake_read, self._wake_write = os.pipe()

    @property
    def path(self) -> str:
        return str(self._name.link)

    @property
    def plugged(self) -> bool:
        return self._ends is not None

    def replug(self) -> None:
        """Plug in: a new port under the old name, a board that starts from power-up."""
        if self._ends is not None:
            return
        self._ends = PtyEnds()
        self._board.restart(PtyPort(self._ends.board))
        self._unplugged.clear()
        self._name.point_to(self._ends.name)
        self._thread = threading.Thread(
            target=self._run, args=(self._ends.board,), name=f"board {self.path}", daemon=True
        )
        self._thread.start()

    def pull(self) -> None:
        """Pull the plug: the port vanishes, what was under way is lost."""
        if self._ends is None or self._thread is None:
            return
        self._unplugged.set()
        os.write(self._wake_write, b"x")
        self._thread.join()
        os.read(self._wake_read, 1)
        self._name.remove()
        self._ends.close()
        self._ends = self._thread = None
        if self._failure is not None:
            failure, self._failure = self._failure, None
            raise failure

    def close(self) -> None:
        try:
            self.pull()
        finally:
            os.close(self._wake_read)
            os.close(self._wake_write)

    def _run(self, line: int) -> None:
        try:
            while not self._unplugged.is_set():
                self._sleep(line, self._board.step())
        except BaseException as failure:  # shown by pull() in the caller's thread
            self._failure = failure

    def _sleep(self, line: int, wait_ms: float) -> None:
        """Until the board wants to run again, the host writes, or the plug is pulled."""
        wait_s = min(wait_ms / 1000 / self._board.speed, _LONGEST_SLEEP_S)
        if wait_s:
            wait_s = max(wait_s, _SHORTEST_SLEEP_S)
        select.select([line, self._wake_read], [], [], wait_s)


@contextlib.contextmanager
def serve_on_pty(board: VirtualBoard, link: Path | None = None) -> Iterator[PtyCable]:
    """Run ``board`` in a thread behind a pty named ``link`` (a temporary name without it)."""
    with tempfile.TemporaryDirectory(prefix="sprayout-board-") as folder:
        cable = PtyCable(board, link or Path(folder) / board.device)
        try:
            cable.replug()
            yield cable
        finally:
            cable.close()
