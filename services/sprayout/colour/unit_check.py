"""What a calibration may not be: every refusal names the channel, the count and the next step."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from sprayout.colour.posterior import tile_misfit
from sprayout.colour.sensors import prior
from sprayout.colour.tables import FloatArray
from sprayout.colour.tristimulus import check_spectrum, resample
from sprayout.colour.unit import COLOUR_CHANNELS, Patch, Unit
from sprayout.errors import BadInput, CalibrationRefused

CLIP_SHARE = 0.995
"""A count at or above this share of full scale is clipped: averages of clipped readings too."""
LEAST_SIGNAL = 20.0
SIXTEEN_BIT = 65535.0
_LEAST_STOP = 1000.0
_DARK_LEAST = -3.0
"""A dark whose ambient light was taken away already may stand a little below nought by noise."""
_TILE_LEAST = 0.60
_TILE_FLATNESS = 0.25
_TILE_MISFIT = 1.0


def check_counts(
    counts: Sequence[float] | FloatArray,
    channels: Sequence[str],
    what: str,
    *,
    least: float = 0.0,
) -> None:
    """Refuse counts that no chip gives: wrong number, not a number, negative (below ``least``)."""
    values = np.asarray(counts, dtype=float)
    if values.shape[-1:] != (len(channels),):
        raise BadInput(
            f"{what}: got {values.shape[-1] if values.ndim else 0} counts, wanted "
            f"{len(channels)} ({', '.join(channels)}); give one count for each channel"
        )
    for wrong, name in ((~np.isfinite(values), "not a number"), (values < least, "negative")):
        if wrong.any():
            at = np.argwhere(wrong)[0]
            raise BadInput(
                f"{what}: {channels[at[-1]]} reads {values[tuple(at)]:g}, {name}; "
                "counts are whole numbers from 0 up; measure again"
            )


def full_scale_of(unit: Unit, samples: FloatArray | None = None) -> float:
    """Highest count of the chip at this setting; ``samples`` (n, channels) read in it may help.

    Stated in the unit, else what the integration time allows, else 65,535.  Where two channels
    stand at exactly one common highest count, that is a stop and not light.
    """
    if unit.full_scale is not None:
        return unit.full_scale
    rows = np.array([unit.white.counts, *(patch.counts for patch in unit.patches)], dtype=float)
    if samples is not None and len(samples):
        rows = np.concatenate([rows, samples])
    columns = rows[:, list(unit.colour_columns())]
    top = float(np.nanmax(columns))
    at_top = int(np.count_nonzero((columns == top).any(axis=0)))
    # All channels alike is a file normed to its white, for no light fills all of them equally.
    if top >= _LEAST_STOP and 2 <= at_top < columns.shape[1]:
        return top
    allowed = _full_scale_by_time(unit)
    return allowed if top <= allowed else SIXTEEN_BIT


def _full_scale_by_time(unit: Unit) -> float:
    """What the chips' data sheets give for an integration time; 65,535 where it says nothing."""
    if unit.sensor == "rgb":
        return min(SIXTEEN_BIT, 1024.0 * max(round(unit.integration_ms / 2.4), 1))
    # The recommended setting of the 8-band chip: 30 x 600 steps of 2.78 us, so 18,000 counts.
    return 18000.0 if abs(unit.integration_ms - 50.04) < 0.5 else SIXTEEN_BIT


def check_unit(unit: Unit) -> None:
    """Refuse a unit that cannot be calibrated from; raises ``CalibrationRefused``."""
    _check_shape(unit)
    top = full_scale_of(unit)
    _check_white(unit, top)
    for patch in unit.patches:
        _check_patch(unit, patch, top)


def _check_shape(unit: Unit) -> None:
    missing = [name for name in COLOUR_CHANNELS[unit.sensor] if name not in unit.channels]
    if missing:
        raise BadInput(
            f"channels: {', '.join(missing)} missing, wanted "
            f"{', '.join(COLOUR_CHANNELS[unit.sensor])} for {unit.sensor}; name the channels so"
        )
    if len(set(unit.channels)) != len(unit.channels):
        raise BadInput("channels: a name stands twice; name each channel once")
    check_counts(unit.dark, unit.channels, "dark", least=_DARK_LEAST)
    check_counts(unit.white.counts, unit.channels, "white tile")
    for patch in unit.patches:
        check_counts(patch.counts, unit.channels, f"patch {patch.name}")
    if unit.white.spectrum is None:
        raise BadInput("white tile: no reflectance given; give its wavelengths and reflectances")


