"""The guided calibration, step by step: may this measurement be kept, and if not, why not.

Each check takes the repeated readings (m, channels) of one step as they came from the board and
says all that is wrong at once.  ``reasons`` refuse the step; ``notes`` are worth a look.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from sprayout.colour.noise import USUAL
from sprayout.colour.tables import FloatArray
from sprayout.colour.unit import COLOUR_CHANNELS, Sensor
from sprayout.colour.unit_check import CLIP_SHARE, LEAST_SIGNAL, check_counts
from sprayout.errors import CalibrationRefused

DRIFT_SHARE = 0.01
RESTLESS = 5.0
AMBIENT_SHARE = 0.02
DARK_SHARE = 0.15
DARK_DRIFT_OF = 0.1
LOW_SHARE = 0.05


@dataclass(frozen=True, slots=True)
class Setting:
    """What the readings were taken with: the chip's kind, channels and highest count."""

    sensor: Sensor
    channels: tuple[str, ...]
    full_scale: float

    def colour_columns(self) -> list[int]:
        """Positions of the colour channels."""
        return [self.channels.index(name) for name in COLOUR_CHANNELS[self.sensor]]


@dataclass(frozen=True, slots=True)
class StepCheck:
    """``ok`` when there is no reason to refuse the step."""

    reasons: tuple[str, ...]
    notes: tuple[str, ...] = ()

    @property
    def ok(self) -> bool:
        """Whether the measurement may be kept."""
        return not self.reasons

    def require(self) -> None:
        """Raise ``CalibrationRefused`` with the first reason, where there is one."""
        if self.reasons:
            raise CalibrationRefused(self.reasons[0])


def _clipped(what: str, readings: FloatArray, setting: Setting) -> list[str]:
    top = CLIP_SHARE * setting.full_scale
    return [
        f"{what}: {setting.channels[c]} reads {readings[:, c].max():g}, the top of its range "
        f"({setting.full_scale:g}); lower the gain and start again from dark"
        for c in setting.colour_columns()
        if readings[:, c].max() >= top
    ]


def _unsteady(
    what: str, readings: FloatArray, setting: Setting, least_level: float = 0.0
) -> list[str]:
    """Drift from first to last, or jumps far above the noise of a reading at rest.

    A drift counts beside the level itself, or beside ``least_level`` counts where that is more.
    """
    if len(readings) < 3:
        return []
    found = []
    turn = np.arange(len(readings)) - (len(readings) - 1) / 2
    for c in setting.colour_columns():
        column = readings[:, c]
        noise = float(USUAL.sd(column.mean()))
        drift = float(turn @ column / (turn @ turn)) * (len(readings) - 1)
        allowed = DRIFT_SHARE * max(column.mean(), least_level) + 3.0 * noise
        if abs(drift) > allowed:
            found.append(
                f"{what}: {setting.channels[c]} drifted by {drift:+.0f} counts over "
                f"{len(readings)} readings (allowed {allowed:.0f}); let the LED warm up for a few "
                "minutes, keep the sensor still and measure again"
            )
        elif column.std() > RESTLESS * noise:
            found.append(
                f"{what}: {setting.channels[c]} scatters by {column.std():.0f} counts, usual is "
                f"{noise:.0f}; hold the sensor still and flat and measure again"
            )
    return found[:1]


def _ambient(
    what: str, ambient: FloatArray | None, level: FloatArray, setting: Setting
) -> list[str]:
    """Room light under the sensor, seen with the LED off; ``level`` is the LED's own signal."""
    if ambient is None:
        return []
    columns = setting.colour_columns()
    if "nir" in setting.channels:
        # Nearly blind under a white LED, so daylight and lamps show here first.
        columns = [*columns, setting.channels.index("nir")]
    share = ambient[columns] / max(float(level[setting.colour_columns()].max()), 1.0)
    if share.max() <= AMBIENT_SHARE:
        return []
    worst = setting.channels[columns[int(share.argmax())]]
    return [
        f"{what}: room light reaches the sensor ({worst} reads {ambient[columns].max():.0f} with "
        "the LED off); set it down flat, shade it and measure again"
    ]


