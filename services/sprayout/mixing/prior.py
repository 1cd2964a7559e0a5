"""What is assumed of paints before anything was measured, in one place.

All spreads are standard deviations of natural logarithms unless the name says otherwise; none has
a source beyond simulation and common practice.  They are wide on purpose: readings narrow them.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Prior:
    """Spreads the fit and the steering start from."""

    scatter_level: float = 0.7
    """S of a paint against what its masstone lets expect, all bands together."""
    scatter_shape: float = 0.15
    """S of a paint between one end of the spectrum and the other."""
    scatter_wiggle: float = 0.05
    """S of a paint from band to band."""
    scatter_edge: float = 0.6
    """S of a paint in a filter band across which its own K/S changes by a factor of e^2.

    A filter averages reflectance, not K and S: at an absorption edge the numbers that describe the
    band best are far from those of any one wavelength, and say nothing about the bands beside it.
    """
    drop: float = 0.05
    """One drop against the mean drop of its bottle."""
    bottle: float = 0.06
    """A bottle's drop today against the drops its swatches were mixed with."""
    interaction: float = 0.045
    """K/S of a half-and-half mixture against the model: pairs of paints, crowding."""
    interaction_reach: float = 0.35
    """Change of shares over which that error is forgotten."""
    noise_relative: float = 0.002
    noise_floor: float = 0.0004
    """Sensor noise as a part of the reading and as reflectance."""


USUAL = Prior()
CARD = {"black": 0.03, "white": 0.80}
"""Internal reflectance of the two halves of a drawdown card; ISO 6504-3 asks 80 +- 2 % of white."""
CARD_SD = 0.02


def smooth_across(wavelength_nm: tuple[float, ...], reach_nm: float = 60.0) -> Array:
    """Correlation (bands, bands) of errors that change slowly with wavelength."""
    nm = np.asarray(wavelength_nm)
    near = np.exp(-0.5 * ((nm[:, None] - nm[None, :]) / reach_nm) ** 2)
    return np.asarray(0.5 + 0.35 * near + 0.15 * np.eye(nm.size))


def scatter_covariance(wavelength_nm: tuple[float, ...], log_q: Array, prior: Prior) -> Array:
    """Covariance (bands, bands) of ln S of one paint about its expected level.

    ``log_q`` (bands,): ln K/S of the paint as far as it is known.
    """
    nm = np.asarray(wavelength_nm)
    across = np.gradient(log_q, nm) * np.gradient(nm) / 2
    edge = np.minimum(prior.scatter_edge * across**2, 1.2)
    tilt = (nm - 550.0) / 150.0
    near = np.exp(-0.5 * ((nm[:, None] - nm[None, :]) / 50.0) ** 2)
    return np.asarray(
        prior.scatter_level**2
        + prior.scatter_shape**2 * np.outer(tilt, tilt)
        + prior.scatter_wiggle**2 * (near + 0.1 * np.eye(nm.size))
        + np.diag(edge**2)
    )


def expected_scatter(ratio: Array) -> float:
    """ln S a paint is expected to have from the K/S of its masstone (white paint: about 0).

    Paints are sold at about one tinting strength, so the stronger the masstone absorbs relative
    to its scattering, the less it scatters.  Common practice, no source.
    """
    peak = float(np.log(np.quantile(ratio, 0.9)))
    return float(np.clip(0.1 - 0.8 * (peak + 0.5), -3.3, 0.0))
