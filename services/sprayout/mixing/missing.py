"""The colour a shelf lacks for a target, as a Lab and in words."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from sprayout.mixing.belief import Belief
from sprayout.mixing.goal import Goal
from sprayout.mixing.steering import Limits

Array = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Missing:
    """A paint that would close the gap: its masstone's Lab D65/10°, and words for it."""

    lab_d65_10: tuple[float, float, float]
    words: str


def missing_colour(belief: Belief, goal: Goal, limits: Limits) -> Missing | None:
    return None
