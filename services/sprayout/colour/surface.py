"""Surfaces the sensor cannot judge well: what the readings themselves give away.

One reading shows light that cannot come from a plain surface (:func:`row_warnings`); several
placements show what changes from one to the next (:func:`placement_warnings`).  A warning says
what to do; it never corrects a colour.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from sprayout.colour.difference import parts
from sprayout.colour.lab import lab_to_xyz
from sprayout.colour.tables import FloatArray
from sprayout.colour.tristimulus import white_point
from sprayout.colour.unit import Unit

BRIGHTER_THAN_WHITE = 1.06
AMBIENT_SHARE = 0.02
NIR_EXCESS = 1.4
FLAKE_DE00 = 1.5
RESTLESS_EXCESS = 25.0
_NOISE_TIMES = 4.0
_EDGE_LOSS = 0.05

FLUORESCENCE = (
    "fluorescence suspected: it sends back more light at some wavelengths than a perfect white; "
    "a colour under other light cannot be told from this reading"
)
AMBIENT = (
    "ambient light leaking: light from the room reaches the sensor; set it down flat or shade it"
)
RESTLESS = (
    "readings of one placement scatter far more than the sensor does: it was moved, or the surface "
    "holds metallic flake; hold it still and measure again"
)
GLOSS = (
    "gloss or tilt: placements differ in lightness only; hold the sensor square to the surface "
    "and keep away from curves and highlights"
)
FLAKE = (
    "metallic flake or texture: placements scatter far more than the sensor does; one number "
    "cannot hold this colour, so take more placements and judge by eye from several sides"
)
EDGE = (
    "sample smaller than the aperture: some placements lose the same share of light in all "
    "channels; use a larger flat spot or a mask on tile and sample alike"
)


def row_warnings(
    unit: Unit, counts: ArrayLike, ambient: ArrayLike | None, bands: FloatArray
) -> list[tuple[str, ...]]:
    """Warnings for each row: counts (n, channels), ambient likewise, reflectance (n, 31)."""
    raw = np.atleast_2d(np.asarray(counts, dtype=float))
    # Only from 430 nm: below, weak light makes a band read high without any fluorescence.
    bright = bands[:, 3:].max(axis=1) > BRIGHTER_THAN_WHITE
    leaking = _leaking(unit, raw, ambient)
    return [
        tuple(word for word, is_so in ((FLUORESCENCE, bright[i]), (AMBIENT, leaking[i])) if is_so)
        for i in range(len(raw))
    ]


def _leaking(unit: Unit, raw: FloatArray, ambient: ArrayLike | None) -> FloatArray:
    columns = list(unit.colour_columns())
    white, dark = np.array(unit.white.counts), np.array(unit.dark)
    leaking = np.zeros(len(raw), dtype=bool)
    if ambient is not None:
        off = np.broadcast_to(np.atleast_2d(np.asarray(ambient, dtype=float)), raw.shape)
        leaking |= off[:, columns].max(axis=1) > AMBIENT_SHARE * white[columns].max()
        raw = raw - off
    if "nir" in unit.channels:
        at = unit.channels.index("nir")
        allowed = NIR_EXCESS * (white[at] - dark[at]) + 0.005 * white[columns].max() + 5.0
        leaking |= raw[:, at] - dark[at] > allowed
    return leaking


def placement_warnings(labs: FloatArray, noise_de00: float) -> tuple[str, ...]:
    """What two or more placements' Lab (n, 3; D65/10) say of the surface.

    ``noise_de00``: scatter of one placement that reading noise alone gives.
    """
    if len(labs) < 2:
        return ()
    middle = np.median(labs, axis=0)
    lightness, chroma, hue, _ = parts(middle, labs)
    coloured = float(np.sqrt(np.mean(chroma**2 + hue**2)))
    light = float(np.sqrt(np.mean(lightness**2)))
    seen = _NOISE_TIMES * max(noise_de00, 0.05)
    found = []
    if _loses_light(labs, middle) and light > seen:
        found.append(EDGE)
    elif light > seen and coloured < max(0.35 * light, 2.0 * noise_de00):
        found.append(GLOSS)
    if len(labs) >= 3 and np.hypot(light, coloured) > max(FLAKE_DE00, 2.0 * seen):
        found.append(FLAKE)
    return tuple(found)


def _loses_light(labs: FloatArray, middle: FloatArray) -> bool:
    """Some placements are darker by one share in X, Y and Z alike (and none is lighter so)."""
    white = white_point("d65", 10)
    share = lab_to_xyz(labs, white) / np.maximum(lab_to_xyz(middle, white), 1e-6)
    darker = share.mean(axis=1) < 1.0 - _EDGE_LOSS
    even = np.ptp(share, axis=1) < 0.25 * np.abs(1.0 - share.mean(axis=1)) + 0.01
    lighter = share.mean(axis=1) > 1.0 + _EDGE_LOSS
    chromatic = float(np.hypot(*middle[1:])) > 8.0
    return bool(chromatic and np.any(darker & even) and not np.any(lighter))