def check_dark(
    readings: FloatArray,
    setting: Setting,
    ambient: FloatArray | None = None,
    *,
    tile_level: FloatArray | None = None,
) -> StepCheck:
    """Dark over a light trap with the LED on; ``tile_level`` (channels,) of an earlier tile."""
    rows = np.atleast_2d(readings)
    check_counts(rows, setting.channels, "dark")
    mean = rows.mean(axis=0)
    # What drifts in the dark matters only beside what a tile will read.
    tile_least = DARK_DRIFT_OF * setting.full_scale
    reasons = _clipped("dark", rows, setting) + _unsteady("dark", rows, setting, tile_least)
    scale = np.full(len(setting.channels), setting.full_scale) if tile_level is None else tile_level
    reasons += _ambient("dark", ambient, scale, setting)
    for c in setting.colour_columns():
        if mean[c] > DARK_SHARE * scale[c]:
            reasons.append(
                f"dark: {setting.channels[c]} reads {mean[c]:.0f}, too much for a light trap; use "
                "a black-lined open box and keep the sensor's mouth clear of its walls"
            )
            break
    return StepCheck(tuple(reasons))


def check_white(
    readings: FloatArray,
    dark: FloatArray,
    setting: Setting,
    ambient: FloatArray | None = None,
    *,
    last_levels: FloatArray | None = None,
) -> StepCheck:
    """White tile; ``dark`` (channels,) of this calibration, ``last_levels`` (channels,): counts
    above dark at the last good calibration with the same gain and integration time."""
    rows = np.atleast_2d(readings)
    check_counts(rows, setting.channels, "white tile")
    level = rows.mean(axis=0) - dark
    reasons = _clipped("white tile", rows, setting) + _unsteady("white tile", rows, setting)
    reasons += _ambient("white tile", ambient, level, setting)
    weak = [c for c in setting.colour_columns() if level[c] < LEAST_SIGNAL]
    if weak:
        name = setting.channels[weak[0]]
        reasons.append(
            f"white tile: {name} reads {level[weak[0]]:.0f} counts above dark, wanted at least "
            f"{LEAST_SIGNAL:.0f}; check the LED and the tile, or raise the gain from dark on"
        )
    notes = []
    if level[setting.colour_columns()].max() < LOW_SHARE * setting.full_scale:
        notes.append("white tile: every channel reads low; a higher gain gives less noise")
    if last_levels is not None and not weak:
        more = _against_last(level, last_levels, setting)
        reasons += more[0]
        notes += more[1]
    return StepCheck(tuple(reasons), tuple(notes))


def _against_last(
    level: FloatArray, last: FloatArray, setting: Setting
) -> tuple[list[str], list[str]]:
    """Tile against its last good measurement: far off or coloured = wrong, a little = dirty."""
    columns = setting.colour_columns()
    ratio = level[columns] / np.maximum(last[columns], 1.0)
    tint = ratio / np.median(ratio)
    if not 0.7 < float(np.median(ratio)) < 1.4 or np.abs(np.log(tint)).max() > 0.15:
        worst = setting.channels[columns[int(np.abs(np.log(tint)).argmax())]]
        return [
            f"white tile: reads {np.median(ratio):.2f} times the last calibration ({worst} "
            f"{ratio[int(np.abs(np.log(tint)).argmax())]:.2f}); this is another tile or another "
            "LED: use the tile of the certificate"
        ], []
    if np.median(ratio) < 0.97 or np.abs(np.log(tint)).max() > 0.02:
        return [], [
            f"white tile: reads {np.median(ratio):.3f} times the last calibration; "
            "wipe tile and window and measure again if it should read the same"
        ]
    return [], []


def check_patch(
    name: str,
    readings: FloatArray,
    dark: FloatArray,
    white: FloatArray,
    setting: Setting,
    ambient: FloatArray | None = None,
    others: Sequence[tuple[str, FloatArray]] = (),
) -> StepCheck:
    """A chart patch; ``others``: names and mean counts of the patches already measured."""
    rows = np.atleast_2d(readings)
    what = f"patch {name}"
    check_counts(rows, setting.channels, what)
    mean = rows.mean(axis=0)
    columns = setting.colour_columns()
    reasons = _clipped(what, rows, setting) + _unsteady(what, rows, setting)
    reasons += _ambient(what, ambient, white - dark, setting)
    ratio = (mean - dark)[columns] / (white - dark)[columns]
    if np.all(ratio > 1.15):
        reasons.append(
            f"{what}: lighter than the white tile in every channel; measure the tile again"
        )
    for other, counts in others:
        if np.all(np.abs(counts - mean)[columns] < 3.0 * USUAL.sd(mean)[columns]):
            reasons.append(
                f"{what}: reads the same as patch {other}; move the sensor to {name} and "
                "measure again"
            )
    return StepCheck(tuple(reasons))
