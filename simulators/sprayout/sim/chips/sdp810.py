"""The differential pressure chip (SDP8xx class, 500 Pa type) in continuous averaging mode.

Facts: command and scale words as in public headers of the SDP3x and SDP8xx families (from
memory where they do not say); noise 0.1 Pa is ours.
"""

import math
import random
from collections.abc import Callable, Iterable

from sprayout.sim.chips.bus import NoAck
from sprayout.sim.chips.checks import word_with_crc
from sprayout.sim.faults import Fault, WrongIdentity, of_kind
from sprayout.sim.surroundings import Surroundings

SCALE_PER_PA = 60
_TEMPERATURE_PER_C = 200
_START_AVERAGED, _STOP = 0x3615, 0x3FF9
_PRODUCT = (0x367C, 0xE102)
_PRODUCT_WORDS = (0x0302, 0x0A01, 0x0000, 0x0000, 0x1A2B, 0x3C4D)
_FIRST_RESULT_S = 0.008
_NOISE_PA = 0.1


class SDP810:
    name = "sdp810"

    def __init__(
        self,
        surroundings: Surroundings,
        now: Callable[[], float],
        seed: int = 0,
        faults: Iterable[Fault] = (),
        address: int = 0x25,
    ) -> None:
        self.address = address
        self._surroundings, self._now = surroundings, now
        self._random = random.Random(f"sdp810 {seed}")
        self._identities = tuple(f for f in of_kind(faults, WrongIdentity) if f.chip == self.name)
        self.power_on()

    def power_on(self) -> None:
        self._ready_s = math.inf
        self._commands: tuple[int, ...] = ()

    def write(self, data: bytes, stop: bool) -> None:
        command = int.from_bytes(data, "big")
        measuring = self._ready_s != math.inf
        if command == _STOP:
            self._ready_s = math.inf
        elif measuring or command not in (_START_AVERAGED, *_PRODUCT):
            raise NoAck("not while measuring" if measuring else "unknown command")
        elif command == _START_AVERAGED:
            self._ready_s = self._now() + _FIRST_RESULT_S
        self._commands = (*self._commands[-1:], command)

    def read(self, count: int) -> bytes:
        if self._commands == _PRODUCT:
            words = self._product()
        elif self._now() >= self._ready_s:
            words = self._result()
        else:
            raise NoAck("nothing to read yet")
        octets = b"".join(word_with_crc(word) for word in words)
        return (octets + b"\xff" * count)[:count]

    def _product(self) -> tuple[int, ...]:
        now = self._now()
        wrong = [fault.reads for fault in self._identities if fault.holds(now)]
        return (wrong[0], *_PRODUCT_WORDS[1:]) if wrong else _PRODUCT_WORDS

    def _result(self) -> tuple[int, int, int]:
        t_s = self._now()
        pascal = self._surroundings.booth_pressure_pa(t_s) + self._random.gauss(0.0, _NOISE_PA)
        pressure = min(max(-32768, round(SCALE_PER_PA * pascal)), 32767)
        temperature = round(_TEMPERATURE_PER_C * self._surroundings.air_c(t_s))
        return pressure & 0xFFFF, temperature & 0xFFFF, SCALE_PER_PA
