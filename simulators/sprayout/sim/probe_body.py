"""A climate sensor as a body of its own: slow, a little warm, a little wrong.

The humidity film follows the vapour around it but feels the sensor's own temperature, so a
sensor that is still warm reads too dry.  Long damp leaves it reading high for hours, and
solvent vapour pushes it up too, as the chip's data sheet warns.
"""

import math
from dataclasses import dataclass

from sprayout.errors import BadInput
from sprayout.sim.moist import saturation_pa


@dataclass(frozen=True, slots=True)
class ProbeTraits:
    """Lags in seconds, fixed errors, self-heating, and how far solvent vapour pushes it."""

    temperature_lag_s: float
    humidity_lag_s: float
    offset_c: float
    offset_rh_pct: float
    self_heating_k: float = 0.0
    pct_per_g_m3: float = 0.0

    def __post_init__(self) -> None:
        """Refuse lags that are not positive and errors no probe has."""
        if not (0.1 <= self.temperature_lag_s <= 3600 and 0.1 <= self.humidity_lag_s <= 3600):
            raise BadInput(
                f"probe: lags are {self.temperature_lag_s!r} s and {self.humidity_lag_s!r} s, "
                "wanted 0.1 to 3600 s"
            )
        if abs(self.offset_c) > 20 or abs(self.offset_rh_pct) > 50:
            raise BadInput(
                f"probe: offsets are {self.offset_c!r} K and {self.offset_rh_pct!r} %RH, "
                "wanted within 20 K and 50 %RH"
            )


class ProbeBody:
    """One sensor in the air; ``step`` it, then read ``air_c`` and ``rh_pct``."""

    def __init__(self, traits: ProbeTraits, air_c: float, vapour_pa: float) -> None:
        self._traits = traits
        self._body_c = air_c + traits.self_heating_k
        self._film_pct = 100.0 * vapour_pa / saturation_pa(self._body_c)
        self._soaked_pct = 0.0
        self._pushed_pct = 0.0

    def step(self, dt_s: float, air_c: float, vapour_pa: float, solvent_mg_m3: float) -> None:
        """Follow the air for ``dt_s``."""
        traits = self._traits
        goal_c = air_c + traits.self_heating_k
        self._body_c += (goal_c - self._body_c) * (1.0 - math.exp(-dt_s / traits.temperature_lag_s))
        feels_pct = 100.0 * vapour_pa / saturation_pa(self._body_c)
        self._film_pct += (feels_pct - self._film_pct) * (
            1.0 - math.exp(-dt_s / traits.humidity_lag_s)
        )
        soak = 3.0 if self._film_pct > 80.0 else 0.0
        self._soaked_pct += (soak - self._soaked_pct) * dt_s / 14_400.0
        pushed = min(traits.pct_per_g_m3 * solvent_mg_m3 / 1000.0, 6.0)
        self._pushed_pct += (pushed - self._pushed_pct) * dt_s / 240.0

    @property
    def air_c(self) -> float:
        """What it says the air is, °C."""
        return self._body_c + self._traits.offset_c

    @property
    def rh_pct(self) -> float:
        """What it says the humidity is, %RH, never outside 0..100."""
        said = self._film_pct + self._traits.offset_rh_pct + self._soaked_pct + self._pushed_pct
        return min(max(said, 0.0), 100.0)
