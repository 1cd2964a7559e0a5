"""Whether a surface can have a colour: the solid of optimal colours under a light.

A reflectance lies between 0 and 1 at every wavelength, so the XYZ of all surfaces fill a convex
body (E. Schrödinger 1920, D. L. MacAdam 1935).  Its faces are known: each is spanned by two
wavelengths.  A colour is inside when it is on the inner side of every face.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
import numpy.typing as npt

from sprayout.colour.lab import lab_to_xyz
from sprayout.colour.tristimulus import Illuminant, weights, white_of, white_point

Array = npt.NDArray[np.float64]

_SLACK = 0.3
"""Of XYZ with 100 for white: rounding of a typed Lab."""


@lru_cache(maxsize=2)
def _faces(illuminant: Illuminant, observer: int) -> tuple[Array, Array]:
    """Outward directions (faces, 3) and how far the solid reaches along each."""
    light = weights(illuminant, observer)[::2]
    first, second = np.triu_indices(len(light), 1)
    normal = np.cross(light[first], light[second])
    length = np.linalg.norm(normal, axis=1)
    normal = normal[length > 1e-9] / length[length > 1e-9, None]
    normal = np.vstack([normal, -normal])
    reach = np.maximum(normal @ weights(illuminant, observer).T, 0.0).sum(axis=1)
    return normal, reach


def is_surface_colour(lab: tuple[float, float, float], white: str = "d65-10") -> bool:
    """Whether this Lab lies within the solid of optimal colours; ``white`` is d65-10 or d50-2."""
    light = white_of(white)
    xyz = lab_to_xyz(np.asarray(lab, dtype=float), white_point(*light))
    normal, reach = _faces(*light)
    return bool(np.all(normal @ xyz <= reach + _SLACK))
