"""Humidity ratio, enthalpy, specific volume and the thermodynamic wet bulb.

ASHRAE Handbook Fundamentals (2017) ch. 1; the equation stands at each function.  All vectorised;
a missing or impossible input gives NaN (see :mod:`sprayout.climate.moist_air`).

Near a wet bulb of 0 °C a wet wick and an iced one both satisfy the balance, some 0.4 K apart.
There :func:`wet_bulb_c` decides as halving the span from dew point to air temperature does,
which is how general-purpose psychrometric libraries come to their answer.
"""

from collections.abc import Callable

import numpy as np
from numpy.typing import ArrayLike

from sprayout.climate.moist_air import (
    STANDARD_PRESSURE_PA,
    WATER_TO_AIR_MASS,
    Floats,
    dew_point_c,
    log_pressure_over_ice,
    log_pressure_over_water,
    saturation_pressure_pa,
    vapour_pressure_pa,
)

_DRY_AIR_GAS_CONSTANT = 287.042  # J/(kg·K), ASHRAE eq. 1
_NEWTON_STEPS = 8
_HALVINGS = 24


def humidity_ratio(
    air_c: ArrayLike, rh_pct: ArrayLike, pressure_pa: ArrayLike = STANDARD_PRESSURE_PA
) -> Floats:
    """Kilograms of water vapour to a kilogram of dry air; eq. 20."""
    return _ratio_of_pressure(vapour_pressure_pa(air_c, rh_pct), pressure_pa)


def saturation_humidity_ratio(
    t_c: ArrayLike, pressure_pa: ArrayLike = STANDARD_PRESSURE_PA
) -> Floats:
    """Humidity ratio of saturated air, kg/kg; eq. 21."""
    return _ratio_of_pressure(saturation_pressure_pa(t_c), pressure_pa)


def _ratio_of_pressure(vapour_pa: Floats, pressure_pa: ArrayLike) -> Floats:
    return np.asarray(WATER_TO_AIR_MASS * vapour_pa / (np.asarray(pressure_pa) - vapour_pa))


def enthalpy_j_kg(air_c: ArrayLike, ratio: ArrayLike) -> Floats:
    """Enthalpy of moist air for a kilogram of dry air, zero at 0 °C dry; eq. 30."""
    t, w = np.asarray(air_c, dtype=np.float64), np.asarray(ratio, dtype=np.float64)
    return np.asarray(1e3 * (1.006 * t + w * (2501.0 + 1.86 * t)))


def specific_volume_m3_kg(
    air_c: ArrayLike, ratio: ArrayLike, pressure_pa: ArrayLike = STANDARD_PRESSURE_PA
) -> Floats:
    """Volume of moist air for a kilogram of dry air; eq. 26."""
    t, w = np.asarray(air_c, dtype=np.float64), np.asarray(ratio, dtype=np.float64)
    dry = _DRY_AIR_GAS_CONSTANT * (t + 273.15)
    return np.asarray(dry * (1.0 + w / WATER_TO_AIR_MASS) / np.asarray(pressure_pa))


def humidity_ratio_from_wet_bulb(
    air_c: ArrayLike, wet_bulb: ArrayLike, pressure_pa: ArrayLike = STANDARD_PRESSURE_PA
) -> Floats:
    """Humidity ratio of air with a known wet bulb; eq. 33 (water) and 35 (ice, below 0 °C)."""
    t, tw, p = np.broadcast_arrays(
        *(np.asarray(a, dtype=np.float64) for a in (air_c, wet_bulb, pressure_pa))
    )
    return np.where(tw >= 0.0, _over_water(t, tw, p), _over_ice(t, tw, p))


def _over_water(t: Floats, tw: Floats, p: Floats) -> Floats:
    """Equation 33."""
    ws = _ratio_of_pressure(np.exp(log_pressure_over_water(tw)), p)
    return np.asarray(
        ((2501.0 - 2.326 * tw) * ws - 1.006 * (t - tw)) / (2501.0 + 1.86 * t - 4.186 * tw)
    )


def _over_ice(t: Floats, tw: Floats, p: Floats) -> Floats:
    """Equation 35."""
    ws = _ratio_of_pressure(np.exp(log_pressure_over_ice(np.minimum(tw, 0.0))), p)
    return np.asarray(
        ((2830.0 - 0.24 * tw) * ws - 1.006 * (t - tw)) / (2830.0 + 1.86 * t - 2.1 * tw)
    )


def wet_bulb_c(
    air_c: ArrayLike, rh_pct: ArrayLike, pressure_pa: ArrayLike = STANDARD_PRESSURE_PA
) -> Floats:
    """Thermodynamic wet-bulb temperature (ice bulb below 0 °C), by Newton's method."""
    air, rh, p = np.broadcast_arrays(
        *(np.asarray(a, dtype=np.float64) for a in (air_c, rh_pct, pressure_pa))
    )
    w = humidity_ratio(air, rh, p)
    air = np.where(np.isnan(w), np.nan, air)
    wet = _solve(_over_water, air, w, p)
    zero = np.zeros_like(air)
    iced = w < _over_ice(air, zero, p)
    if iced.any():
        wet = np.where(iced & (wet < 0.0), _solve(_over_ice, air, w, p), wet)
        both = iced & (wet >= 0.0)
        if both.any():
            span = (dew_point_c(air[both], rh[both]), air[both])
            wet[both] = _halve(span, air[both], w[both], p[both])
    return np.asarray(np.minimum(wet, air))


def _solve(
    side: Callable[[Floats, Floats, Floats], Floats], t: Floats, w: Floats, p: Floats
) -> Floats:
    """Newton from the air temperature down; the balance is convex, so no step overshoots."""
    tw = t.copy()
    for _ in range(_NEWTON_STEPS):
        here = side(t, tw, p)
        slope = (side(t, tw + 1e-3, p) - here) * 1e3
        tw = np.maximum(tw - (here - w) / slope, t - 60.0)
    return tw


def _halve(span: tuple[Floats, Floats], t: Floats, w: Floats, p: Floats) -> Floats:
    low, high = span
    for _ in range(_HALVINGS):
        middle = 0.5 * (low + high)
        above = humidity_ratio_from_wet_bulb(t, middle, p) > w
        low, high = np.where(above, low, middle), np.where(above, middle, high)
    return np.asarray(0.5 * (low + high))
