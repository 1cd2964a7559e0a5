"""ppm and mg/m³, and how much vapour air can hold.

One mole of gas fills 24.45 L at 25 °C and 101.325 kPa in the convention of OSHA and NIOSH; the
UK and EU pairs of limits use 20 °C and 24.055 L (EU Directive 2000/39/EC agrees to rounding).
"""

from sprayout.errors import BadInput
from sprayout.safety.cautions import region_named
from sprayout.safety.given import above_zero, finite, not_below_zero

MOLAR_VOLUME_25C_L = 24.45
MOLAR_VOLUME_20C_L = 24.055
ATMOSPHERE_MMHG = 760.0
ATMOSPHERE_KPA = 101.325
GAS_CONSTANT = 8.314462618


def convention_l(region: str) -> float:
    """Litres per mole that the region's pairs of limits use: 24.45 (us) or 24.055 (uk, eu)."""
    return MOLAR_VOLUME_25C_L if region_named(region) == "us" else MOLAR_VOLUME_20C_L


def molar_volume_l(air_c: float | None = None) -> float:
    """Litres per mole: the convention of 24.45 where no temperature is given, else R T / p.

    R = 8.314462618 J/(mol K), p = 101.325 kPa (at 25 °C 24.465 L, 0.06 % from the convention);
    -30 to 60 °C, else ``BadInput``.
    """
    if air_c is None:
        return MOLAR_VOLUME_25C_L
    celsius = finite("air temperature", air_c, "°C")
    if not -30.0 <= celsius <= 60.0:
        raise BadInput(
            f"air temperature: got {celsius:g} °C, wanted -30 to 60 °C; check unit and reading"
        )
    return GAS_CONSTANT * (celsius + 273.15) / ATMOSPHERE_KPA


def mg_m3_from_ppm(ppm: float, molar_mass_g: float | None, molar_volume: float) -> float:
    """mg/m³ = ppm * M / V_m.  Without a molar mass: ``BadInput``."""
    mass = _molar_mass(molar_mass_g)
    return not_below_zero("concentration", ppm, "ppm") * mass / molar_volume


def ppm_from_mg_m3(mg_m3: float, molar_mass_g: float | None, molar_volume: float) -> float:
    """ppm = mg/m³ * V_m / M.  Without a molar mass: ``BadInput``."""
    mass = _molar_mass(molar_mass_g)
    return not_below_zero("concentration", mg_m3, "mg/m³") * molar_volume / mass


def saturation_ppm(vapour_pressure_mmhg: float) -> float:
    """The most vapour that air can hold at that temperature: 1e6 * p_v / 760, at most 1e6."""
    pressure = above_zero("vapour pressure", vapour_pressure_mmhg, "mmHg")
    return min(1e6, 1e6 * pressure / ATMOSPHERE_MMHG)


def _molar_mass(molar_mass_g: float | None) -> float:
    if molar_mass_g is None:
        raise BadInput(
            "molar mass: none known, wanted g/mol; ppm and mg/m³ cannot be turned into each other "
            "without it; take both figures in one unit from the data sheet"
        )
    return above_zero("molar mass", molar_mass_g, "g/mol")
