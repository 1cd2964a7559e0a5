"""From a belief in ln K/S to what a person asks: how far from the target, and how surely."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import numpy.typing as npt

from sprayout.mixing.axis import MODEL_NM, Axis
from sprayout.mixing.belief import Belief
from sprayout.mixing.goal import Goal, metric_root, reflectance_slope
from sprayout.mixing.kubelka_munk import opaque_reflectance

Array = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Outlook:
    """A predicted colour: Lab D65/10°, its covariance, and CIEDE2000 from the target.

    ``expected_de00`` averages over the uncertainty; ``chance`` is the probability of lying within
    the tolerance; ``strain`` the squared miss in units of its uncertainty (chi-squared, 3 degrees
    of freedom, if the target were met); ``u95_de00`` the radius around ``lab`` that holds the true
    colour 95 times in 100, the sensor's own error included.
    """

    lab: Array
    covariance: Array
    de00: float
    expected_de00: float
    chance: float
    strain: float
    u95_de00: float


def outlook(belief: Belief, goal: Goal, added: Array) -> Outlook:
    """What adding these drops (paints,) would give."""
    log_ratio = belief.log_ratio(added)
    return outlook_of(belief, goal, log_ratio, belief.covariance(added))


def outlook_of(belief: Belief, goal: Goal, log_ratio: Array, spread: Array) -> Outlook:
    """The same from ln K/S (bands,) and its covariance (bands, bands)."""
    lab, covariance = lab_spread(belief, goal.axis, log_ratio, spread)
    whole = covariance + sensor_spread(belief, lab, log_ratio)
    # A target seen by the same sensor shares the sensor's error; a typed-in Lab does not.
    counts = (covariance if goal.spectral else whole) + goal.spread
    around = _cloud(goal.root @ counts @ goal.root.T)
    miss = goal.root @ (lab - goal.lab)
    # The metric of the target overstates far-off colours: scale to the true distance.
    de00, flat = float(goal.de00(lab)), float(np.linalg.norm(miss))
    scale = de00 / flat if flat > 0.5 else 1.0
    distance = np.linalg.norm(miss * scale + around, axis=1)
    form = goal.root @ counts @ goal.root.T + (goal.tolerance_de00 / 2) ** 2 * np.eye(3)
    return Outlook(
        lab=lab,
        covariance=covariance,
        de00=de00,
        expected_de00=float(distance.mean()),
        chance=float(np.mean(distance <= goal.tolerance_de00)),
        strain=float(scale**2 * miss @ np.linalg.solve(form, miss)),
        u95_de00=radius(lab, whole, 0.95),
    )


def sensor_spread(belief: Belief, lab: Array, log_ratio: Array) -> Array:
    """Covariance (3, 3) of Lab from what the sensor gets wrong on every colour alike.

    Filters off their nominal centres report each band from a little further along the spectrum.
    """
    model = belief.model
    root = metric_root(lab)
    floor = model.prior.colour_floor_de00**2 * np.linalg.inv(root @ root)
    sight = model.filters
    if sight is None:
        return np.asarray(floor)
    seen = model.surface.seen(opaque_reflectance(np.exp(log_ratio)))
    along = sight.matrix @ np.gradient(seen, np.asarray(MODEL_NM))
    slope = sight.axis.lab_slope(sight.matrix @ seen) * along * model.prior.filter_centre_nm
    return np.asarray(floor + slope @ slope.T)


def lab_spread(belief: Belief, axis: Axis, log_ratio: Array, spread: Array) -> tuple[Array, Array]:
    """Lab (3,) and its covariance (3, 3)."""
    model = belief.model
    seen = model.surface.seen(opaque_reflectance(np.exp(log_ratio)))
    slope = axis.lab_slope(seen) * reflectance_slope(log_ratio, model.surface)
    return axis.lab(seen), np.asarray(slope @ spread @ slope.T)


def radius(lab: Array, covariance: Array, share: float) -> float:
    """CIEDE2000 around ``lab`` (3,) that holds this share of a Gaussian with this covariance."""
    root = metric_root(lab)
    distance = np.linalg.norm(_cloud(root @ covariance @ root.T), axis=1)
    return float(np.quantile(distance, share))


def _cloud(form: Array) -> Array:
    value, vector = np.linalg.eigh((form + form.T) / 2)
    return np.asarray(_normal_points() @ (vector * np.sqrt(np.maximum(value, 0.0))).T)


@lru_cache(maxsize=1)
def _normal_points() -> Array:
    """400 fixed points of a standard normal in three dimensions, in mirrored pairs."""
    half = np.random.default_rng(5).normal(size=(200, 3))
    half = half / np.sqrt((half**2).mean(axis=0))
    return np.vstack([half, -half])
