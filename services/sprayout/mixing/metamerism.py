"""How far two colours that match in daylight part under a warm lamp.

CIE 15:2018, 9.2.2.3 (special metamerism index, change of illuminant): test illuminant A, with a
multiplicative correction of XYZ for what they already differ by under D65; CIEDE2000, 10°.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from sprayout.colour.difference import ciede2000
from sprayout.colour.lab import xyz_to_lab
from sprayout.mixing.axis import axis_on
from sprayout.mixing.goal import Goal

Array = npt.NDArray[np.float64]


def metameric_de00(goal: Goal, samples: Array) -> Array:
    """CIEDE2000 (n,) under illuminant A from the goal of samples (n, 16) on the model's axis."""
    if goal.sight is None:
        raise ValueError("a target without a spectrum has no metamerism")
    day, warm = goal.sight.axis, axis_on(goal.sight.band_nm, "a")
    seen = samples @ goal.sight.matrix.T
    corrected = (seen @ warm.to_xyz) * (goal.bands @ day.to_xyz) / (seen @ day.to_xyz)
    target = xyz_to_lab(goal.bands @ warm.to_xyz, warm.white)
    return ciede2000(target, xyz_to_lab(corrected, warm.white))
