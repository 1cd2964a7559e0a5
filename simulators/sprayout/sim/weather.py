"""The evening outside: late summer, warm and dry until the rain comes."""

import math
from dataclasses import dataclass

import numpy as np

from sprayout.errors import BadInput
from sprayout.sim.moist import saturation_pa
from sprayout.sim.spectra import checked_seed


@dataclass(frozen=True, slots=True)
class Weather:
    """What the evening will do; ``rain_*`` counts from the moment it starts to rain."""

    start_c: float = 24.6
    start_rh_pct: float = 55.0
    fall_k_per_h: float = 0.9
    rain_cools_k: float = 3.5
    rain_rh_pct: float = 98.0
    rain_settles_s: float = 700.0
    wind_ms: float = 1.8
    pressure_pa: float = 100_900.0
    pressure_pa_per_h: float = -40.0

    def __post_init__(self) -> None:
        """Check every value against what a late-summer evening can do."""
        limits = {
            "start_c": (-10.0, 40.0),
            "start_rh_pct": (5.0, 100.0),
            "fall_k_per_h": (-5.0, 5.0),
            "rain_cools_k": (0.0, 15.0),
            "rain_rh_pct": (30.0, 100.0),
            "rain_settles_s": (30.0, 20_000.0),
            "wind_ms": (0.0, 20.0),
            "pressure_pa": (80_000.0, 110_000.0),
            "pressure_pa_per_h": (-500.0, 500.0),
        }
        for name, (low, high) in limits.items():
            value = getattr(self, name)
            if not low <= value <= high:
                raise BadInput(f"weather: {name} is {value!r}, wanted {low:g} to {high:g}")

    @staticmethod
    def draw(seed: int) -> "Weather":
        """An evening of its own for every seed, around the usual one."""
        a = np.clip(np.random.default_rng((checked_seed(seed), 0x77)).standard_normal(7), -2, 2)
        return Weather(
            start_c=22.5 + 2.5 * float(a[0]),
            start_rh_pct=58.0 + 8.0 * float(a[1]),
            fall_k_per_h=1.0 + 0.4 * float(a[2]),
            rain_cools_k=4.0 + 1.2 * float(a[3]),
            rain_settles_s=800.0 + 250.0 * float(a[4]),
            wind_ms=2.2 + 0.9 * float(a[5]),
            pressure_pa=101_000.0 + 700.0 * float(a[6]),
        )


class Outdoors:
    """The air outside at any moment, with gusts and small swings of its own."""

    def __init__(self, weather: Weather, rng: np.random.Generator) -> None:
        self.weather = weather
        self.rain_since_s: float | None = None
        self._rng = rng
        self._swing_k = 0.0
        self._gust = 0.0
        self.air_c = weather.start_c
        self.vapour_pa = weather.start_rh_pct / 100.0 * saturation_pa(weather.start_c)
        self.wind_ms = weather.wind_ms
        self.pressure_pa = weather.pressure_pa

    @property
    def rh_pct(self) -> float:
        """Relative humidity outside in per cent."""
        return 100.0 * self.vapour_pa / saturation_pa(self.air_c)

    def step(self, t_s: float, dt_s: float, noise: tuple[float, float]) -> None:
        """Move on to ``t_s``; ``noise`` is two standard normal numbers."""
        w = self.weather
        # Swings are first-order random walks that fall back: 0.12 K over 150 s, 30 % over 25 s.
        self._swing_k = wandered(self._swing_k, 0.12, 150.0, dt_s, noise[0])
        self._gust = wandered(self._gust, 0.30, 25.0, dt_s, noise[1])
        wetted = self._wetted(t_s)
        plain_c = w.start_c - w.fall_k_per_h * t_s / 3600.0 - w.rain_cools_k * wetted
        self.air_c = plain_c + self._swing_k
        dry_pa = w.start_rh_pct / 100.0 * saturation_pa(w.start_c)
        wet_pa = w.rain_rh_pct / 100.0 * saturation_pa(plain_c)
        wanted_pa = dry_pa + (max(wet_pa, dry_pa) - dry_pa) * wetted
        self.vapour_pa = min(wanted_pa, 0.99 * saturation_pa(self.air_c))
        self.wind_ms = max(0.0, w.wind_ms * (1.0 + 0.5 * wetted) * (1.0 + self._gust))
        self.pressure_pa = w.pressure_pa + w.pressure_pa_per_h * t_s / 3600.0

    def _wetted(self, t_s: float) -> float:
        """How far the rain has changed the air, 0 to 1."""
        if self.rain_since_s is None or t_s <= self.rain_since_s:
            return 0.0
        return 1.0 - math.exp(-(t_s - self.rain_since_s) / self.weather.rain_settles_s)


def wandered(value: float, spread: float, tau_s: float, dt_s: float, noise: float) -> float:
    """One step of a random walk that falls back to 0 (Ornstein-Uhlenbeck, exact step)."""
    kept = math.exp(-dt_s / tau_s)
    return value * kept + spread * math.sqrt(1.0 - kept * kept) * noise
