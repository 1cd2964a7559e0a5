"""How far two colours that match in daylight part under a warm lamp.

CIE 15:2018, 9.2.2.3 (special metamerism index, change of illuminant): test illuminant A, with a
multiplicative correction of XYZ for what they already differ by under D65; CIEDE2000, 10°.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from sprayout.colour.difference import ciede2000
from sprayout.colour.lab import xyz_to_lab
from sprayout.mixing.axis import Axis, axis_on

Array = npt.NDArray[np.float64]


def metameric_de00(axis: Axis, target: Array, samples: Array) -> Array:
    """CIEDE2000 (n,) under illuminant A of samples (n, bands) from the target (bands,)."""
    warm = axis_on(axis.wavelength_nm, "a")
    corrected = (samples @ warm.to_xyz) * (target @ axis.to_xyz) / (samples @ axis.to_xyz)
    return ciede2000(
        xyz_to_lab(target @ warm.to_xyz, warm.white), xyz_to_lab(corrected, warm.white)
    )
