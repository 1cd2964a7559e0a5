"""The compared coats as columns of numbers, each worked out once.  Pure."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from sprayout.review.quantities import BY_KEY, CoatFacts

Floats = NDArray[np.float64]
Mask = NDArray[np.bool_]
FEWEST_OF_KIND = 5


@dataclass(slots=True)
class Columns:
    """Coats in a fixed order, the judged one first; columns hold NaN where nothing is known."""

    coats: Sequence[CoatFacts]
    kinds: NDArray[np.str_] = field(init=False)
    good: Mask = field(init=False)
    _known: dict[str, Floats] = field(default_factory=dict)
    _usual: dict[tuple[str, str], Floats] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.kinds = np.array([coat.kind for coat in self.coats], dtype=np.str_)
        self.good = np.array([coat.is_good for coat in self.coats], dtype=bool)
        # The judged coat is never part of what it is compared with.
        self.good[:1] = False

    def of(self, quantity: str) -> Floats:
        """One quantity of every coat; a name that is no quantity is one the record holds beside."""
        if quantity not in self._known:
            own = quantity in BY_KEY
            held = [coat.values if own else coat.other for coat in self.coats]
            self._known[quantity] = np.array([v.get(quantity, math.nan) for v in held], dtype=float)
        return self._known[quantity]

    def usual(self, quantity: str, kind: str) -> Floats:
        """Good coats' values in rising order, of the same kind where it matters and suffices."""
        if (quantity, kind) not in self._usual:
            values = self.of(quantity)
            good = self.good & np.isfinite(values)
            if quantity in BY_KEY and BY_KEY[quantity].by_kind:
                alike = good & (self.kinds == kind)
                good = alike if alike.sum() >= FEWEST_OF_KIND else good
            self._usual[quantity, kind] = np.sort(values[good])
        return self._usual[quantity, kind]

    def kinds_for(self, quantity: str) -> list[str]:
        """The kinds that are compared apart; the first coat's alone where kind does not matter."""
        if BY_KEY[quantity].by_kind:
            return [str(kind) for kind in dict.fromkeys(self.kinds.tolist())]
        return [str(self.kinds[0])]


def quantile(rising: Floats, share: float) -> float:
    """Linear between order statistics (numpy's default), for values already in rising order."""
    place = share * (len(rising) - 1)
    below = int(place)
    above = min(below + 1, len(rising) - 1)
    return float(rising[below] + (place - below) * (rising[above] - rising[below]))


def robust_spread(rising: Floats, floor: float) -> float:
    """Standard deviation from the quartiles (IQR / 1.349), at least ``floor``."""
    if len(rising) < 2:
        return floor
    return max((quantile(rising, 0.75) - quantile(rising, 0.25)) / 1.349, floor)
