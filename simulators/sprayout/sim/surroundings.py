"""What lies around the virtual board: light, air, the part under the sensor, a finger.

Simulated chips know registers, not physics.  They ask a ``Surroundings`` what reaches them at
the board's own time and turn the answer into counts, words and check sums.  The bench's optics
and booth air give the rich answer; ``SteadySurroundings`` gives a constant one for chip tests.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal, Protocol

Sensor = Literal["spectral-8", "rgb"]

SPECTRAL_CHANNELS = ("f1", "f2", "f3", "f4", "f5", "f6", "f7", "f8", "clear", "nir")
RGB_CHANNELS = ("red", "green", "blue", "clear")


class Surroundings(Protocol):
    """What the chips feel at ``t_s``, seconds of the simulated bench's clock."""

    def light(self, sensor: Sensor, led_ma: float, t_s: float) -> Mapping[str, float]:
        """Counts per millisecond at gain 1x of every channel of ``sensor``.

        ``led_ma`` is the current that the LED effectively turns into light (0: dark; ambient
        light remains); warm-up and ageing of the LED are already in it.  No noise, no clipping,
        no quantisation: those belong to the chip.
        """
        ...

    def air_c(self, t_s: float) -> float:
        """Air temperature as the climate chip feels it in its housing (lag included), °C."""
        ...

    def rh_pct(self, t_s: float) -> float:
        """Relative humidity as the climate chip feels it (lag included), %RH."""
        ...

    def part_c(self, t_s: float) -> float:
        """Temperature that the infrared thermometer sees on the part in °C."""
        ...

    def booth_pressure_pa(self, t_s: float) -> float:
        """Differential pressure across the booth filter in Pa."""
        ...

    def button_down(self, t_s: float) -> bool:
        """Whether a finger holds the push button down."""
        ...


# A different level on every band, so that a wrong channel map cannot pass.  With a 12 mA LED,
# 64x and 50 ms these give 704 counts (f1) to 12,288 (clear).
_SPECTRAL_PER_MS = {
    "f1": 0.22, "f2": 0.41, "f3": 0.73, "f4": 1.03, "f5": 1.31, "f6": 1.79, "f7": 2.31,
    "f8": 2.03, "clear": 3.84, "nir": 0.57,
}  # fmt: skip
_RGB_PER_MS = {"red": 9.1, "green": 6.7, "blue": 4.3, "clear": 19.9}
_REFERENCE_MA = 12.0


@dataclass(frozen=True, slots=True)
class SteadySurroundings:
    """Constant surroundings for tests: each band has its own level, nothing moves.

    ``per_ms`` are counts per millisecond at gain 1x under a 12 mA LED; ``ambient_share`` of
    them remains with the LED off.
    """

    spectral_per_ms: Mapping[str, float] = field(default_factory=lambda: dict(_SPECTRAL_PER_MS))
    rgb_per_ms: Mapping[str, float] = field(default_factory=lambda: dict(_RGB_PER_MS))
    ambient_share: float = 0.01
    air_temperature_c: float = 21.3
    humidity_pct: float = 48.2
    part_temperature_c: float = 20.9
    pressure_pa: float = 14.2
    pressed: bool = False

    def light(self, sensor: Sensor, led_ma: float, t_s: float) -> Mapping[str, float]:
        levels = self.spectral_per_ms if sensor == "spectral-8" else self.rgb_per_ms
        share = led_ma / _REFERENCE_MA + self.ambient_share
        return {channel: level * share for channel, level in levels.items()}

    def air_c(self, t_s: float) -> float:
        return self.air_temperature_c

    def rh_pct(self, t_s: float) -> float:
        return self.humidity_pct

    def part_c(self, t_s: float) -> float:
        return self.part_temperature_c

    def booth_pressure_pa(self, t_s: float) -> float:
        return self.pressure_pa

    def button_down(self, t_s: float) -> bool:
        return self.pressed
