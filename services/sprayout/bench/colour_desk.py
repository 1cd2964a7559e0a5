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
    placements: int = 1

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
    white: Step | None = None
    patches: tuple[Patch, ...] = ()
    profile: UnitProfile | None = None
    calibration: Calibration | None = None

    def start_with(self, dark: Step) -> None:
        """Begin a calibration; what is in force stays so until the white tile is measured."""
        self.dark, self.white, self.patches = dark, None, ()

    def require_setting(self, step: Step) -> None:
        """Refuse what was measured at another gain or time than the calibration's."""
        unit = self.profile.unit if self.profile else None
        if unit is None or not _same(unit, step.setting):
            was = f"{unit.gain:g}x, {unit.integration_ms:g} ms" if unit else "none"
            raise CalibrationRefused(
                f"swatch: measured at {step.setting.gain:g}x, {step.setting.integration_ms:g} ms, "
                f"wanted the calibration's {was}; measure dark and white tile again"
            )

    def words(self) -> str:
        """Return what to do next, in one line."""
        if self.dark is not None and self.white is None:
            return "dark is measured; put the white tile under the sensor and measure it"
        if self.profile is not None:
            count = "1 patch" if len(self.patches) == 1 else f"{len(self.patches)} patches"
            more = f"; {count} measured, finish to use them"
            return f"calibrated: {self.profile.calibration}" + (more if self.unused() else "")
        return "not calibrated; put the sensor over the light trap and measure dark"

    def takes_patches(self) -> bool:
        """Whether dark and tile of one calibration are there, so that patches can follow."""
        return self.dark is not None and self.white is not None

    def unused(self) -> bool:
        """Whether patches were measured that the calibration in force does not rest on."""
        return (
            bool(self.patches)
            and self.profile is not None
            and (self.patches != self.profile.unit.patches)
        )


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


def together(steps: Sequence[Step]) -> Step:
    """Return several measurements of one surface as one, at one setting by calibration."""
    return Step(
        steps[0].setting,
        steps[0].channels,
        np.concatenate([step.counts for step in steps]),
        np.concatenate([step.ambient for step in steps]),
        tuple(dict.fromkeys(name for step in steps for name in step.saturated)),
        len(steps),
    )


def _row(arrived: ReadingsArrived, channels: tuple[str, ...]) -> list[float]:
    values = {reading.channel: reading.value for reading in arrived.readings}
    missing = [name for name in channels if name not in values]
    if missing:
        raise CalibrationRefused(
            f"colour reading: {', '.join(missing)} missing; look at the board and measure again"
        )
    return [values[name] for name in channels]


def unit_of(desk: ColourDesk, dark: Step, tile: Patch, patches: tuple[Patch, ...] = ()) -> Unit:
    """Return the unit as contract 3 has it, ambient light taken away from every count."""
    return Unit(
        sensor=desk.sensor,
        channels=desk.channels,
        gain=dark.setting.gain,
        integration_ms=dark.setting.integration_ms,
        dark=dark.without_ambient(),
        white=tile,
        patches=patches,
        full_scale=dark.setting.full_scale,
    )


def same_setting(unit: Unit, detail: ColourDetail) -> bool:
    """Whether a reading may be judged by this calibration."""
    return _same(unit, detail)


def _same(unit: Unit, taken: ColourDetail | Setting) -> bool:
    return unit.gain == taken.gain and abs(unit.integration_ms - taken.integration_ms) < 0.01
