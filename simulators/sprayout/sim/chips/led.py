"""The board's white LED: current set by the board, light given with warm-up and ageing.

A white LED loses some light as its junction warms: here 2 % of it within a second or so
(common practice, no source), which is why the board waits the same time before each measurement.
"""

import math
from collections import deque
from collections.abc import Callable, Iterable

from sprayout.sim.faults import DriftingLed, Fault, of_kind

_DROOP = 0.02
_WARMING_S = 0.4


class Led:
    """Remembers its last few settings, because a conversion asks for light of the past."""

    def __init__(self, now: Callable[[], float], faults: Iterable[Fault] = ()) -> None:
        self._now = now
        self._drifts = of_kind(faults, DriftingLed)
        self._settings: deque[tuple[float, float]] = deque([(-math.inf, 0.0)], maxlen=16)

    def set_ma(self, ma: float) -> None:
        if ma != self._settings[-1][1]:
            self._settings.append((self._now(), ma))

    def light_ma(self, t_s: float) -> float:
        """The current whose light, warm-up and ageing allowed for, the LED gives at ``t_s``."""
        since_s, ma = next((s for s in reversed(self._settings) if s[0] <= t_s), (t_s, 0.0))
        if ma == 0.0:
            return 0.0
        droop = _DROOP * (1 - math.exp(-(t_s - since_s) / _WARMING_S))
        return ma * (1 - droop) * math.prod(drift.factor(t_s) for drift in self._drifts)


class LedPwm:
    """The pulse width of a pin that drives the LED through a resistor for ``full_ma``."""

    def __init__(self, led: Led, full_ma: int = 50) -> None:
        self.full_ma = full_ma
        self._led = led

    def duty_u16(self, duty: int) -> None:
        self._led.set_ma(self.full_ma * duty / 65535)
