"""One sensor unit as it was calibrated: its raw counts and the references they belong to."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from sprayout.colour.noise import NoiseModel
from sprayout.colour.tristimulus import Lab, Spectrum

Sensor = Literal["spectral-8", "rgb"]

COLOUR_CHANNELS: dict[str, tuple[str, ...]] = {
    "spectral-8": ("f1", "f2", "f3", "f4", "f5", "f6", "f7", "f8"),
    "rgb": ("red", "green", "blue"),
}
"""The channels a colour is worked out from; ``clear`` and ``nir`` only serve as checks."""


@dataclass(frozen=True, slots=True)
class Patch:
    """A reference surface and the counts this unit gave on it.

    ``spectrum`` where a certificate or a published table gives one, else ``lab_d50_2``.
    """

    name: str
    counts: tuple[float, ...]
    spectrum: Spectrum | None = None
    lab_d50_2: Lab | None = None


@dataclass(frozen=True, slots=True)
class Unit:
    """All that was measured to calibrate one unit (contract 3); every count is raw.

    Counts stand in the order of ``channels``.  ``dark`` is taken over a light trap with the LED
    on.  ``full_scale`` is the highest count the chip can give at this setting, where known;
    ``noise`` is that of one reading, where repeats have shown it.
    """

    sensor: Sensor
    channels: tuple[str, ...]
    gain: float
    integration_ms: float
    dark: tuple[float, ...]
    white: Patch
    patches: tuple[Patch, ...] = ()
    full_scale: float | None = None
    noise: NoiseModel | None = None

    def colour_columns(self) -> tuple[int, ...]:
        """Positions of the colour channels among ``channels``."""
        return tuple(self.channels.index(name) for name in COLOUR_CHANNELS[self.sensor])
