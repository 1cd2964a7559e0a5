"""What the colour still goes through after it is read: drying, and the reducer leaving it.

The target is a finish that is dry; the cup is wet, and may be reduced.  An :class:`Aim` holds the
shifts in between, so that the steering can aim at the colour that *becomes* the target.  What is
not known of them widens the answer (:meth:`sprayout.mixing.steer.Steering.dry_look`) but not the
steering: no drop makes it smaller.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sprayout.mixing.shifts import Shift, target_before
from sprayout.mixing.values import Target


@dataclass(frozen=True, slots=True)
class Aim:
    """The shifts to come, none where the cup is to match as it is read.

    ``step`` is their sum in ln(K/S), ``sd`` the standard deviation of it for this cup.
    ``reading`` is the shift that is taken off each reading made with reducer in the cup: its mean
    goes into the reading, so that only its ``sd`` counts here.
    """

    shifts: tuple[Shift, ...] = ()
    reading: Shift | None = None

    @property
    def step(self) -> float:
        return sum(shift.step for shift in self.shifts)

    @property
    def sd(self) -> float:
        return float(np.sqrt(sum(shift.sd**2 for shift in self._every())))

    @property
    def assumed(self) -> bool:
        """Whether any of the shifts rests on common practice alone."""
        return any(shift.assumed for shift in self._every())

    def words(self) -> tuple[str, ...]:
        """One sentence for each shift."""
        return tuple(shift.words() for shift in self._every())

    def _every(self) -> tuple[Shift, ...]:
        return (*self.shifts, *((self.reading,) if self.reading else ()))

    def before(self, target: Target) -> Target:
        """The colour to mix to now, so that the target comes out after the shifts."""
        for shift in reversed(self.shifts):
            target = target_before(target, shift)
        return target


AS_READ = Aim()
