"""What the air of the evening is at one moment, and where water and solvent went."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Air:
    """The true state at one moment; what a probe says of it is another matter.

    ``booth_pressure_pa`` is the drop across the exhaust filter, ``air_speed_ms`` the mean speed
    in the booth's face, vapour the solvent in mg/m3.
    """

    t_s: float
    booth_c: float
    booth_rh_pct: float
    dew_point_c: float
    part_c: float
    booth_pressure_pa: float
    air_speed_ms: float
    booth_vapour_mg_m3: float
    room_c: float
    room_rh_pct: float
    room_vapour_mg_m3: float
    outdoors_c: float
    outdoors_rh_pct: float
    pressure_pa: float


@dataclass(frozen=True, slots=True)
class VapourTally:
    """Solvent since the start, mg: given to the air, still in it, and carried off."""

    evaporated_mg: float
    in_air_mg: float
    carried_off_mg: float


@dataclass(frozen=True, slots=True)
class WaterTally:
    """Water, kg: in the air at the start and now, gained, given back, carried in and out."""

    start_kg: float
    now_kg: float
    breathed_kg: float
    stored_kg: float
    carried_in_kg: float
    carried_out_kg: float
