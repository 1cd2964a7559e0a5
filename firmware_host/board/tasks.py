"""Lanes of work without threads: a job is a generator that yields the milliseconds to wait."""

_MOST_WAITING = 4
LONGEST_WAIT_MS = 1000


class Lane:
    """Jobs one after the other; the loop calls ``step`` when ``wait_ms`` is over."""

    def __init__(self, clock):
        self.clock = clock
        self.job = None
        self.waiting = []
        self._due = 0

    def full(self):
        return len(self.waiting) >= _MOST_WAITING

    def idle(self):
        return self.job is None and not self.waiting

    def add(self, job):
        self.waiting.append(job)

    def step(self):
        if self.job is None:
            if not self.waiting:
                return
            self.job = self.waiting.pop(0)
            self._due = self.clock.ticks_ms()
        if self.clock.ticks_diff(self._due, self.clock.ticks_ms()) > 0:
            return
        try:
            wait_ms = next(self.job)
        except StopIteration:
            self.job = None
        except BaseException:
            self.job = None
            raise
        else:
            self._due = self.clock.ticks_add(self.clock.ticks_ms(), int(wait_ms))

    def wait_ms(self):
        if self.job is None:
            return 0 if self.waiting else LONGEST_WAIT_MS
        return max(0, self.clock.ticks_diff(self._due, self.clock.ticks_ms()))


class Interval:
    """Says when the next of a regular series is due; late ones are left out, not made up."""

    def __init__(self, clock):
        self.clock = clock
        self.every_ms = 0
        self._next = 0

    def set(self, every_ms):
        self.every_ms = every_ms
        self._next = self.clock.ticks_ms()

    def due(self):
        if not self.every_ms:
            return False
        now = self.clock.ticks_ms()
        if self.clock.ticks_diff(now, self._next) < 0:
            return False
        self._next = self.clock.ticks_add(self._next, self.every_ms)
        if self.clock.ticks_diff(now, self._next) >= 0:
            self._next = self.clock.ticks_add(now, self.every_ms)
        return True

    def wait_ms(self):
        if not self.every_ms:
            return LONGEST_WAIT_MS
        return max(0, self.clock.ticks_diff(self._next, self.clock.ticks_ms()))
