"""The climate chip (SHT3x class): 16-bit commands, conversion time, CRC-8.

Facts: Sensirion SHT3x-DIS data sheet v4 (repeatability as 3 sigma).  How slowly its housing follows
the air is the business of the surroundings.
"""

import math
import random
from collections.abc import Callable, Iterable

from sprayout.sim.chips.bus import NoAck
from sprayout.sim.chips.checks import word_with_crc
from sprayout.sim.faults import Fault, SoakedProbe, of_kind
from sprayout.sim.surroundings import Surroundings

# command: longest duration in s, three sigma of temperature in K and of humidity in %RH
_SINGLE_SHOTS = {
    0x2400: (0.015, 0.06, 0.10),
    0x240B: (0.006, 0.12, 0.15),
    0x2416: (0.004, 0.24, 0.25),
}
_SOFT_RESET, _READ_STATUS, _CLEAR_STATUS = 0x30A2, 0xF32D, 0x3041
_HEATER_ON, _HEATER_OFF, _BREAK = 0x306D, 0x3066, 0x3093
_RESET_S = 0.001


class SHT31:
    name = "sht31"

    def __init__(
        self,
        surroundings: Surroundings,
        now: Callable[[], float],
        seed: int = 0,
        faults: Iterable[Fault] = (),
        address: int = 0x44,
    ) -> None:
        self.address = address
        self._surroundings, self._now = surroundings, now
        self._random = random.Random(f"sht31 {seed}")
        self._soaks = of_kind(faults, SoakedProbe)
        self._answer = b""
        self._answer_from_s = 0.0
        self._busy_until_s = -math.inf
        self._status = 0x8010

    def power_on(self) -> None:
        self._answer = b""
        self._busy_until_s = self._now() + _RESET_S
        self._status = 0x8010

    def write(self, data: bytes, stop: bool) -> None:
        now = self._now()
        if now < self._busy_until_s:
            raise NoAck("busy")
        if len(data) != 2:
            self._status |= 0x02
            raise NoAck("commands have two bytes")
        self._command(int.from_bytes(data, "big"), now)

    def read(self, count: int) -> bytes:
        if not self._answer or self._now() < self._answer_from_s:
            raise NoAck("nothing to read yet")
        octets, self._answer = self._answer, b""
        return (octets + b"\xff" * count)[:count]

    def _command(self, command: int, now: float) -> None:
        self._answer = b""
        if command in _SINGLE_SHOTS:
            duration_s, t_spread, rh_spread = _SINGLE_SHOTS[command]
            self._busy_until_s = self._answer_from_s = now + duration_s
            self._answer = self._convert(now, t_spread / 3, rh_spread / 3)
        elif command == _SOFT_RESET:
            self.power_on()
        elif command == _READ_STATUS:
            self._answer, self._answer_from_s = word_with_crc(self._status), now
        elif command == _CLEAR_STATUS:
            self._status &= ~0x8C10
        elif command == _HEATER_ON:
            self._status |= 0x2000
        elif command == _HEATER_OFF:
            self._status &= ~0x2000
        elif command != _BREAK:
            self._status |= 0x02
            raise NoAck("unknown command")

    def _convert(self, t_s: float, t_sd: float, rh_sd: float) -> bytes:
        air_c = self._surroundings.air_c(t_s)
        rh_pct = self._surroundings.rh_pct(t_s) + sum(soak.offset(t_s) for soak in self._soaks)
        air_c += self._random.gauss(0.0, t_sd)
        rh_pct += self._random.gauss(0.0, rh_sd)
        return word_with_crc(_word((air_c + 45) / 175)) + word_with_crc(_word(rh_pct / 100))


def _word(share: float) -> int:
    return min(max(0, round(65535 * share)), 65535)
