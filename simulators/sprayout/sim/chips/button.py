"""The push button's pin: 0 is down, with a contact that may bounce."""

import math
import random
from collections.abc import Callable, Iterable

from sprayout.sim.faults import BouncingButton, Fault, of_kind
from sprayout.sim.surroundings import Surroundings

_READ_S = 3e-6  # how long a board takes for one reading of a pin


class ButtonPin:
    """``value`` as of ``machine.Pin`` with pull-up.  Each reading takes its time, so that a
    burst of readings sees a bounce that the clock of the simulation does not resolve."""

    def __init__(
        self,
        surroundings: Surroundings,
        now: Callable[[], float],
        seed: int = 0,
        faults: Iterable[Fault] = (),
    ) -> None:
        self._surroundings, self._now = surroundings, now
        self._bounces = of_kind(faults, BouncingButton)
        self._random = random.Random(f"button {seed}")
        self._last_read_s = -math.inf
        self._down = False
        self._edge_s = -math.inf

    def value(self) -> int:
        t_s = max(self._now(), self._last_read_s + _READ_S)
        self._last_read_s = t_s
        down = self._surroundings.button_down(t_s)
        if down != self._down:
            self._down, self._edge_s = down, t_s
        shown_down = down != self._bounced(t_s)
        return 0 if shown_down else 1

    def _bounced(self, t_s: float) -> bool:
        """Whether the contact shows the opposite of where the finger holds it."""
        since_s = t_s - self._edge_s
        for bounce in self._bounces:
            if bounce.holds(t_s) and since_s < bounce.for_s:
                return int(since_s * 2 * bounce.hz + self._random.random()) % 2 == 1
        return False
