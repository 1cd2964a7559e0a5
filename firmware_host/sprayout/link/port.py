"""The serial port: the only file that opens one.  It finds, opens, reads and writes; no meaning.

A port is held open in a thread of its own that reads in chunks.  Pulled and plugged in again, it
is opened anew within a quarter of a second of its return.  Time-outs are set once, at opening:
pyserial raises when one is set after an unplug.  RTS, DTR and CTS are left alone, since a
pseudo-terminal has none.
"""

from __future__ import annotations

import errno
import sys
import threading
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import serial
from serial.tools import list_ports

from sprayout.errors import BadInput, LinkError

if sys.platform == "win32":
    _TROUBLE: tuple[type[Exception], ...] = (OSError,)
else:
    import termios

    _TROUBLE = (OSError, termios.error)

AUTO = "auto"
BAUD = 115_200  # USB ports ignore it
RETRY_S = 0.25
_READ_S, _WRITE_S = 0.1, 1.0
_BY_ID = Path("/dev/serial/by-id")


@dataclass(frozen=True, slots=True)
class FoundPort:
    """A serial port that may be a board; ``by_id`` is a name that survives re-plugging."""

    path: str
    by_id: str | None
    words: str

    @property
    def best_path(self) -> str:
        """The name to keep in settings."""
        return self.by_id or self.path


@dataclass(frozen=True, slots=True)
class PortListener:
    """Who is told; all four are called from the port's own thread.

    ``ticked`` comes at least every 0.3 s, whether bytes arrive or not.
    """

    opened: Callable[[str], None]
    received: Callable[[bytes], None]
    ticked: Callable[[], None]
    lost: Callable[[str], None]


def find_boards() -> list[FoundPort]:
    """The USB serial ports of this computer, by path."""
    stable = _names_by_id()
    return [
        FoundPort(port.device, stable.get(port.device), port.description or "")
        for port in sorted(list_ports.comports())
        if port.vid is not None
    ]


def choose_path(wanted: str) -> str:
    """The path to open; :class:`LinkError` if ``auto`` finds none, :class:`BadInput` if many."""
    if wanted != AUTO:
        return wanted
    found = find_boards()
    if not found:
        raise LinkError("serial port auto: no USB serial port found; plug the board in")
    if len(found) > 1:
        names = ", ".join(port.best_path for port in found)
        raise BadInput(f"serial port auto: found {names}; name the one to use")
    return found[0].best_path


def check_port(wanted: str) -> None:
    """Open and close the port; :class:`BadInput` or :class:`LinkError` says why it cannot be."""
    _open(choose_path(wanted)).close()


class SerialPort:
    """One port, kept open for as long as it is there."""

    def __init__(self, wanted: str, listener: PortListener) -> None:
        self._wanted, self._listener = wanted, listener
        self._port: serial.Serial | None = None
        self._holding = threading.Lock()
        self._stopping = threading.Event()
        self._said = ""
        self._thread = threading.Thread(target=self._run, name=f"port {wanted}", daemon=True)

    def start(self) -> None:
        """Begin to open and read; returns at once."""
        self._thread.start()

    def stop(self) -> None:
        """Close the port and wait for the thread to end."""
        self._stopping.set()
        with self._holding:
            if self._port is not None:
                self._port.cancel_read()
        if self._thread.is_alive() and self._thread is not threading.current_thread():
            self._thread.join()

    def send(self, data: bytes) -> None:
        """Write all of it; :class:`LinkError` if the port is away or does not take it."""
        with self._holding:
            if self._port is None:
                raise LinkError(f"serial port {self._wanted}: not connected; plug the board in")
            try:
                self._port.write(data)
            except _TROUBLE as fault:
                raise LinkError(f"serial port {self._wanted}: cannot write: {fault}") from fault

    def _run(self) -> None:
        while not self._stopping.is_set():
            try:
                path = choose_path(self._wanted)
                port = _open(path)
            except (BadInput, LinkError) as fault:
                self._say_lost(str(fault))
                self._listener.ticked()
                self._stopping.wait(RETRY_S)
                continue
            self._serve(port, path)

    def _serve(self, port: serial.Serial, path: str) -> None:
        with self._holding:
            self._port = port
        self._said = ""
        try:
            self._listener.opened(path)
            words = self._read_until_lost(port, path)
        finally:
            with self._holding:
                self._port = None
                port.close()
        self._say_lost(words)

    def _read_until_lost(self, port: serial.Serial, path: str) -> str:
        while not self._stopping.is_set():
            try:
                data = port.read(port.in_waiting or 1)
            except _TROUBLE:
                return f"serial port {path}: it went away; plug the board in again"
            if data:
                self._listener.received(data)
            self._listener.ticked()
        return f"serial port {path}: closed"

    def _say_lost(self, words: str) -> None:
        """Each new reason once, not at every try."""
        if words != self._said:
            self._said = words
            self._listener.lost(words)


def _open(path: str) -> serial.Serial:
    try:
        return serial.Serial(path, BAUD, timeout=_READ_S, write_timeout=_WRITE_S, exclusive=True)
    except (*_TROUBLE, ValueError) as fault:
        raise refusal(path, fault) from fault


def refusal(path: str, fault: Exception) -> BadInput:
    """Why a port did not open, in one line."""
    return BadInput(f"serial port {path}: {_reason(path, fault)}")


def _reason(path: str, fault: Exception) -> str:
    number = getattr(fault, "errno", None)
    text = str(fault)
    if number == errno.ENOENT or "FileNotFoundError" in text:
        names = ", ".join(port.best_path for port in find_boards())
        return f"it is not there; {f'found {names}' if names else 'no board found, plug it in'}"
    if number in (errno.EAGAIN, errno.EBUSY, errno.EWOULDBLOCK):
        return "another program has it open; close that program first"
    if number in (errno.EACCES, errno.EPERM) or "PermissionError" in text:
        return f"no permission to open it; {_who_may_open(path)}"
    if "Inappropriate ioctl" in text or number == errno.EISDIR:
        return "it is no serial port; name one like /dev/ttyACM0 or COM3"
    return f"cannot be opened ({text}); unplug the board, plug it in and try again"


def _who_may_open(path: str) -> str:
    try:
        group = Path(path).group()
    except (OSError, KeyError, NotImplementedError):
        return "close other programs that use it"
    return f"join the group {group!r} (then log in again) or close other programs that use it"


def _names_by_id() -> dict[str, str]:
    if not _BY_ID.is_dir():
        return {}
    return {str(link.resolve()): str(link) for link in sorted(_BY_ID.iterdir())}
