"""Solvent from an open cup or tray: evaporation from a still surface.

K = K_w (18/M)^(1/3) with K_w = 0.83 cm/s for water, m = M K A p_sat / (R T): Crowl & Louvar,
Chemical Process Safety, vaporisation rate of a liquid.  Rough (air movement raises it).
"""

from sprayout.safety.concentration import ATMOSPHERE_MMHG, molar_volume_l
from sprayout.safety.given import above_zero

WATER_TRANSFER_M_S = 0.0083


def open_surface_g_min(
    area_m2: float, molar_mass_g: float, vapour_pressure_mmhg: float, air_c: float | None = None
) -> float:
    """Grams per minute from an open surface of ``area_m2``."""
    mass = above_zero("molar mass", molar_mass_g, "g/mol")
    pressure = above_zero("vapour pressure", vapour_pressure_mmhg, "mmHg")
    transfer_m_min = WATER_TRANSFER_M_S * (18.0 / mass) ** (1.0 / 3.0) * 60.0
    saturated_g_m3 = pressure / ATMOSPHERE_MMHG * 1000.0 * mass / molar_volume_l(air_c)
    return above_zero("area", area_m2, "m²") * float(transfer_m_min * saturated_g_m3)
