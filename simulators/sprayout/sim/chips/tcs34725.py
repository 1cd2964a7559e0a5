"""The RGB chip (TCS34725 class) at register level.

Registers: ams TCS3472 data sheet v1-02.  Noise is ours.
"""

import math
import random
from collections.abc import Callable, Iterable

from sprayout.sim.chips.bus import NoAck
from sprayout.sim.chips.led import Led
from sprayout.sim.faults import Fault, WrongIdentity, of_kind
from sprayout.sim.surroundings import Surroundings

_GAINS = ((1.0, 1.0, 1.0), (3.8, 4.0, 4.2), (15.0, 16.0, 16.8), (58.0, 60.0, 63.0))
_CYCLE_S = 2.4e-3
_WARM_UP_S = 2.4e-3
_ENABLE, _ATIME, _CONTROL, _ID, _STATUS, _CDATA = 0x00, 0x01, 0x0F, 0x12, 0x13, 0x14


class TCS34725:
    name = "tcs34725"
    address = 0x29

    def __init__(
        self,
        surroundings: Surroundings,
        led: Led,
        now: Callable[[], float],
        seed: int = 0,
        faults: Iterable[Fault] = (),
    ) -> None:
        self.misuses: list[str] = []
        self._surroundings, self._led, self._now = surroundings, led, now
        self._random = random.Random(f"tcs34725 {seed}")
        self._identities = tuple(f for f in of_kind(faults, WrongIdentity) if f.chip == self.name)
        self._gains = tuple(
            self._random.triangular(t - (t - low) / 3, t + (high - t) / 3, t)
            for low, t, high in _GAINS
        )
        self.power_on()

    def power_on(self) -> None:
        self._registers = bytearray(32)
        self._registers[_ATIME] = 0xFF
        self._registers[_ID] = 0x44
        self._pointer, self._increment = 0, False
        self._powered_s = self._started_s = math.inf
        self._taken = 0
        self._data = bytes(8)
        self._high_byte = 0

    def write(self, data: bytes, stop: bool) -> None:
        command = data[0]
        if not command & 0x80:
            raise NoAck("command bit missing")
        if command & 0x60 == 0x60:
            return  # special function: clear interrupt
        self._pointer, self._increment = command & 0x1F, bool(command & 0x20)
        for octet in data[1:]:
            self._store(self._pointer, octet)
            self._advance()

    def read(self, count: int) -> bytes:
        octets = bytearray()
        for _ in range(count):
            octets.append(self._load(self._pointer))
            self._advance()
        return bytes(octets)

    def _advance(self) -> None:
        if self._increment:
            self._pointer = (self._pointer + 1) & 0x1F

    def _load(self, register: int) -> int:
        now = self._now()
        if register == _STATUS:
            self._finish_cycles()
            return 0x01 if self._taken else 0
        if register == _ID:
            wrong = [fault.reads for fault in self._identities if fault.holds(now)]
            return wrong[0] if wrong else self._registers[_ID]
        if _CDATA <= register < _CDATA + 8:
            return self._load_data(register - _CDATA)
        return self._registers[register]

    def _load_data(self, at: int) -> int:
        """Reading a low byte latches its high byte."""
        if at % 2:
            return self._high_byte
        self._finish_cycles()
        self._high_byte = self._data[at + 1]
        return self._data[at]

    def _store(self, register: int, octet: int) -> None:
        if register in (_ATIME, _CONTROL) and self._started_s != math.inf:
            self.misuses.append(f"0x{register:02x} changed during a measurement")
        self._registers[register] = octet
        if register == _ENABLE:
            self._enable(octet)

    def _enable(self, octet: int) -> None:
        now = self._now()
        if not octet & 0x01:
            self._powered_s = self._started_s = math.inf
            return
        if self._powered_s == math.inf:
            self._powered_s = now
        if not octet & 0x02:
            self._started_s = math.inf
        elif self._started_s == math.inf:
            if now - self._powered_s < _WARM_UP_S:
                self.misuses.append("measurement started within 2.4 ms of power")
            self._started_s, self._taken = now, 0

    def _finish_cycles(self) -> None:
        if self._started_s == math.inf:
            return
        cycle_s = (256 - self._registers[_ATIME]) * _CYCLE_S
        finished = int((self._now() - self._started_s) / cycle_s)
        if finished > self._taken:
            self._taken = finished
            self._convert(self._started_s + (finished - 0.5) * cycle_s, cycle_s)

    def _convert(self, middle_s: float, cycle_s: float) -> None:
        gain = self._gains[self._registers[_CONTROL] & 0x03]
        full_scale = min(65535, 1024 * (256 - self._registers[_ATIME]))
        light = self._surroundings.light("rgb", self._led.light_ma(middle_s), middle_s)
        words = []
        for channel in ("clear", "red", "green", "blue"):
            counts = light[channel] * gain * cycle_s * 1e3
            counts += self._random.gauss(0.0, math.hypot(0.5, 0.05 * math.sqrt(max(counts, 0.0))))
            words.append(min(max(0, math.floor(counts)), full_scale))
        self._data = b"".join(word.to_bytes(2, "little") for word in words)
