"""The push button, sampled rather than interrupting: bounces at 100 kHz would swamp a handler.

A press counts once a burst of samples, repeated for ``_STEADY_MS``, agrees that it is down.
"""

_STEADY_MS = 25
_SAMPLES = 8


class PushButton:
    """``pin`` is a ``machine.Pin`` with pull-up: 0 is down."""

    poll_ms = 10

    def __init__(self, pin, clock):
        self.pin = pin
        self.clock = clock
        self.down = False
        self.count = 0
        self._since = None

    def pressed(self):
        """True once for each press.  Call it every few milliseconds."""
        now = self.clock.ticks_ms()
        down = self._level()
        if down is None or down == self.down:
            self._since = None
            return False
        if self._since is None:
            self._since = now
        if self.clock.ticks_diff(now, self._since) < _STEADY_MS:
            return False
        self.down = down
        self._since = None
        self.count += down
        return down

    def _level(self):
        """Down or not; None while the contact bounces."""
        first = self.pin.value()
        if (first == 0) != self.down:
            for _ in range(_SAMPLES - 1):
                if self.pin.value() != first:
                    return None
        return first == 0
