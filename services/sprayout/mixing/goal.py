"""The target as the search sees it: Lab, how differences count around it, and its K/S.

A target that is a spectrum is judged as its own sensor sees it, and so are the mixtures: what the
sensor gets wrong is wrong on both sides alike.  A target that is a Lab is judged absolutely.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from sprayout.colour.difference import ciede2000
from sprayout.colour.tristimulus import Spectrum
from sprayout.mixing.axis import MODEL_NM, Axis, Sight, model_axis, sight_of
from sprayout.mixing.kubelka_munk import Surface, opaque_reflectance
from sprayout.mixing.observation import log_ratio, noise_covariance, through
from sprayout.mixing.prior import USUAL, Prior, ratio_covariance
from sprayout.mixing.values import Target

Array = npt.NDArray[np.float64]

_METRIC_STEP = 0.6


@dataclass(frozen=True, slots=True)
class Goal:
    """``root`` (3, 3): |root @ dLab| is CIEDE2000 near the target.

    ``axis`` gives Lab from reflectances on ``MODEL_NM`` as the target's sight would; ``bands`` are
    the target's reflectances as seen; ``log_ratio`` (16,) is ln K/S of the target, or of a smooth
    spectrum with its Lab when ``sight`` is None.  ``spread`` (3, 3) is the covariance of ``lab``
    that the noise of measuring the target leaves.
    """

    lab: Array
    root: Array
    axis: Axis
    sight: Sight | None
    bands: Array
    log_ratio: Array
    spread: Array
    tolerance_de00: float

    @property
    def spectral(self) -> bool:
        return self.sight is not None

    def de00(self, lab: Array) -> Array:
        """CIEDE2000 of colours (..., 3) from the target."""
        return ciede2000(self.lab, lab)

    def lab_of(self, reading: Spectrum) -> Array:
        """Lab (3,) of a reading, as the target was seen where that can be."""
        sight = sight_of(reading)
        bands = sight.bands_of(reading.reflectance)
        if self.sight is None or self.sight.band_nm == sight.band_nm or sight.coarse:
            return sight.axis.lab(bands)
        return self.axis.lab(_filled(sight, bands))


def goal_of(
    target: Target, surface: Surface, prior: Prior = USUAL, seen_through: Sight | None = None
) -> Goal:
    """The target, judged through its own sight or a coarser one that the readings come through."""
    if target.spectrum is None:
        return _lab_goal(target, surface)
    sight = sight_of(target.spectrum)
    bands = sight.bands_of(target.spectrum.reflectance)
    ratio, bands = between_bands(sight, bands, surface, prior)
    if seen_through is not None and seen_through.coarse and not sight.coarse:
        bands, sight = seen_through.matrix @ _filled(sight, bands), seen_through
    lab = sight.axis.lab(bands)
    return Goal(
        lab=lab,
        root=metric_root(lab),
        axis=sight.model_axis(),
        sight=sight,
        bands=bands,
        log_ratio=ratio,
        spread=noise_spread(sight, bands, prior),
        tolerance_de00=target.tolerance_de00,
    )


def _lab_goal(target: Target, surface: Surface) -> Goal:
    lab = np.asarray(target.lab_d65_10, dtype=float)
    axis = model_axis()
    seen = smoothest_reflectance(lab, axis)
    return Goal(
        lab=lab,
        root=metric_root(lab),
        axis=axis,
        sight=None,
        bands=seen,
        log_ratio=log_ratio(seen, surface),
        spread=np.zeros((3, 3)),
        tolerance_de00=target.tolerance_de00,
    )


def noise_spread(sight: Sight, bands: Array, prior: Prior) -> Array:
    """Covariance (3, 3) of Lab from the sensor's noise in one measurement."""
    sd = np.hypot(prior.noise_relative * bands, prior.noise_floor)
    slope = sight.axis.lab_slope(bands) * sd
    return np.asarray(slope @ slope.T)


def _filled(sight: Sight, bands: Array) -> Array:
    """Reflectance on the whole of ``MODEL_NM``, the ends held where the spectrum ends inside."""
    return np.interp(MODEL_NM, sight.band_nm, bands)


def between_bands(
    sight: Sight, bands: Array, surface: Surface, prior: Prior
) -> tuple[Array, Array]:
    """ln K/S (16,) of a paint layer that the sight reports as ``bands``, smooth in between.

    Returns the bands too, freed of as much noise as the smoothness of paints tells.
    """
    measured = log_ratio(bands, surface)
    noise = noise_covariance(bands, surface, prior)
    ratio = np.interp(MODEL_NM, sight.band_nm, measured)
    start, spread = ratio.copy(), ratio_covariance(USUAL)
    for _ in range(4):
        reported, gain = through(sight, ratio, surface)
        miss = measured - reported + gain @ (ratio - start)
        joint = gain @ spread @ gain.T + noise
        step = start + spread @ gain.T @ np.linalg.solve(joint, miss) - ratio
        ratio = ratio + np.clip(step, -1.5, 1.5)
    return np.asarray(ratio), sight.matrix @ surface.seen(opaque_reflectance(np.exp(ratio)))


def metric_root(lab: Array) -> Array:
    """Square root (3, 3) of the quadratic form that CIEDE2000 squared is around ``lab``."""
    unit = np.eye(3) * _METRIC_STEP
    single = ciede2000(lab, lab + unit) ** 2
    pairs = np.array([[1, 1, 0], [1, 0, 1], [0, 1, 1]]) * _METRIC_STEP
    double = ciede2000(lab, lab + pairs) ** 2
    form = np.diag(single)
    for (i, j), both in zip(((0, 1), (0, 2), (1, 2)), double, strict=True):
        form[i, j] = form[j, i] = (both - single[i] - single[j]) / 2
    value, vector = np.linalg.eigh(form / _METRIC_STEP**2)
    return np.asarray((vector * np.sqrt(np.maximum(value, 1e-4))) @ vector.T)


def smoothest_reflectance(lab: Array, axis: Axis) -> Array:
    """A smooth reflectance (bands,) with this Lab, by Gauss–Newton in its logit."""
    bands = axis.bands
    rough = np.diff(np.eye(bands), 2, axis=0)
    penalty = 1e-3 * (rough.T @ rough) + 1e-6 * np.eye(bands)
    level = float(np.clip(((lab[0] + 16) / 116) ** 3, 0.01, 0.9))
    logit = np.full(bands, np.log(level / (1 - level)))
    for _ in range(25):
        seen = 1 / (1 + np.exp(-logit))
        slope = axis.lab_slope(seen) * (seen * (1 - seen))
        right = slope.T @ (lab - axis.lab(seen)) * 10 - penalty @ logit
        step = np.linalg.solve(slope.T @ slope * 10 + penalty, right)
        logit = logit + step * min(1.0, 1.0 / max(float(np.abs(step).max()), 1e-9))
        if float(np.abs(step).max()) < 1e-4:
            break
    return np.asarray(np.clip(1 / (1 + np.exp(-logit)), 1e-3, 0.98))


def reflectance_slope(ratio: Array, surface: Surface) -> Array:
    """Slope (...) of measured reflectance with respect to ln K/S."""
    inside = opaque_reflectance(np.exp(ratio))
    return np.asarray(-surface.slope(inside) * inside * (1 - inside) / (1 + inside))


def spectrum_scale(goal: Goal, seen: Array) -> Array:
    """Weight (..., bands) of a miss in each band of the target's sight, about as lightness counts.

    ``seen``: band reflectances (..., bands).
    """
    return np.asarray(116 / 3 * np.maximum(seen, 0.01) ** (-2 / 3) / np.sqrt(goal.bands.size))
