"""Heat that reaches a wet film: convection on its face, and what else comes in beside it."""

import math

from sprayout.climate.part import Part
from sprayout.errors import BadInput

DEFAULT_BETA = 2.1
"""Other heat to the wet face over its convective heat, thin plate wet on one face.

The published relative evaporation rates are best explained by 1.4 to 2.7.
"""

BETA_RANGE = (1.4, 2.7)

AIR_MOLAR_MASS_KG = 28.966e-3
AIR_HEAT_J_KG_K = 1_006.0

# Dry air at 25 °C: conductivity W/(m·K), kinematic viscosity m2/s, Prandtl number; Incropera &
# DeWitt, Fundamentals of Heat and Mass Transfer, table A.4 (from memory).
_CONDUCTIVITY, _VISCOSITY, _PRANDTL = 0.0261, 15.7e-6, 0.71
_STILL_AIR_W_M2_K = 4.0  # natural convection on a small plate; common textbook range 2 to 10
_PART_LENGTH_M = 0.05  # a toy boat's hull side, a goods van
_RADIATION_W_M2_K = 5.7  # 4 ε σ T³ at 298 K with ε = 0.95
_FASTEST_MS = 10.0


def convection_w_m2_k(air_speed_ms: float, length_m: float = _PART_LENGTH_M) -> float:
    """Mean coefficient of a small plate along the stream.

    Laminar: Nu = 0.664 Re^½ Pr^⅓ (Pohlhausen, in any heat-transfer text), blended with still air
    by the cube rule of Churchill.
    """
    reynolds = air_speed_ms * length_m / _VISCOSITY
    forced = 0.664 * math.sqrt(reynolds) * _PRANDTL ** (1.0 / 3.0) * _CONDUCTIVITY / length_m
    return float((forced**3 + _STILL_AIR_W_M2_K**3) ** (1.0 / 3.0))


def beta_for(convection: float, wet_faces: int) -> float:
    """β of a thin plate: (A_total/A_wet)(1 + h_rad/h_conv) - 1."""
    return 2.0 / wet_faces * (1.0 + _RADIATION_W_M2_K / convection) - 1.0


def wick_beta(air_speed_ms: float, diameter_m: float) -> float:
    """β of a wick on a ventilated wet bulb: radiation alone beside the convection, h_rad/h_conv.

    A cylinder across the stream, Churchill & Bernstein 1977 (J. Heat Transfer 99, 300):
    Nu = 0.3 + 0.62 Re^½ Pr^⅓ / (1 + (0.4/Pr)^⅔)^¼ · (1 + (Re/282000)^⅝)^⅘.  Aspirated
    psychrometers draw 2.5 to 10 m/s (WMO-No. 8, from memory) over bulbs some millimetres thick.
    """
    reynolds = air_speed_ms * diameter_m / _VISCOSITY
    laminar = 0.62 * math.sqrt(reynolds) * _PRANDTL ** (1.0 / 3.0)
    laminar /= (1.0 + (0.4 / _PRANDTL) ** (2.0 / 3.0)) ** 0.25
    nusselt = 0.3 + laminar * (1.0 + (reynolds / 282_000.0) ** 0.625) ** 0.8
    return float(_RADIATION_W_M2_K * diameter_m / (nusselt * _CONDUCTIVITY))


# The coefficient that belongs to the default β on one wet face: 10.4 W/(m²·K), 0.34 m/s.
DEFAULT_CONVECTION_W_M2_K = _RADIATION_W_M2_K / ((DEFAULT_BETA + 1.0) / 2.0 - 1.0)


def check_air_speed_ms(air_speed_ms: float) -> None:
    """Refuse an air speed that is missing, negative or beyond any booth's."""
    if not 0.0 <= air_speed_ms <= _FASTEST_MS:
        raise BadInput(
            f"air speed: got {air_speed_ms:g} m/s, wanted 0 to {_FASTEST_MS:g}; "
            "give metres a second at the part"
        )


def convection_and_beta(air_speed_ms: float | None, part: Part) -> tuple[float, float]:
    """Convective coefficient W/(m²·K) and β; without an air speed β is 2.1 on one wet face."""
    if air_speed_ms is None:
        return DEFAULT_CONVECTION_W_M2_K, beta_for(DEFAULT_CONVECTION_W_M2_K, part.wet_faces)
    check_air_speed_ms(air_speed_ms)
    convection = convection_w_m2_k(air_speed_ms)
    return convection, beta_for(convection, part.wet_faces)
