"""Bytes on the cable, some of them replaced by noise."""

import random
from collections.abc import Callable, Iterable

from sprayout.sim.faults import CableNoise, Fault, of_kind


class NoisyLine:
    """Counts what it ``spoiled``."""

    def __init__(
        self, now: Callable[[], float], seed: int = 0, faults: Iterable[Fault] = ()
    ) -> None:
        self.spoiled = 0
        self._now = now
        self._random = random.Random(f"cable {seed}")
        self._noises = of_kind(faults, CableNoise)

    def pass_on(self, octets: bytes) -> bytes:
        now = self._now()
        per_byte = max((noise.per_byte for noise in self._noises if noise.holds(now)), default=0.0)
        if not per_byte:
            return octets
        return bytes(self._spoil(octet, per_byte) for octet in octets)

    def _spoil(self, octet: int, per_byte: float) -> int:
        if self._random.random() >= per_byte:
            return octet
        self.spoiled += 1
        return self._random.randrange(256)
