"""The 8-channel spectral chip (AS7341 class) at register level.

Registers: ams AS7341L data sheet DS000718 v1-00.  Shot noise is ours; read noise, dark counts
and gain ratios follow the sheet's typical and limiting values.
"""

import math
import random
from collections.abc import Callable, Iterable

from sprayout.sim.chips.bus import NoAck
from sprayout.sim.chips.led import Led
from sprayout.sim.faults import Fault, WrongIdentity, of_kind
from sprayout.sim.surroundings import Surroundings

# Photodiode sites of the switch chain: (byte, high nibble) -> channel.
SITES = {
    (0x01, False): "f1", (0x10, False): "f1", (0x05, False): "f2", (0x0C, True): "f2",
    (0x00, True): "f3", (0x0F, True): "f3", (0x05, True): "f4", (0x0D, False): "f4",
    (0x06, True): "f5", (0x09, True): "f5", (0x04, False): "f6", (0x0E, True): "f6",
    (0x07, False): "f7", (0x0A, False): "f7", (0x03, True): "f8", (0x0E, False): "f8",
    (0x08, True): "clear", (0x11, True): "clear", (0x13, False): "nir",
}  # fmt: skip
# Gain relative to 64x: lowest, typical, highest.
GAINS_OF_64 = (
    (0.007, 0.008, 0.009), (0.0145, 0.016, 0.0175), (0.03, 0.032, 0.034), (0.062, 0.065, 0.068),
    (0.119, 0.125, 0.131), (0.237, 0.25, 0.263), (0.47, 0.5, 0.53), (1.0, 1.0, 1.0),
    (1.8, 2.0, 2.1), (3.75, 3.95, 4.25), (7.25, 7.75, 8.25),
)  # fmt: skip
STEP_S = 2.78e-6
_SMUX_S = 0.3e-3
_SITES_OF = {c: sum(1 for site in SITES.values() if site == c) for c in SITES.values()}
_ENABLE, _ATIME, _ID, _STATUS2, _CFG0, _CFG1, _CFG6 = 0x80, 0x81, 0x92, 0xA3, 0xA9, 0xAA, 0xAF
_ASTATUS, _ASTEP = 0x94, 0xCA


def connections(chain: bytes) -> dict[int, list[str]]:
    """Converter number 0..5 -> channels of the photodiode sites that the chain puts on it."""
    wired: dict[int, list[str]] = {}
    for (octet, high), channel in SITES.items():
        converter = chain[octet] >> 4 if high else chain[octet] & 0x0F
        if 1 <= converter <= 6:
            wired.setdefault(converter - 1, []).append(channel)
    return wired


