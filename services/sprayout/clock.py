"""The time, handed to whoever needs it: nothing else in sprayout asks the machine for it."""

import time
from dataclasses import dataclass, field
from typing import Protocol


class Clock(Protocol):
    """A wall clock and a monotonic one, both in milliseconds."""

    def now_ms(self) -> int:
        """Return milliseconds since 1970-01-01T00:00Z."""

    def monotonic_ms(self) -> int:
        """Return milliseconds that never run backwards."""

    def real_s(self, clock_s: float) -> float:
        """Return how many real seconds pass while this clock runs `clock_s`."""


class SystemClock:
    """The machine's own clocks."""

    def now_ms(self) -> int:
        return time.time_ns() // 1_000_000

    def monotonic_ms(self) -> int:
        return time.monotonic_ns() // 1_000_000

    def real_s(self, clock_s: float) -> float:
        return clock_s


@dataclass
class ScaledClock:
    """A clock that starts at `start_ms` and runs `speed` times as fast as the machine's."""

    start_ms: int
    speed: float = 1.0
    _origin_ns: int = field(default_factory=time.monotonic_ns)

    def now_ms(self) -> int:
        return self.start_ms + self.monotonic_ms()

    def monotonic_ms(self) -> int:
        return int((time.monotonic_ns() - self._origin_ns) * self.speed) // 1_000_000

    def real_s(self, clock_s: float) -> float:
        return clock_s / self.speed

    def seconds(self) -> float:
        """Return the seconds of this clock since its start, as the virtual bench counts them."""
        return (time.monotonic_ns() - self._origin_ns) * self.speed / 1e9
