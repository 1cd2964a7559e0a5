"""Water vapour in air, for the virtual bench only.

Saturation pressure over water: Sonntag (1990), Z. Meteorol. 70, 340-344, stated for -45...60 °C.
The services use another formula on purpose, so that the two do not agree by sharing a mistake.
"""

import math

GAS_CONSTANT = 8.314462618
MOLAR_MASS_DRY_AIR = 0.0289655  # kg/mol
MOLAR_MASS_WATER = 0.01801528  # kg/mol
WATER_TO_AIR = MOLAR_MASS_WATER / MOLAR_MASS_DRY_AIR


def saturation_pa(air_c: float) -> float:
    """Saturation pressure of water vapour over water in Pa."""
    t = air_c + 273.15
    return 100.0 * math.exp(
        -6096.9385 / t + 16.635794 - 2.711193e-2 * t + 1.673952e-5 * t * t + 2.433502 * math.log(t)
    )


def dew_point_c(vapour_pa: float) -> float:
    """Temperature at which ``vapour_pa`` saturates over water, by Newton from a Magnus guess."""
    x = math.log(max(vapour_pa, 1e-3) / 611.2)
    guess = 243.12 * x / (17.62 - x)
    for _ in range(4):
        slope = math.log(saturation_pa(guess + 0.01) / saturation_pa(guess)) / 0.01
        guess -= math.log(saturation_pa(guess) / max(vapour_pa, 1e-3)) / slope
    return guess


def ratio_from_pa(vapour_pa: float, pressure_pa: float) -> float:
    """Kilograms of water vapour per kilogram of dry air."""
    return WATER_TO_AIR * vapour_pa / (pressure_pa - vapour_pa)


def pa_from_ratio(ratio: float, pressure_pa: float) -> float:
    """Partial pressure of the vapour in Pa."""
    return pressure_pa * ratio / (WATER_TO_AIR + ratio)


def dry_air_kg_m3(air_c: float, vapour_pa: float, pressure_pa: float) -> float:
    """Dry air in a cubic metre of moist air."""
    return (pressure_pa - vapour_pa) * MOLAR_MASS_DRY_AIR / (GAS_CONSTANT * (air_c + 273.15))