class AS7341:
    """``misuses`` lists what a careful driver never does; tests hold it empty."""

    name = "as7341"
    address = 0x39

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
        self._random = random.Random(f"as7341 {seed}")
        self._identities = tuple(f for f in of_kind(faults, WrongIdentity) if f.chip == self.name)
        # A third of the sheet's spread, fixed for this very chip.
        self._gains = tuple(
            64 * self._random.triangular(t - (t - low) / 3, t + (high - t) / 3, t)
            for low, t, high in GAINS_OF_64
        )
        self._pointer = 0
        self.power_on()

    def power_on(self) -> None:
        """Registers as after power-up."""
        self._registers = bytearray(256)
        self._registers[_ID] = 0x24
        self._registers[0x74] = 0x04
        self._registers[_CFG1] = 9
        self._registers[_CFG6] = 0x10
        self._registers[_ASTEP : _ASTEP + 2] = (999).to_bytes(2, "little")
        self._registers[0xD6] = 0xFF
        self._chain = bytes(20)
        self._smux_until_s = -math.inf
        self._started_s = math.inf
        self._taken = 0
        self._data = bytes(12)
        self._overflow = 0
        self._led.set_ma(0)

    # The bus

    def write(self, data: bytes, stop: bool) -> None:
        self._pointer = data[0]
        for octet in data[1:]:
            self._store(self._pointer, octet)
            self._pointer = (self._pointer + 1) & 0xFF

    def read(self, count: int) -> bytes:
        octets = bytearray()
        for _ in range(count):
            octets.append(self._load(self._pointer))
            self._pointer = (self._pointer + 1) & 0xFF
        return bytes(octets)

    # Registers

    def _reachable(self, register: int) -> bool:
        low_bank = bool(self._registers[_CFG0] & 0x10)
        if 0x60 <= register <= 0x74:
            return low_bank
        return register < 0x20 or register == _CFG0 or not low_bank

    def _load(self, register: int) -> int:
        if not self._reachable(register):
            self.misuses.append(f"read of 0x{register:02x} in the wrong bank")
            return 0
        if register == _ENABLE and self._now() >= self._smux_until_s:
            self._registers[_ENABLE] &= ~0x10 & 0xFF
        if register == _ASTATUS:
            self._latch()
        if register == _STATUS2:
            self._finish_cycles()
            return (0x40 if self._taken else 0) | self._overflow
        if register == _ID:
            return self._identity()
        return self._registers[register]

    def _identity(self) -> int:
        now = self._now()
        wrong = [fault.reads for fault in self._identities if fault.holds(now)]
        return wrong[0] << 2 & 0xFF if wrong else self._registers[_ID]

    def _store(self, register: int, octet: int) -> None:
        if not self._reachable(register):
            self.misuses.append(f"write to 0x{register:02x} in the wrong bank")
            return
        if register in (_ATIME, _CFG1, _ASTEP, _ASTEP + 1) and self._measuring():
            self.misuses.append(f"0x{register:02x} changed during a measurement")
        before = self._registers[register]
        self._registers[register] = octet
        if register == _ENABLE:
            self._enable(before, octet)
        elif register in (0x70, 0x74):
            self._drive_led()

    def _enable(self, before: int, octet: int) -> None:
        now = self._now()
        if not octet & 0x01:
            self._started_s = math.inf
            return
        if octet & 0x10:
            self._run_smux(octet, now)
        if octet & 0x02 and not before & 0x02:
            if now < self._smux_until_s:
                self.misuses.append("measurement started before the switch chain was set")
            self._started_s, self._taken, self._overflow = now, 0, 0
        elif not octet & 0x02:
            self._started_s = math.inf

    def _run_smux(self, enable: int, now: float) -> None:
        if enable & 0x02:
            self.misuses.append("switch chain set during a measurement")
        elif self._registers[_CFG6] >> 3 & 0x03 == 2:
            self._chain = bytes(self._registers[:20])
            self._smux_until_s = now + _SMUX_S

    def _drive_led(self) -> None:
        on = self._registers[0x70] & 0x08 and self._registers[0x74] & 0x80
        self._led.set_ma(4 + 2 * (self._registers[0x74] & 0x7F) if on else 0)

    # Conversion

    def _measuring(self) -> bool:
        return self._started_s != math.inf

    def _steps(self) -> int:
        astep = int.from_bytes(self._registers[_ASTEP : _ASTEP + 2], "little")
        steps = (self._registers[_ATIME] + 1) * (astep + 1)
        if steps == 1 or astep == 65535:
            raise NoAck("forbidden integration time")
        return steps

    def _finish_cycles(self) -> None:
        """Convert the newest cycle that is over by now, if it was not converted yet."""
        if not self._measuring():
            return
        cycle_s = self._steps() * STEP_S
        finished = int((self._now() - self._started_s) / cycle_s)
        if finished > self._taken:
            self._taken = finished
            self._convert(self._started_s + (finished - 1) * cycle_s, cycle_s)

    def _convert(self, begun_s: float, cycle_s: float) -> None:
        gain = self._gains[self._registers[_CFG1] & 0x1F]
        full_scale = min(65535, self._steps())
        per_ms = self._mean_light(begun_s, cycle_s)
        wired = connections(self._chain)
        words, self._overflow = [], 0
        for converter in range(6):
            light = sum(per_ms[c] / _SITES_OF[c] for c in wired.get(converter, ()))
            value = self._noisy(light * gain * cycle_s * 1e3, gain, cycle_s, converter)
            if value >= full_scale:
                # The counter is full (digital), or each step gave its one count (analogue).
                self._overflow |= 0x10 if full_scale == 65535 else 0x08
            words.append(min(max(0, math.floor(value)), full_scale))
        self._data = b"".join(word.to_bytes(2, "little") for word in words)

    def _mean_light(self, begun_s: float, cycle_s: float) -> dict[str, float]:
        """Mean over the cycle by Simpson's rule."""
        total: dict[str, float] = {}
        for at, weight in ((0.0, 1 / 6), (0.5, 4 / 6), (1.0, 1 / 6)):
            t_s = begun_s + at * cycle_s
            light = self._surroundings.light("spectral-8", self._led.light_ma(t_s), t_s)
            for channel, level in light.items():
                total[channel] = total.get(channel, 0.0) + weight * level
        return total

    def _noisy(self, counts: float, gain: float, cycle_s: float, converter: int) -> float:
        full_scale = min(65535, self._steps())
        read = 5e-5 * full_scale * math.sqrt(max(gain, 16) / 16)  # sheet: 0.005 % FS at 16x, 10 ms
        shot = 0.05 * math.sqrt(max(counts, 0.0) * max(gain, 64) / 64)
        dark = (0.5 if converter < 5 else 1.0) * gain / 512 * cycle_s / 0.098
        return counts + dark + self._random.gauss(0.0, math.hypot(read, shot))

    def _latch(self) -> None:
        self._finish_cycles()
        saturated = 0x80 if self._overflow else 0
        self._registers[_ASTATUS] = saturated | self._registers[_CFG1] & 0x0F
        self._registers[_ASTATUS + 1 : _ASTATUS + 13] = self._data
