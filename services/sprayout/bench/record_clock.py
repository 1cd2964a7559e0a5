"""The clock that dates records: the wall clock, made to run forward only, its jumps kept.

Intake threads and the loop ask it alike, so it is locked.  What a jump means for the record is the
station's to do; here it is only noticed.
"""

import threading

from sprayout.clock import Clock
from sprayout.journal.timeline import Jump, advance, begin


class RecordClock:
    """A ``Clock`` whose time never goes back, whatever the wall clock does."""

    def __init__(self, clock: Clock, newest_ms: int | None) -> None:
        self._clock = clock
        self._lock = threading.Lock()
        self._jumps: list[Jump] = []
        self._line, jump = begin(clock.now_ms(), clock.monotonic_ms(), newest_ms)
        self.started_ms = self._line.at_ms
        if jump is not None:
            self._jumps.append(jump)

    def now_ms(self) -> int:
        with self._lock:
            wall_ms, monotonic_ms = self._clock.now_ms(), self._clock.monotonic_ms()
            self._line, jump = advance(self._line, wall_ms, monotonic_ms)
            if jump is not None:
                self._jumps.append(jump)
            return self._line.at_ms

    def monotonic_ms(self) -> int:
        return self._clock.monotonic_ms()

    def real_s(self, clock_s: float) -> float:
        return self._clock.real_s(clock_s)

    def take_jumps(self) -> list[Jump]:
        """Return the jumps noticed since the last call."""
        with self._lock:
            taken, self._jumps = self._jumps, []
            return taken
