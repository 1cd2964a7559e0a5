"""Paints that could exist: a grid of plausible pigments, for naming what a shelf lacks.

Each is a K/S curve of one of the shapes pigments have: absorbing up to an edge (yellow to brown),
around a band (crimson to turquoise), at both ends (green), or evenly (black to white).  The grid is
ours, from common practice; no pigment is meant by it.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product

import numpy as np
import numpy.typing as npt

from sprayout.mixing.prior import expected_scatter

Array = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Imagined:
    """K and S per drop of each imagined paint, (paints, bands), in units of a white's S."""

    k: Array
    s: Array


def imagined_paints(wavelength_nm: tuple[float, ...]) -> Imagined:
    """The grid on these bands."""
    nm = np.asarray(wavelength_nm)
    ratios = [*_edges(nm), *_bands(nm), *_greens(nm), *_greys(nm)]
    scatter = np.exp([expected_scatter(ratio) for ratio in ratios])
    ratio = np.array(ratios)
    s = scatter[:, None] * (nm / 550.0) ** -0.7
    return Imagined(k=ratio * s, s=s)


def _edge(nm: Array, at_nm: float, width_nm: float) -> Array:
    return np.asarray(1 / (1 + np.exp((nm - at_nm) / width_nm)))


def _band(nm: Array, at_nm: float, width_nm: float) -> Array:
    return np.asarray(np.exp(-0.5 * ((nm - at_nm) / width_nm) ** 2))


def _edges(nm: Array) -> list[Array]:
    """Yellow, orange, red, and with a higher floor ochre and brown."""
    return [
        peak * _edge(nm, at, 8 + 0.5 * peak) + floor
        for at, peak, floor in product(
            np.arange(480.0, 621.0, 10.0), (1.0, 3.0, 8.0), (0.01, 0.04, 0.2, 0.6)
        )
    ]


def _bands(nm: Array) -> list[Array]:
    """Crimson, violet, blue, turquoise."""
    return [
        peak * (_band(nm, at, width) + rest * _edge(nm, 460.0, 25.0)) + floor
        for at, width, peak, floor, rest in product(
            np.arange(520.0, 671.0, 15.0), (42.0, 60.0), (1.5, 8.0, 25.0), (0.1, 0.6), (0.02, 0.2)
        )
    ]


def _greens(nm: Array) -> list[Array]:
    """Absorbing at both ends."""
    return [
        peak * (0.7 * _edge(nm, low, 15.0) + _band(nm, high, 58.0)) + floor
        for low, high, peak, floor in product(
            (440.0, 465.0, 490.0), (640.0, 665.0, 690.0), (1.0, 4.0, 12.0), (0.06, 0.4)
        )
    ]


def _greys(nm: Array) -> list[Array]:
    return [
        np.full_like(nm, level) for level in (0.002, 0.05, 0.2, 0.5, 1.5, 5.0, 15.0, 40.0, 80.0)
    ]
