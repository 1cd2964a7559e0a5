"""The sensor side of a bench: the steps of a calibration, and what a colour reading means now.

House rules: dark, white tile and sample are taken at one and the same gain and integration time,
for gains are not exact multiples of one another; light that is there with the LED off is taken
away channel by channel; a colour without a calibration is no colour, and is said to be none.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sprayout.colour.profile import UnitProfile
from sprayout.colour.unit import Patch, Sensor, Unit
from sprayout.errors import CalibrationRefused
from sprayout.intake.events import ColourDetail, ReadingsArrived
from sprayout.journal.records import Calibration

#: Share of a reading that may be ambient light before a calibration step is refused (ours).
AMBIENT_MAX = 0.02
#: Share of full scale that the strongest channel should reach on the white tile (ours).
WHITE_LEVEL_MIN = 0.25


@dataclass(frozen=True, slots=True)
class Setting:
    """What must stay the same from the dark reading to the last sample."""

    gain: float
    integration_ms: float
    full_scale: float

    @classmethod
    def of(cls, detail: ColourDetail) -> "Setting":
        return cls(detail.gain, round(detail.integration_ms, 3), detail.full_scale)


@dataclass(frozen=True, slots=True)
class Step:
    """One surface measured several times: raw counts and the ambient light, both (m, k)."""

    setting: Setting
    channels: tuple[str, ...]
    counts: NDArray[np.float64]
    ambient: NDArray[np.float64]
    saturated: tuple[str, ...]

    def without_ambient(self) -> tuple[float, ...]:
        """Return the mean counts, ambient light taken away."""
        return tuple(float(v) for v in (self.counts - self.ambient).mean(axis=0))


@dataclass(slots=True)
class ColourDesk:
    """What is known of one board's sensor."""

    device: str
    sensor: Sensor
    channels: tuple[str, ...]
    dark: Step | None = None
    unit: Unit | None = None
    profile: UnitProfile | None = None
    calibration: Calibration | None = None

    def words(self) -> str:
        """Return what to do next, in one line."""
        if self.profile is not None:
            return f"calibrated: {self.profile.calibration}"
        if self.dark is not None:
            return "dark is measured; put the white tile under the sensor and measure it"
        return "not calibrated; put the sensor over the light trap and measure dark"


def step_of(arrived: Sequence[ReadingsArrived], channels: tuple[str, ...]) -> Step:
    """Return the repeats as one step; raises CalibrationRefused where they do not belong together.

    The chip's own mark of saturation, not a number, says that a channel is clipped.
    """
    details = [entry.colour for entry in arrived]
    known = [detail for detail in details if detail is not None]
    settings = {Setting.of(detail) for detail in known}
    if not known or len(known) != len(details) or len(settings) != 1:
        raise CalibrationRefused(
            "colour reading: gain or integration time changed between repeats; measure again"
        )
    saturated = {name for detail in known for name in detail.saturated}
    return Step(
        settings.pop(),
        channels,
        np.array([_row(entry, channels) for entry in arrived]),
        np.array([detail.ambient or (0.0,) * len(channels) for detail in known], dtype=float),
        tuple(name for name in channels if name in saturated),
    )


def _row(arrived: ReadingsArrived, channels: tuple[str, ...]) -> list[float]:
    values = {reading.channel: reading.value for reading in arrived.readings}
    missing = [name for name in channels if name not in values]
    if missing:
        raise CalibrationRefused(
            f"colour reading: {', '.join(missing)} missing; look at the board and measure again"
        )
    return [values[name] for name in channels]


def check_dark(step: Step) -> None:
    """Refuse a dark that is not one: a light trap gives a small part of full scale."""
    _check_ambient(step, "dark", step.setting.full_scale * WHITE_LEVEL_MIN)
    counts = step.counts.mean(axis=0)
    worst = int(counts.argmax())
    if counts[worst] > 0.1 * step.setting.full_scale:
        raise CalibrationRefused(
            f"dark: {step.channels[worst]} reads {counts[worst]:.0f} of "
            f"{step.setting.full_scale:.0f}, wanted under a tenth; put the sensor over the light "
            "trap (a black-lined open box) and measure again"
        )


def check_white(step: Step, dark: Step) -> None:
    """Refuse a white that is clipped, weak, lit from outside or at another gain than the dark."""
    if step.saturated:
        raise CalibrationRefused(
            f"white tile: {', '.join(step.saturated)} is at the top of its range; let the board "
            "choose the gain on the tile, then measure dark and white tile again"
        )
    if step.setting != dark.setting:
        raise CalibrationRefused(
            f"white tile: gain {step.setting.gain:g}, {step.setting.integration_ms:g} ms, but the "
            f"dark was measured at gain {dark.setting.gain:g}, {dark.setting.integration_ms:g} ms; "
            "measure the dark again"
        )
    counts = step.counts.mean(axis=0)
    _check_ambient(step, "white tile", float(counts.max()))
    if counts.max() < WHITE_LEVEL_MIN * step.setting.full_scale:
        raise CalibrationRefused(
            f"white tile: the strongest channel reads {counts.max():.0f} of "
            f"{step.setting.full_scale:.0f}, wanted a quarter or more; let the board choose the "
            "gain on the tile, then measure dark and white tile again"
        )


def _check_ambient(step: Step, what: str, of: float) -> None:
    ambient = step.ambient.mean(axis=0)
    worst = int(ambient.argmax())
    if ambient[worst] > AMBIENT_MAX * of:
        raise CalibrationRefused(
            f"{what}: {step.channels[worst]} reads {ambient[worst]:.0f} with the LED off, so light "
            "from outside gets in; close the sensor onto the surface and measure again"
        )


def unit_of(
    desk: ColourDesk, dark: Step, white: Step, tile: Patch, patches: tuple[Patch, ...] = ()
) -> Unit:
    """Return the unit as contract 3 has it, ambient light taken away from every count."""
    return Unit(
        sensor=desk.sensor,
        channels=desk.channels,
        gain=white.setting.gain,
        integration_ms=white.setting.integration_ms,
        dark=dark.without_ambient(),
        white=Patch(tile.name, white.without_ambient(), tile.spectrum, tile.lab_d50_2),
        patches=patches,
        full_scale=white.setting.full_scale,
    )


def same_setting(unit: Unit, detail: ColourDetail) -> bool:
    """Whether a reading may be judged by this calibration."""
    return unit.gain == detail.gain and abs(unit.integration_ms - detail.integration_ms) < 0.01
