"""An I2C bus with the calls of ``machine.I2C`` and chips that acknowledge or do not.

A transaction is an address with bytes written, bytes read, or both with a repeated start in
between.  What goes wrong raises the ``OSError`` that MicroPython raises.
"""

import errno
import random
from collections.abc import Callable, Iterable
from typing import Protocol

from sprayout.sim.faults import BadCheckSum, Fault, NoAnswer, PowerLoss, StuckBus, of_kind


class NoAck(Exception):  # noqa: N818 - the bus's own word
    """The chip does not acknowledge."""


class Chip(Protocol):
    """What the bus wants of a chip."""

    name: str
    address: int

    def write(self, data: bytes, stop: bool) -> None:
        """Take written bytes; ``stop`` is False where a repeated start follows."""
        ...

    def read(self, count: int) -> bytes:
        """Give ``count`` bytes; raise ``NoAck`` to refuse."""
        ...

    def power_on(self) -> None:
        """Forget everything, as after a loss of power."""
        ...


class I2cBus:
    """``now`` gives the seconds of the board's clock."""

    def __init__(
        self,
        chips: Iterable[Chip],
        now: Callable[[], float],
        faults: Iterable[Fault] = (),
        frequency_hz: int = 100_000,
    ) -> None:
        self.chips = {chip.address: chip for chip in chips}
        self.frequency_hz = frequency_hz
        self.transactions = 0
        self._now = now
        faults = tuple(faults)
        self._silent = of_kind(faults, NoAnswer)
        self._stuck = list(of_kind(faults, StuckBus))
        self._dips = list(of_kind(faults, PowerLoss))
        self._flips = of_kind(faults, BadCheckSum)
        self._random = random.Random("bus")

    def writeto_mem(self, address: int, register: int, data: bytes) -> None:
        self._write(address, bytes((register,)) + bytes(data), True)

    def readfrom_mem(self, address: int, register: int, count: int) -> bytes:
        self._write(address, bytes((register,)), False)
        return self._read(address, count)

    def writeto(self, address: int, data: bytes, stop: bool = True) -> int:
        self._write(address, bytes(data), stop)
        return len(data)

    def readfrom(self, address: int, count: int, stop: bool = True) -> bytes:
        return self._read(address, count)

    def scan(self) -> list[int]:
        """Addresses that acknowledge."""
        return [address for address in sorted(self.chips) if self._answers(address)]

    def clock_out(self) -> None:
        """Nine clock pulses with the data line released: frees a chip stuck in a byte."""
        now = self._now()
        self._stuck = [stuck for stuck in self._stuck if not (stuck.frees and stuck.holds(now))]

    def stuck(self) -> bool:
        """Whether the data line is held low."""
        now = self._now()
        return any(stuck.holds(now) for stuck in self._stuck)

    def _answers(self, address: int) -> bool:
        try:
            self._chip(address)
        except OSError:
            return False
        return True

    def _chip(self, address: int) -> Chip:
        now = self._now()
        self.transactions += 1
        if self.stuck():
            raise OSError(errno.ETIMEDOUT, "bus stuck")
        self._dip(now)
        chip = self.chips.get(address)
        if chip is None or any(gone.chip == chip.name and gone.holds(now) for gone in self._silent):
            raise OSError(errno.ENODEV, f"no answer at 0x{address:02x}")
        return chip

    def _dip(self, now: float) -> None:
        for dip in [dip for dip in self._dips if now >= dip.from_s]:
            self._dips.remove(dip)
            for chip in self.chips.values():
                if chip.name == dip.chip:
                    chip.power_on()

    def _write(self, address: int, data: bytes, stop: bool) -> None:
        try:
            self._chip(address).write(data, stop)
        except NoAck as refusal:
            raise OSError(errno.ENODEV, str(refusal)) from None

    def _read(self, address: int, count: int) -> bytes:
        chip = self._chip(address)
        try:
            return self._flipped(chip.name, chip.read(count))
        except NoAck as refusal:
            raise OSError(errno.ENODEV, str(refusal)) from None

    def _flipped(self, name: str, octets: bytes) -> bytes:
        now = self._now()
        for flip in self._flips:
            if flip.chip == name and flip.holds(now) and self._random.random() < flip.share:
                bit = self._random.randrange(8 * len(octets))
                whole = int.from_bytes(octets, "big") ^ (1 << bit)
                octets = whole.to_bytes(len(octets), "big")
        return octets
