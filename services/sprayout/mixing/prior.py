"""What is assumed of paints before anything was measured, in one place.

All spreads are standard deviations of natural logarithms unless the name says otherwise; none has
a source beyond simulation and common practice.  They are wide on purpose: readings narrow them.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import numpy.typing as npt

from sprayout.mixing.axis import MODEL_NM

Array = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Prior:
    """Spreads the fit and the steering start from."""

    scatter_level: float = 0.36
    """S of a paint against what its masstone lets expect, all bands together.

    The two sets of virtual paints that were invented apart from each other scatter by 0.37 and
    0.35 about :func:`expected_scatter`; a wider guess makes answers from masstones alone look
    less sure than they are.
    """
    scatter_shape: float = 0.15
    """S of a paint between one end of the spectrum and the other."""
    scatter_wiggle: float = 0.05
    """S of a paint from band to band."""
    ratio: float = 1.5
    ratio_reach_nm: float = 30.0
    """K/S of a paint against what lies between its bands, and how far along that hangs together."""
    drop: float = 0.05
    """One drop against the mean drop of its bottle."""
    bottle: float = 0.06
    """A bottle's drop today against the drops its swatches were mixed with."""
    interaction: float = 0.038
    """K/S of a half-and-half mixture against the model: pairs of paints, crowding."""
    interaction_reach: float = 0.35
    """Change of shares over which that error is forgotten."""
    filter_centre_nm: float = 2.0
    """A filter's centre against its data sheet, nm."""
    colour_floor_de00: float = 0.2
    """What else keeps a sensor's Lab from the true one, CIEDE2000 in each direction."""
    noise_relative: float = 0.002
    noise_floor: float = 0.0004
    """Sensor noise as a part of the reading and as reflectance."""


USUAL = Prior()
CARD = {"black": 0.03, "white": 0.80}
"""Internal reflectance of the two halves of a drawdown card; ISO 6504-3 asks 80 +- 2 % of white."""
CARD_SD = 0.02


_NM = np.asarray(MODEL_NM)
_APART_NM = np.abs(_NM[:, None] - _NM[None, :])


@lru_cache(maxsize=1)
def smooth_across() -> Array:
    """Correlation (16, 16) over ``MODEL_NM`` of model errors that change slowly along it."""
    near = np.exp(-0.5 * (_APART_NM / 50.0) ** 2)
    return np.asarray(0.5 + 0.45 * near + 0.05 * np.eye(_NM.size))


@lru_cache(maxsize=4)
def ratio_covariance(prior: Prior) -> Array:
    """Covariance (16, 16) of ln K/S of one paint about a first guess from its swatches."""
    near = np.exp(-0.5 * (_APART_NM / prior.ratio_reach_nm) ** 2)
    return np.asarray(prior.ratio**2 * (near + 0.002 * np.eye(_NM.size)))


@lru_cache(maxsize=4)
def scatter_covariance(prior: Prior) -> Array:
    """Covariance (16, 16) of ln S of one paint about its expected level."""
    tilt = (_NM - 550.0) / 150.0
    near = np.exp(-0.5 * (_APART_NM / 50.0) ** 2)
    return np.asarray(
        prior.scatter_level**2
        + prior.scatter_shape**2 * np.outer(tilt, tilt)
        + prior.scatter_wiggle**2 * (near + 0.1 * np.eye(_NM.size))
    )


def expected_scatter(ratio: Array) -> float:
    """ln S a paint is expected to have from the K/S of its masstone (white paint: about 0).

    Paints are sold at about one tinting strength, so the stronger the masstone absorbs relative
    to its scattering, the less it scatters.  Common practice, no source.
    """
    peak = float(np.log(np.quantile(ratio, 0.9)))
    return float(np.clip(0.1 - 0.8 * (peak + 0.5), -3.3, 0.0))
