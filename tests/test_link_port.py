"""The serial port over a pseudo-terminal, opened by pyserial as a real one would be."""

import errno
import os
import queue
import sys
import threading
from pathlib import Path

import pytest
import serial

from sprayout.errors import BadInput, LinkError
from sprayout.link.port import PortListener, SerialPort, check_port, choose_path, refusal

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="Windows has no pseudo-terminals")
PATIENCE_S = 10


class NullModem:
    """The far end of a cable under a name that survives pulling and plugging."""

    def __init__(self, link: Path) -> None:
        self.link, self.far, self._near = link, -1, -1
        self.plug()

    def plug(self) -> None:
        self.far, self._near = os.openpty()
        self.link.symlink_to(os.ttyname(self._near))

    def pull(self) -> None:
        self.link.unlink()
        os.close(self.far)
        os.close(self._near)
        self.far = self._near = -1


class Heard:
    """Everything a port says, and a way to wait for it."""

    def __init__(self) -> None:
        self.said: queue.Queue[tuple[str, object]] = queue.Queue()
        self.ticked = threading.Event()
        self.listener = PortListener(
            opened=lambda path: self.said.put(("opened", path)),
            received=lambda data: self.said.put(("received", data)),
            ticked=self.ticked.set,
            lost=lambda words: self.said.put(("lost", words)),
        )

    def next(self) -> tuple[str, object]:
        return self.said.get(timeout=PATIENCE_S)

    def bytes(self, count: int) -> bytes:
        data = b""
        while len(data) < count:
            kind, chunk = self.next()
            assert kind == "received", chunk
            data += chunk
        return data


@pytest.fixture
def cable(tmp_path):
    modem = NullModem(tmp_path / "board")
    yield modem
    if modem.far >= 0:
        modem.pull()


@pytest.fixture
def heard(cable):
    ears = Heard()
    port = SerialPort(str(cable.link), ears.listener)
    port.start()
    ears.port = port
    assert ears.next() == ("opened", str(cable.link))
    yield ears
    port.stop()


def test_bytes_go_both_ways_unchanged(cable, heard):
    every_byte = bytes(range(256))
    os.write(cable.far, every_byte)
    assert heard.bytes(256) == every_byte
    heard.port.send(every_byte)
    assert os.read(cable.far, 1000) == every_byte


def test_it_ticks_without_bytes(heard):
    assert heard.ticked.wait(PATIENCE_S)


def test_pulled_and_plugged_in_again(cable, heard):
    for round_ in range(3):
        cable.pull()
        assert heard.next() == (
            "lost",
            f"serial port {cable.link}: it went away; plug the board in again",
        )
        kind, words = heard.next()
        assert kind == "lost"
        assert "it is not there" in words
        with pytest.raises(LinkError, match="not connected; plug the board in"):
            heard.port.send(b"anyone?")
        cable.plug()
        assert heard.next() == ("opened", str(cable.link))
        os.write(cable.far, b"again %d" % round_)
        assert heard.bytes(7) == b"again %d" % round_


def test_an_absence_is_told_once(cable, heard):
    cable.pull()
    heard.next()
    heard.next()
    for _ in range(3):
        heard.ticked.clear()
        assert heard.ticked.wait(PATIENCE_S)
    assert heard.said.empty()


def test_a_port_is_ours_alone(cable, heard):
    with pytest.raises(BadInput, match="another program has it open; close that program first"):
        check_port(str(cable.link))


def test_stopping_says_that_it_is_closed_and_frees_the_port(cable, heard):
    heard.port.stop()
    assert heard.next() == ("lost", f"serial port {cable.link}: closed")
    check_port(str(cable.link))


def test_an_unknown_port(tmp_path):
    with pytest.raises(BadInput, match="it is not there; "):
        check_port(str(tmp_path / "nothing"))


def test_what_is_no_serial_port(tmp_path):
    plain = tmp_path / "notes.txt"
    plain.write_text("")
    with pytest.raises(BadInput, match="it is no serial port; name one like"):
        check_port(str(plain))
    with pytest.raises(BadInput, match="it is no serial port; name one like"):
        check_port(str(tmp_path))


@pytest.mark.parametrize(
    ("fault", "words"),
    [
        (serial.SerialException(errno.EACCES, "x"), "no permission to open it; join the group"),
        (serial.SerialException("could not open port: PermissionError(13)"), "no permission"),
        (serial.SerialException(errno.EBUSY, "x"), "another program has it open"),
        (serial.SerialException("could not open port: FileNotFoundError(2)"), "it is not there"),
        (serial.SerialException("odd"), r"cannot be opened \(odd\); unplug the board"),
    ],
)
def test_each_refusal_is_one_clear_line(cable, fault, words):
    refused = refusal(str(cable.link), fault)
    assert "\n" not in str(refused)
    with pytest.raises(BadInput, match=words):
        raise refused


def test_a_given_path_is_taken_as_it_is():
    assert choose_path("/dev/ttyACM7") == "/dev/ttyACM7"
