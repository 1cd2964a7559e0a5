"""The time, handed to whoever needs it: nothing else in sprayout asks the machine for it."""

import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
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


class ScaledClock:
    """A clock that starts at `start_ms` and runs `speed` times as fast as the machine's."""

    def __init__(self, start_ms: int, speed: float = 1.0) -> None:
        self.start_ms = start_ms
        self._lock = threading.Lock()
        # Seconds of this clock at a moment of the machine's, and the speed since then.
        self._since = (0.0, time.monotonic(), speed)

    @property
    def speed(self) -> float:
        """Seconds of this clock a second."""
        return self._since[2]

    def seconds(self) -> float:
        """Return the seconds of this clock since its start, as the virtual bench counts them."""
        passed_s, at_s, speed = self._since
        return passed_s + (time.monotonic() - at_s) * speed

    def now_ms(self) -> int:
        return self.start_ms + self.monotonic_ms()

    def monotonic_ms(self) -> int:
        return int(self.seconds() * 1000)

    def real_s(self, clock_s: float) -> float:
        return clock_s / self.speed

    @contextmanager
    def slowed_to(self, speed: float) -> Iterator[None]:
        """Run no faster than `speed` for as long as the block lasts."""
        usual = self.speed
        self._run_at(min(usual, speed))
        try:
            yield
        finally:
            self._run_at(usual)

    def _run_at(self, speed: float) -> None:
        with self._lock:
            self._since = (self.seconds(), time.monotonic(), speed)
