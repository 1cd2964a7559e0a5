"""A thin metal part in the booth: it follows the air with a lag, and wet paint cools it.

One lump of metal and film, air on both faces.  The solvent is a fast and a slow kind that leave
by their own vapour pressure over the film, as fast as heat goes in the other way (the same
boundary layer).  Each drop sprayed partly dries on its way.
"""

import math
from dataclasses import dataclass

from sprayout.errors import BadInput
from sprayout.sim.moist import GAS_CONSTANT

AREA_M2 = 0.016  # sprayed faces of a clockwork boat
HEAT_J_M2_K = 1750.0  # half a millimetre of steel
RADIATION_W_M2_K = 4.6
LATENT_J_KG = 390e3
FLIGHT_SHARE = 0.35  # of the solvent that is gone before the drop lands
SOLIDS_SHARE = 0.30  # of the sprayed volume
LANDS_SHARE = 0.45  # of what leaves the nozzle
DENSITY_MG_ML = 870.0
BOUNDARY_M_S = 4.5e-4  # vapour moves this fast per W/m2K of heat transfer


@dataclass(frozen=True, slots=True)
class Solvent:
    """A pseudo-solvent: share of the reducer, pressure at 20 °C, rise with warmth, molar mass."""

    share: float
    pa_at_20c: float
    heat_kelvin: float
    kg_mol: float

    def saturated_mg_m3(self, film_c: float) -> float:
        """Vapour over the pure solvent."""
        t = film_c + 273.15
        pressure = self.pa_at_20c * math.exp(-self.heat_kelvin * (1.0 / t - 1.0 / 293.15))
        return 1e6 * pressure * self.kg_mol / (GAS_CONSTANT * t)


REDUCER = (Solvent(0.55, 9_700.0, 4_300.0, 0.080), Solvent(0.45, 950.0, 5_300.0, 0.112))


class WetPart:
    """The piece on its turntable: temperature, wet film, and the vapour it gives off."""

    def __init__(self, part_c: float) -> None:
        if not -20.0 <= part_c <= 80.0:
            raise BadInput(f"part_c: got {part_c!r}, wanted -20 to 80 °C")
        self.part_c = part_c
        self.film_mg = [0.0 for _ in REDUCER]
        self.spray_ml_min = 0.0
        self.sprayed_mg = 0.0  # solvent that left the nozzle since the start

    def step(self, dt_s: float, air_c: float, speed_ms: float, air_mg_m3: float) -> "Given":
        """Move on by ``dt_s``; says what the air of the booth gets and gives."""
        flight_mg, waste_g = self._spray(dt_s)
        convection = 3.6 + 8.2 * math.sqrt(max(speed_ms, 0.01))
        vapour_mg = self._evaporate(dt_s, convection, air_mg_m3)
        taken_j = 2.0 * (convection + RADIATION_W_M2_K) * AREA_M2 * (air_c - self.part_c) * dt_s
        cooled_j = vapour_mg * 1e-6 * LATENT_J_KG
        self.part_c += (taken_j - cooled_j) / (HEAT_J_M2_K * AREA_M2)
        return Given(vapour_mg + flight_mg, taken_j + flight_mg * 1e-6 * LATENT_J_KG, waste_g)

    def _spray(self, dt_s: float) -> tuple[float, float]:
        """Solvent that dries in flight (mg) and overspray caught by the filter (g)."""
        if self.spray_ml_min <= 0.0:
            return 0.0, 0.0
        out_mg = self.spray_ml_min / 60.0 * dt_s * DENSITY_MG_ML
        solvent_mg = out_mg * (1.0 - SOLIDS_SHARE)
        self.sprayed_mg += solvent_mg
        landed_mg = solvent_mg * (1.0 - FLIGHT_SHARE) * LANDS_SHARE
        for i, solvent in enumerate(REDUCER):
            self.film_mg[i] += landed_mg * solvent.share
        return solvent_mg - landed_mg, out_mg * SOLIDS_SHARE * (1.0 - LANDS_SHARE) / 1000.0

    def _evaporate(self, dt_s: float, convection: float, air_mg_m3: float) -> float:
        """Solvent leaving the film in this step, in mg."""
        wet_mg = sum(self.film_mg)
        if wet_mg <= 0.0:
            return 0.0
        # A film nearly dry holds its solvent back: the resin closes over it.
        freely = wet_mg / (wet_mg + 1.5e3 * AREA_M2)
        left = 0.0
        for i, solvent in enumerate(REDUCER):
            over = solvent.saturated_mg_m3(self.part_c) * self.film_mg[i] / wet_mg * freely
            rate = BOUNDARY_M_S * convection * AREA_M2 * max(over - air_mg_m3 * 0.5, 0.0)
            gone = min(rate * dt_s, self.film_mg[i])
            self.film_mg[i] -= gone
            left += gone
        return left


@dataclass(frozen=True, slots=True)
class Given:
    """What one step hands to the booth: solvent vapour, heat taken from the air, overspray."""

    vapour_mg: float
    heat_taken_j: float
    overspray_g: float
