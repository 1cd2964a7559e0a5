"""The target as the search sees it: Lab, how differences count around it, and its K/S."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from sprayout.colour.difference import ciede2000
from sprayout.mixing.axis import Axis, moved
from sprayout.mixing.kubelka_munk import Surface, opaque_reflectance
from sprayout.mixing.observation import log_ratio
from sprayout.mixing.values import Target

Array = npt.NDArray[np.float64]

_METRIC_STEP = 0.6


@dataclass(frozen=True, slots=True)
class Goal:
    """``root`` (3, 3): |root @ dLab| is CIEDE2000 near the target.

    ``log_ratio`` (bands,) is ln K/S of the target, or of the smoothest spectrum with its Lab when
    ``spectral`` is false.
    """

    lab: Array
    root: Array
    reflectance: Array
    log_ratio: Array
    spectral: bool
    tolerance_de00: float

    def de00(self, lab: Array) -> Array:
        """CIEDE2000 of colours (..., 3) from the target."""
        return ciede2000(self.lab, lab)


def goal_of(target: Target, axis: Axis, surface: Surface) -> Goal:
    """The target on the axis."""
    if target.spectrum is not None:
        seen = moved(target.spectrum.wavelength_nm, np.asarray(target.spectrum.reflectance), axis)
        lab = axis.lab(seen)
    else:
        lab = np.asarray(target.lab_d65_10, dtype=float)
        seen = smoothest_reflectance(lab, axis)
    return Goal(
        lab=lab,
        root=metric_root(lab),
        reflectance=seen,
        log_ratio=log_ratio(seen, surface),
        spectral=target.spectrum is not None,
        tolerance_de00=target.tolerance_de00,
    )


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
    start = np.full(bands, np.log(level / (1 - level)))
    logit = start.copy()
    for _ in range(25):
        seen = 1 / (1 + np.exp(-logit))
        slope = axis.lab_slope(seen) * (seen * (1 - seen))
        miss = lab - axis.lab(seen)
        right = slope.T @ miss * 10 - penalty @ logit
        step = np.linalg.solve(slope.T @ slope * 10 + penalty, right)
        logit = logit + step * min(1.0, 1.0 / max(float(np.abs(step).max()), 1e-9))
        if float(np.abs(step).max()) < 1e-4:
            break
    return np.asarray(np.clip(1 / (1 + np.exp(-logit)), 1e-3, 0.98))


def reflectance_slope(log_ratio_: Array, surface: Surface) -> Array:
    """Slope (...) of measured reflectance with respect to ln K/S."""
    inside = opaque_reflectance(np.exp(log_ratio_))
    return np.asarray(-surface.slope(inside) * inside * (1 - inside) / (1 + inside))
