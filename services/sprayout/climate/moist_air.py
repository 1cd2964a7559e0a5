"""Moist air: saturation pressure, dew or frost point, wet bulb, absolute humidity.

Everything takes numbers or numpy arrays (years of log at once) and gives ``float64`` of the
broadcast shape.  Where an input is missing (NaN) or cannot be true (humidity outside 0…100 %RH,
temperature outside -90…90 °C) the answer is NaN: a missing reading never reads as a good one.
Values typed by a person go through :class:`BoothAir`, which refuses them by name instead.

Sources: saturation pressure by Hyland & Wexler (1983) in the form of ASHRAE Handbook
Fundamentals (2017) ch. 1 eq. 5 (ice, -100…0 °C) and 6 (water, 0…200 °C); humidity ratio,
enthalpy, specific volume and thermodynamic wet bulb by eqs. 20, 26, 30, 33 and 35 there.  The
enhancement factor is left out, as ASHRAE's ideal-gas relations do (0.4 % of vapour pressure).
The first guess of the dew point is the Magnus formula of Alduchov & Eskridge (1996), J. Appl.
Meteorol. 35, 601.

Below the triple point humidity is meant over ice (ASHRAE); a capacitive probe that counts over
water reads lower there, by up to 18 % of its value at -20 °C.
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from sprayout.errors import BadInput

Floats = NDArray[np.float64]

ZERO_C_K = 273.15
TRIPLE_POINT_C = 0.01
STANDARD_PRESSURE_PA = 101_325.0
WATER_MOLAR_MASS_KG = 18.015_268e-3
GAS_CONSTANT = 8.314_462_618
WATER_TO_AIR_MASS = 0.621_945

# ASHRAE Fundamentals 2017 ch. 1: C1..C7 of eq. 5 and C8..C13 of eq. 6.
_ICE = (-5.6745359e3, 6.3925247, -9.677843e-3, 6.2215701e-7, 2.0747825e-9, -9.484024e-13, 4.1635019)
_WATER = (-5.8002206e3, 1.3914993, -4.8640239e-2, 4.1764768e-5, -1.4452093e-8, 6.5459673)

_LOWEST_C, _HIGHEST_C = -90.0, 90.0
_BLOCK = 16_384  # values worked on at a time, so that the intermediate arrays stay in the cache


@dataclass(frozen=True, slots=True)
class BoothAir:
    """Air in the booth as a person or a probe states it; refused by name if it cannot be true."""

    air_c: float
    rh_pct: float
    pressure_pa: float = STANDARD_PRESSURE_PA

    def __post_init__(self) -> None:
        check_air_c(self.air_c)
        check_rh_pct(self.rh_pct)
        check_pressure_pa(self.pressure_pa)

    @property
    def dew_point_c(self) -> float:
        """Dew point, or frost point where :attr:`dew_point_kind` says so."""
        return float(dew_point_c(self.air_c, self.rh_pct))

    @property
    def dew_point_kind(self) -> Literal["dew", "frost"]:
        """*dew* where water would form on a surface first, *frost* where ice would."""
        return "dew" if self.dew_point_c > TRIPLE_POINT_C else "frost"


def check_air_c(air_c: float, name: str = "air temperature") -> None:
    """Refuse an air temperature outside -20…60 °C."""
    if not -20.0 <= air_c <= 60.0:
        raise BadInput(f"{name}: got {air_c:g} °C, wanted -20 to 60 °C; check the unit and probe")


def check_rh_pct(rh_pct: float, name: str = "relative humidity") -> None:
    """Refuse a relative humidity that is missing, not above 0, or above 100 %."""
    if not 0.0 < rh_pct <= 100.0:
        raise BadInput(
            f"{name}: got {rh_pct:g} %RH, wanted above 0 and at most 100; read the probe again"
        )


def check_pressure_pa(pressure_pa: float, name: str = "station pressure") -> None:
    """Refuse a station pressure outside 50…110 kPa, naming the unit it was probably meant in."""
    if 50_000.0 <= pressure_pa <= 110_000.0:
        return
    guesses = (("hPa", 100.0), ("kPa", 1_000.0), ("mmHg", 133.322), ("inHg", 3_386.39))
    units = " or ".join(u for u, factor in guesses if 5e4 <= pressure_pa * factor <= 1.1e5)
    hint = f"it looks like {units}, give pascals" if units else "give the station's own pressure"
    raise BadInput(f"{name}: got {pressure_pa:g} Pa, wanted 50000 to 110000 Pa; {hint}")


def log_pressure_over_water(t_c: ArrayLike) -> Floats:
    """ln(saturation pressure / Pa) over water, supercooled below 0 °C; ASHRAE eq. 6."""
    c8, c9, c10, c11, c12, c13 = _WATER
    t = np.asarray(t_c, dtype=np.float64) + ZERO_C_K
    return np.asarray(c8 / t + c9 + t * (c10 + t * (c11 + t * c12)) + c13 * np.log(t))


def log_pressure_over_ice(t_c: ArrayLike) -> Floats:
    """ln(saturation pressure / Pa) over ice; ASHRAE eq. 5."""
    c1, c2, c3, c4, c5, c6, c7 = _ICE
    t = np.asarray(t_c, dtype=np.float64) + ZERO_C_K
    poly = c2 + t * (c3 + t * (c4 + t * (c5 + t * c6)))
    return np.asarray(c1 / t + poly + c7 * np.log(t))


def _log_saturation(t_c: Floats) -> Floats:
    log_p = log_pressure_over_water(t_c)
    cold = t_c <= TRIPLE_POINT_C
    if cold.any():
        log_p = np.where(cold, log_pressure_over_ice(np.where(cold, t_c, 0.0)), log_p)
    return log_p


def saturation_pressure_pa(t_c: ArrayLike) -> Floats:
    """Saturation vapour pressure, over ice up to the triple point and over water above it."""
    return np.asarray(np.exp(_log_saturation(_plausible_t(t_c))))


def vapour_pressure_pa(air_c: ArrayLike, rh_pct: ArrayLike) -> Floats:
    """Partial pressure of water vapour in air."""
    return np.asarray(_plausible_rh(rh_pct) / 100.0 * saturation_pressure_pa(air_c))


def dew_point_c(air_c: ArrayLike, rh_pct: ArrayLike) -> Floats:
    """Dew point above the triple point of water, frost point below it; see :func:`is_frost`.

    Magnus's explicit formula and one Newton step on Hyland-Wexler: within 1e-4 K of its exact
    inverse, at a few times the cost of the bare Magnus expression.
    """
    air, rh = np.broadcast_arrays(_as_floats(air_c), _as_floats(rh_pct))
    shape, air, rh = air.shape, air.ravel(), rh.ravel()
    out = np.empty(air.shape)
    for start in range(0, out.size, _BLOCK):
        part = slice(start, start + _BLOCK)
        with np.errstate(divide="ignore", invalid="ignore"):
            out[part] = _dew_point_block(air[part], rh[part])
    return out.reshape(shape)


def _dew_point_block(air_c: Floats, rh_pct: Floats) -> Floats:
    rh = np.where((rh_pct > 0.0) & (rh_pct <= 100.0), rh_pct, np.nan)
    air = np.where((air_c >= _LOWEST_C) & (air_c <= _HIGHEST_C), air_c, np.nan)
    return dew_point_of_log_pressure(np.log(rh * 0.01) + _log_saturation(air))


def dew_point_of_log_pressure(log_p: Floats) -> Floats:
    """Temperature at which vapour of ln(pressure / Pa) saturates; frost below the triple point."""
    t = _over_water(log_p)
    cold = t <= TRIPLE_POINT_C
    if cold.any():
        t[cold] = _frost_point(log_p[cold])
    return t


def supercooled_dew_point_c(air_c: ArrayLike, rh_pct: ArrayLike) -> Floats:
    """Dew point over water at any temperature, as most printed charts give it below 0 °C too."""
    with np.errstate(invalid="ignore"):
        return _over_water(np.log(vapour_pressure_pa(air_c, rh_pct)))


def _over_water(log_p: Floats) -> Floats:
    x = log_p - np.log(610.94)
    guess = 243.04 * x / (17.625 - x)
    step = (log_pressure_over_water(guess) - log_p) / _water_slope(guess)
    return np.asarray(guess - step)


def _water_slope(t_c: Floats) -> Floats:
    """d ln p/dT over water, from Magnus: good to 0.3 %, all that one Newton step needs."""
    return np.asarray(17.625 * 243.04 / np.square(t_c + 243.04))


def _frost_point(log_p: Floats) -> Floats:
    x = log_p - np.log(611.21)
    t = 273.86 * x / (22.587 - x)
    for _ in range(2):
        slope = 22.587 * 273.86 / np.square(t + 273.86)
        t = t - (log_pressure_over_ice(t) - log_p) / slope
    return np.asarray(np.minimum(t, TRIPLE_POINT_C))


def is_frost(point_c: ArrayLike) -> NDArray[np.bool_]:
    """True where the point given by :func:`dew_point_c` is a frost point."""
    return np.asarray(_as_floats(point_c) <= TRIPLE_POINT_C)


def rh_from_dew_point_pct(air_c: ArrayLike, point_c: ArrayLike) -> Floats:
    """Relative humidity of air whose dew (or frost) point is given; may exceed 100."""
    ratio = _log_saturation(_plausible_t(point_c)) - _log_saturation(_plausible_t(air_c))
    return np.asarray(100.0 * np.exp(ratio))


def margin_k(surface_c: ArrayLike, air_c: ArrayLike, rh_pct: ArrayLike) -> Floats:
    """Kelvin by which a surface stands above the dew (or frost) point of the air."""
    return np.asarray(_as_floats(surface_c) - dew_point_c(air_c, rh_pct))


def absolute_humidity_g_m3(air_c: ArrayLike, rh_pct: ArrayLike) -> Floats:
    """Grams of water vapour in a cubic metre of air, as an ideal gas."""
    kelvin = _as_floats(air_c) + ZERO_C_K
    molar = WATER_MOLAR_MASS_KG * 1e3 / GAS_CONSTANT
    return np.asarray(vapour_pressure_pa(air_c, rh_pct) * molar / kelvin)


def _as_floats(value: ArrayLike) -> Floats:
    return np.asarray(value, dtype=np.float64)


def _plausible_t(t_c: ArrayLike) -> Floats:
    t = _as_floats(t_c)
    return np.where((t >= _LOWEST_C) & (t <= _HIGHEST_C), t, np.nan)


def _plausible_rh(rh_pct: ArrayLike) -> Floats:
    rh = _as_floats(rh_pct)
    return np.where((rh > 0.0) & (rh <= 100.0), rh, np.nan)
