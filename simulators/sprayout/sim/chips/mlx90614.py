"""The infrared thermometer (MLX90614 class): SMBus words with a packet error code.

Facts: Melexis MLX90614 data sheet rev 13.  Noise is ours, of the size of its resolution.
"""

import random
from collections.abc import Callable, Iterable

from sprayout.sim.chips.bus import NoAck
from sprayout.sim.chips.checks import remainder
from sprayout.sim.faults import Fault, WrongIdentity, of_kind
from sprayout.sim.surroundings import Surroundings

FASTEST_HZ = 100_000
_AMBIENT, _OBJECT, _EMISSIVITY, _ADDRESS = 0x06, 0x07, 0x24, 0x2E
_IDS = (0x3C, 0x3D, 0x3E, 0x3F)
_LOWEST, _HIGHEST = 0x27AD, 0x7FFF
_NOISE_K = 0.03


def packet(address: int, command: int, word: int) -> bytes:
    """The three bytes of a read: low byte, high byte, code over everything on the wire."""
    octets = word.to_bytes(2, "little")
    wire = bytes((address << 1, command, address << 1 | 1)) + octets
    return octets + bytes((remainder(wire, 0x07, 0),))


class MLX90614:
    """``bus_hz`` tells the speed it is spoken to: above 100 kHz it does not understand."""

    name = "mlx90614"
    address = 0x5A

    def __init__(
        self,
        surroundings: Surroundings,
        now: Callable[[], float],
        seed: int = 0,
        faults: Iterable[Fault] = (),
        bus_hz: int = FASTEST_HZ,
    ) -> None:
        self._surroundings, self._now, self._bus_hz = surroundings, now, bus_hz
        self._random = random.Random(f"mlx90614 {seed}")
        self._identities = tuple(f for f in of_kind(faults, WrongIdentity) if f.chip == self.name)
        self._command: int | None = None

    def power_on(self) -> None:
        self._command = None

    def write(self, data: bytes, stop: bool) -> None:
        if self._bus_hz > FASTEST_HZ:
            raise NoAck("bus faster than 100 kHz")
        # A stop between command and read ends the transaction: the read would have no command.
        self._command = data[0] if len(data) == 1 and not stop else None

    def read(self, count: int) -> bytes:
        if self._command is None:
            raise NoAck("read without a command")
        command, self._command = self._command, None
        return (packet(self.address, command, self._word(command)) + b"\xff" * count)[:count]

    def _word(self, command: int) -> int:
        t_s = self._now()
        if command == _OBJECT:
            return self._kelvin(self._surroundings.part_c(t_s))
        if command == _AMBIENT:
            return self._kelvin(self._surroundings.air_c(t_s))
        if command == _EMISSIVITY:
            wrong = [fault.reads for fault in self._identities if fault.holds(t_s)]
            return wrong[0] if wrong else 0xFFFF
        if command == _ADDRESS:
            return 0xBE00 | self.address
        if command in _IDS:
            return 0x1000 + command
        raise NoAck("unknown command")

    def _kelvin(self, celsius: float) -> int:
        raw = round((celsius + self._random.gauss(0.0, _NOISE_K) + 273.15) * 50)
        return raw if _LOWEST <= raw <= _HIGHEST else 0x8000 | raw & 0x7FFF
