"""A box of well-mixed air, and air moving from one to another with all that it carries.

Everything is kept as amounts (kg of dry air, kg of water, mg of solvent, J of heat), so that
what leaves one box arrives in another to the last bit; concentrations are worked out from them.
"""

from dataclasses import dataclass

from sprayout.errors import BadInput
from sprayout.sim.moist import dry_air_kg_m3, pa_from_ratio, ratio_from_pa, saturation_pa

AIR_J_KG_K = 1006.0


@dataclass(slots=True)
class Carried:
    """What air took along over a border since the start: water in kg, solvent in mg, heat in J."""

    water_kg: float = 0.0
    solvent_mg: float = 0.0
    heat_j: float = 0.0


class Reservoir:
    """Air without end (outdoors, the museum's hall): gives and takes and keeps a tally."""

    def __init__(self, air_c: float, vapour_pa: float, pressure_pa: float) -> None:
        self.given = Carried()
        self.taken = Carried()
        self.set(air_c, vapour_pa, pressure_pa)

    def set(self, air_c: float, vapour_pa: float, pressure_pa: float) -> None:
        """Change the air of the reservoir."""
        self.air_c = air_c
        self.water_ratio = ratio_from_pa(vapour_pa, pressure_pa)


class Box:
    """A room's or booth's air at the outer pressure; its dry air grows as it cools."""

    def __init__(self, volume_m3: float, air_c: float, rh_pct: float, pressure_pa: float) -> None:
        if not (volume_m3 > 0.0 and 0.0 <= rh_pct <= 100.0 and 5e4 < pressure_pa < 2e5):
            raise BadInput(
                f"box of air: got {volume_m3!r} m3, {rh_pct!r} %RH, {pressure_pa!r} Pa; wanted a "
                "volume above 0, 0 to 100 %RH and 50000 to 200000 Pa"
            )
        vapour_pa = rh_pct / 100.0 * saturation_pa(air_c)
        self.volume_m3 = volume_m3
        self.dry_air_kg = volume_m3 * dry_air_kg_m3(air_c, vapour_pa, pressure_pa)
        self.water_kg = self.dry_air_kg * ratio_from_pa(vapour_pa, pressure_pa)
        self.solvent_mg = 0.0
        self.heat_j = self.dry_air_kg * AIR_J_KG_K * air_c

    @property
    def air_c(self) -> float:
        """Temperature in °C."""
        return self.heat_j / (self.dry_air_kg * AIR_J_KG_K)

    def vapour_pa(self, pressure_pa: float) -> float:
        """Partial pressure of water vapour in Pa."""
        return pa_from_ratio(self.water_kg / self.dry_air_kg, pressure_pa)

    def rh_pct(self, pressure_pa: float) -> float:
        """Relative humidity in per cent."""
        return 100.0 * self.vapour_pa(pressure_pa) / saturation_pa(self.air_c)

    @property
    def solvent_mg_m3(self) -> float:
        """Solvent vapour in mg per cubic metre."""
        return self.solvent_mg / self.volume_m3

    def surplus_kg(self, pressure_pa: float) -> float:
        """Dry air above what the volume holds at this temperature (negative: it wants more)."""
        holds = dry_air_kg_m3(self.air_c, self.vapour_pa(pressure_pa), pressure_pa)
        return self.dry_air_kg - self.volume_m3 * holds

    def send(self, kg: float, to: "Box | Reservoir") -> None:
        """Move ``kg`` of dry air and its share of water, solvent and heat to ``to``."""
        share = kg / self.dry_air_kg
        water, solvent, heat = (
            self.water_kg * share,
            self.solvent_mg * share,
            self.heat_j * share,
        )
        self.dry_air_kg -= kg
        self.water_kg -= water
        self.solvent_mg -= solvent
        self.heat_j -= heat
        if isinstance(to, Box):
            to.dry_air_kg += kg
            to.water_kg += water
            to.solvent_mg += solvent
            to.heat_j += heat
        else:
            to.taken.water_kg += water
            to.taken.solvent_mg += solvent
            to.taken.heat_j += heat

    def draw(self, kg: float, source: Reservoir) -> None:
        """Let ``kg`` of dry air in from a reservoir; it brings water and heat, no solvent."""
        water, heat = kg * source.water_ratio, kg * AIR_J_KG_K * source.air_c
        self.dry_air_kg += kg
        self.water_kg += water
        self.heat_j += heat
        source.given.water_kg += water
        source.given.heat_j += heat
