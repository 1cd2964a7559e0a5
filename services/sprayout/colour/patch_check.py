"""Do tile and patches tell one story?  Finds a wrong tile, a swapped pair, a foreign patch.

What the virtual sensors that agree with the tile expect of every patch is compared with what was
read, in logarithms of the ratio to the tile.  Limits are wide: filters not yet known, published
chart spectra and old charts all make honest gaps of some tenths.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sprayout.colour.posterior import PatchReadings
from sprayout.colour.sensors import VirtualSensors
from sprayout.colour.tables import FloatArray
from sprayout.errors import CalibrationRefused

_USUAL_GAP = 0.08
_DARKEST = 0.02
_FITS = 2.5
_FOREIGN = 8.0
_TILE_OFF = 0.25
_TILE_DOUBT = 0.05
_SWAP_SHARE = 0.5


@dataclass(frozen=True, slots=True)
class PatchStory:
    """``gap`` (p, p): how far reading i is from reference j, in usual gaps; ``level`` (p,): the
    mean log of reading over expectation."""

    gap: FloatArray
    level: FloatArray


def tell_story(cloud: VirtualSensors, tile: FloatArray, patches: PatchReadings) -> PatchStory:
    """Compare every reading with every reference."""
    expected = np.log(cloud.ratios(patches.reflectance, tile) + _DARKEST)
    usual = np.sqrt(expected.var(axis=0) + _USUAL_GAP**2)
    read = np.log(np.maximum(patches.ratio, 0.0) + _DARKEST)
    away = read[:, None, :] - expected.mean(axis=0)[None]
    gap = np.sqrt(((away / usual[None]) ** 2).mean(axis=2))
    level = np.median(away[np.arange(len(read)), np.arange(len(read))], axis=1)
    return PatchStory(gap, level)


def check_story(story: PatchStory, names: tuple[str, ...]) -> None:
    """Refuse a calibration whose tile or patches cannot be what they are said to be."""
    _check_level(story)
    own = np.diag(story.gap)
    misfits = np.flatnonzero(own > _FITS)
    for i in misfits:
        j = _swapped_with(story, int(i))
        if j is not None:
            raise CalibrationRefused(
                f"patches: {names[i]} reads like {names[j]} and {names[j]} like {names[i]}, so the "
                "two were swapped; measure both again, each in its place"
            )
    foreign = np.flatnonzero(own > _FOREIGN)
    if len(foreign) > 0.5 * len(names) and len(names) >= 3:
        raise CalibrationRefused(
            f"patches: {len(foreign)} of {len(names)} do not read like their references against "
            "this tile; check that chart, tile and dark belong to this unit and setting"
        )
    for i in foreign:
        raise CalibrationRefused(
            f"patch {names[i]}: reads {np.exp(abs(story.level[i])):.2f} times off what its "
            "reference gives, another colour; place the sensor on it squarely and measure it again"
        )


def _check_level(story: PatchStory) -> None:
    if len(story.level) < 3:
        return
    common = float(np.median(story.level))
    agree = np.mean(np.abs(story.level - common) < 0.1)
    if abs(common) > _TILE_OFF and agree > 0.6:
        raise CalibrationRefused(
            f"white tile: all patches read about {np.exp(common):.2f} times what they should "
            "against it, so it was not the white tile of this certificate; measure the tile again"
        )


def _swapped_with(story: PatchStory, i: int) -> int | None:
    """The patch that ``i`` was exchanged with, where each fits the other's place far better."""
    gap = story.gap
    for j in range(len(gap)):
        crossed = max(gap[i, j], gap[j, i])
        straight = max(gap[i, i], gap[j, j])
        if j != i and crossed < _FITS and crossed < _SWAP_SHARE * straight:
            return j
    return None


def tile_note(story: PatchStory) -> str | None:
    """A word on a tile that looks dirty: the patches read a few per cent too light against it."""
    if len(story.level) < 4:
        return None
    common = float(np.median(story.level))
    if common <= _TILE_DOUBT:
        return None
    return (
        f"white tile: the patches read {100.0 * np.expm1(common):.0f} % light against it; "
        "the tile may be dirty, so clean it and measure it again"
    )
