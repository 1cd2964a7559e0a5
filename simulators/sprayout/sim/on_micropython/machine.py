"""Stands in for MicroPython's ``machine`` on a computer: each call goes to the simulated chips.

Runs under MicroPython only.  A request is one byte for what, one for the address, one for how
many bytes follow, one for how many are wanted; the answer is one byte (0 done, else an error
number) and the bytes.  The socket's number stands in the environment.
"""

import os
import time

# Open as long as the board runs; MicroPython knows no pathlib.
_line = open(int(os.getenv("SPRAYOUT_CHIPS", "0")), "r+b")  # noqa: SIM115, PTH123
WRITE, WRITE_READ, READ, PIN, DUTY, CLOCK_OUT, TICKS, ADVANCE = range(8)


def _ask(what: int, address: int, octets: bytes, wanted: int) -> bytes:
    _line.write(bytes((what, address, len(octets), wanted)) + octets)
    status = _line.read(1)[0]
    if status:
        raise OSError(status)
    return _line.read(wanted) if wanted else b""


class Pin:
    IN, OUT, OPEN_DRAIN, PULL_UP = range(4)

    def __init__(self, number: int, mode: int = 0, pull: int = 0, value: int = 1) -> None:
        self.number = number

    def value(self, level: int | None = None) -> int:
        if level is None:
            return _ask(PIN, self.number, b"", 1)[0]
        if level:
            _ask(CLOCK_OUT, self.number, b"", 0)
        return level


class I2C:
    def __init__(self, number: int, scl: Pin, sda: Pin, freq: int) -> None:
        self.freq = freq

    def readfrom_mem(self, address: int, register: int, count: int) -> bytes:
        return _ask(WRITE_READ, address, bytes((register,)), count)

    def writeto_mem(self, address: int, register: int, octets: bytes) -> None:
        _ask(WRITE, address, bytes((register,)) + octets, 0)

    def readfrom(self, address: int, count: int) -> bytes:
        return _ask(READ, address, b"", count)

    def writeto(self, address: int, octets: bytes) -> int:
        _ask(WRITE, address, octets, 0)
        return len(octets)


class PWM:
    def __init__(self, pin: Pin, freq: int, duty_u16: int) -> None:
        self.duty_u16(duty_u16)

    def duty_u16(self, duty: int) -> None:
        _ask(DUTY, 0, duty.to_bytes(2, "little"), 0)


class WDT:
    """Bites at the next feeding that comes too late, as a real one would have before."""

    def __init__(self, timeout: int) -> None:
        self._timeout_s = timeout / 1000
        self._fed_s = time.time()

    def feed(self) -> None:
        now_s = time.time()
        if now_s - self._fed_s > self._timeout_s:
            raise SystemExit("watchdog: not fed in time")
        self._fed_s = now_s


def unique_id() -> bytes:
    return bytes(int(os.getenv("SPRAYOUT_BOARD", "000000")[at : at + 2], 16) for at in (0, 2, 4))


def simulated_ticks_ms() -> int:
    """Milliseconds of the simulated clock, for tests in lockstep."""
    return int.from_bytes(_ask(TICKS, 0, b"", 4), "little")


def advance_ms(ms: int) -> None:
    """Move the simulated clock on, where it is a stepped one."""
    _ask(ADVANCE, 0, ms.to_bytes(2, "little"), 0)