def _check_white(unit: Unit, top: float) -> None:
    for column in unit.colour_columns():
        name, count, dark = unit.channels[column], unit.white.counts[column], unit.dark[column]
        if count >= CLIP_SHARE * top:
            raise CalibrationRefused(
                f"white tile: {name} reads {count:g}, the top of its range ({top:g}); "
                "lower the gain and measure dark and tile again"
            )
        if count <= dark:
            raise CalibrationRefused(
                f"white tile: {name} reads {count:g}, not above the dark reading {dark:g}; "
                "check that the LED is on and the two were not exchanged, then measure both again"
            )
        if count - dark < LEAST_SIGNAL:
            raise CalibrationRefused(
                f"white tile: {name} reads {count - dark:g} counts above dark, wanted at least "
                f"{LEAST_SIGNAL:g}; raise the gain or the integration time and measure again"
            )
        if dark > 0.5 * count:
            raise CalibrationRefused(
                f"dark: {name} reads {dark:g}, more than half of the white tile's {count:g}; "
                "measure dark over a light trap, in the same setting as the tile"
            )
    _check_tile_reflectance(unit)
    _check_tile_is_lightest(unit)
    _check_tile_levels(unit)


def _check_tile_reflectance(unit: Unit) -> None:
    assert unit.white.spectrum is not None
    check_spectrum(unit.white.spectrum, "white tile")
    tile = resample(unit.white.spectrum)[8:65]  # 420-700 nm
    if tile.mean() < _TILE_LEAST or np.ptp(tile) > _TILE_FLATNESS:
        raise CalibrationRefused(
            f"white tile: reflectance {tile.min():.2f} to {tile.max():.2f} over 420-700 nm is not "
            f"that of a white tile (mean at least {_TILE_LEAST:g}, within {_TILE_FLATNESS:g}); "
            "use a white reference"
        )


def _check_tile_is_lightest(unit: Unit) -> None:
    """A patch far lighter than the tile in every channel means that the tile was not on."""
    columns = list(unit.colour_columns())
    white = np.array(unit.white.counts)[columns] - np.array(unit.dark)[columns]
    for patch in unit.patches:
        signal = np.array(patch.counts)[columns] - np.array(unit.dark)[columns]
        if np.all(signal > 1.15 * white):
            raise CalibrationRefused(
                f"white tile: patch {patch.name} reads at least {np.min(signal / white):.2f} times "
                "the tile in every channel, so the tile is not the white one; measure it again"
            )


def _check_tile_levels(unit: Unit) -> None:
    """Channel levels that no white tile under a white LED gives (a coloured surface, LED off)."""
    assert unit.white.spectrum is not None
    columns = list(unit.colour_columns())
    white = np.array(unit.white.counts)[columns] - np.array(unit.dark)[columns]
    tile = resample(unit.white.spectrum)
    if float(tile_misfit(prior(unit.sensor), unit.sensor, tile, white).min()) > _TILE_MISFIT:
        raise CalibrationRefused(
            "white tile: the levels of the channels are not those of a white tile under a white "
            "LED; check that the tile lies under the sensor and the LED is on, then measure again"
        )


def _check_patch(unit: Unit, patch: Patch, top: float) -> None:
    what = f"patch {patch.name}"
    for column in unit.colour_columns():
        if patch.counts[column] >= CLIP_SHARE * top:
            raise CalibrationRefused(
                f"{what}: {unit.channels[column]} reads {patch.counts[column]:g}, the top of its "
                f"range ({top:g}); lower the gain and calibrate again from dark"
            )
    if patch.spectrum is not None:
        check_spectrum(patch.spectrum, what)
    elif patch.lab_d50_2 is None:
        raise BadInput(f"{what}: neither reflectance nor lab_d50_2; give one of the two")
    else:
        check_lab(patch.lab_d50_2, f"{what}, lab_d50_2")


def check_lab(lab: Sequence[float], what: str) -> None:
    """Refuse a Lab that no surface has: L outside 0..100.5, or a, b beyond +-130."""
    values = np.asarray(lab, dtype=float)
    if values.shape != (3,) or not np.all(np.isfinite(values)):
        raise BadInput(f"{what}: got {list(lab)}, wanted three numbers L, a, b")
    if not 0.0 <= values[0] <= 100.5 or np.abs(values[1:]).max() > 130.0:
        raise BadInput(
            f"{what}: got L {values[0]:g}, a {values[1]:g}, b {values[2]:g}; wanted L 0 to 100 "
            "and a, b within 130; check the order and the sign"
        )
