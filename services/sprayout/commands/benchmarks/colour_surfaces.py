"""Surfaces to judge the colour estimator on; none of them trains it.

All come from colour-science (the test extra): the 14 test colours of CIE 13.3, the 15 of the
colour quality scale, the 30 of the preferred-memory-colour chart, the 12 patches of the measured
24-patch chart that are not calibrated on, and Kubelka-Munk mixtures of three of all these.
"""

from __future__ import annotations

import warnings
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import PchipInterpolator

from sprayout.commands.benchmarks.colour_truth import NM
from sprayout.errors import BadInput

Floats = NDArray[np.float64]

SETS = (
    "CIE 13.3 test colours (14), colour quality scale (15), preferred memory colours (30), "
    "12 chart patches not calibrated on, 150 Kubelka-Munk mixtures of three of these"
)
WHITES = {"d65-10": ("D65", 10), "d50-2": ("D50", 2)}
OBSERVERS = {2: "CIE 1931 2 Degree Standard Observer", 10: "CIE 1964 10 Degree Standard Observer"}
_MIXTURES = 150


def peer() -> Any:
    """colour-science, or ``BadInput`` where it is not installed."""
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            import colour
    except ImportError as error:
        raise BadInput(
            "benchmark colour: colour-science is not installed; install sprayout[test]"
        ) from error
    return colour


@dataclass(frozen=True, slots=True)
class Surfaces:
    """``chart`` and ``published`` (24, 401): one chart as measured and as another source prints
    it; ``unseen`` (n, 401): surfaces to be judged on."""

    chart: Floats
    published: Floats
    unseen: Floats


def load_surfaces(calibrated_on: list[int]) -> Surfaces:
    """The surfaces at 1 nm, without the chart patches that the unit is calibrated on."""
    colour = peer()
    chart = _group(colour.SDS_COLOURCHECKERS["babel_average"])
    published = _group(colour.SDS_COLOURCHECKERS["ISO 17321-1"])
    sets = [
        _group(colour.SDS_COLOURCHECKERS["PMC"]),
        _group(colour.quality.datasets.SDS_TCS["CIE 1995"]),
        _group(colour.quality.datasets.SDS_VS["NIST CQS 9.0"]),
        np.delete(chart, calibrated_on, axis=0),
    ]
    single = np.vstack(sets)
    return Surfaces(chart, published, np.vstack([single, _mixtures(single)]))


def _group(spectra: Any) -> Floats:
    rows = []
    for sd in spectra.values():
        nm = np.asarray(sd.wavelengths, dtype=float)
        rows.append(PchipInterpolator(nm, sd.values)(np.clip(NM, nm[0], nm[-1])))
    values = np.array(rows)
    return values / 100.0 if values.max() > 3.0 else values


def _mixtures(single: Floats) -> Floats:
    rng = np.random.default_rng(1)
    inside = np.clip(single, 0.005, 0.995)
    ratio = (1.0 - inside) ** 2 / (2.0 * inside)
    mixed = []
    for _ in range(_MIXTURES):
        chosen = rng.choice(len(single), 3, replace=False)
        q = rng.dirichlet([1.0, 1.0, 1.0]) @ ratio[chosen]
        mixed.append(1.0 + q - np.sqrt(q * q + 2.0 * q))
    return np.array(mixed)


def true_lab(reflectance: Floats, white: str) -> Floats:
    """Lab (n, 3) of surfaces (n, 401) by colour-science's tables and formulas at 1 nm."""
    colour = peer()
    illuminant, degrees = WHITES[white]
    shape = colour.SpectralShape(380, 780, 1)
    cmf = colour.MSDS_CMFS[OBSERVERS[degrees]].copy().align(shape).values
    power = colour.SDS_ILLUMINANTS[illuminant].copy().align(shape).values
    product = power[:, None] * cmf / (power @ cmf[:, 1])
    white_xyz = product.sum(axis=0)
    lab: Floats = colour.XYZ_to_Lab(reflectance @ product, white_xyz[:2] / white_xyz.sum())
    return lab
