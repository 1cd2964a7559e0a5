"""How a match moves from daylight to lamp light.

Index: CIE 15:2018, 9.2.2: the difference under the test illuminant after the samples' values were
corrected by the factors that would make them equal under the reference illuminant.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sprayout.colour.difference import ciede2000
from sprayout.colour.lab import xyz_to_lab
from sprayout.colour.tables import FloatArray
from sprayout.colour.tristimulus import (
    Illuminant,
    Lab,
    Spectrum,
    resample,
    spectrum_to_xyz,
    white_point,
)
from sprayout.colour.words import words

REFERENCE: Illuminant = "d65"
LAMPS: tuple[Illuminant, ...] = ("a", "led-b3")
LAMP_NAMES: dict[Illuminant, str] = {"a": "incandescent lamp (A)", "led-b3": "white LED (LED-B3)"}
SEEN_DE00 = 1.0


@dataclass(frozen=True, slots=True)
class LampMatch:
    """The pair under one lamp, 10 degrees: difference as it is, index, the sample's fault."""

    illuminant: Illuminant
    de00: float
    index_de00: float
    words: str


@dataclass(frozen=True, slots=True)
class MetamerismReport:
    """``daylight_de00`` under D65/10 and the match under each lamp; ``words`` sums it up."""

    daylight_de00: float
    lamps: tuple[LampMatch, ...]
    words: str


def metamerism(target: Spectrum, sample: Spectrum) -> MetamerismReport:
    """Compare two reflectances under daylight and under lamps."""
    pair = np.stack([resample(target, "target"), resample(sample, "sample")])
    day = _xyz(pair, REFERENCE)
    daylight = _lab_difference(day, REFERENCE)[0]
    lamps = tuple(_under(lamp, pair, day) for lamp in LAMPS)
    worst = max(lamps, key=lambda lamp: lamp.index_de00)
    if worst.index_de00 < SEEN_DE00:
        said = "the match holds under lamp light"
    else:
        said = f"under {LAMP_NAMES[worst.illuminant]} the sample turns: {worst.words}"
    return MetamerismReport(daylight, lamps, said)


def _xyz(pair: FloatArray, illuminant: Illuminant) -> FloatArray:
    return np.maximum(spectrum_to_xyz(pair, illuminant, 10), 1e-6)


def _lab_difference(xyz: FloatArray, illuminant: Illuminant) -> tuple[float, Lab, Lab]:
    lab = xyz_to_lab(xyz, white_point(illuminant, 10))
    first, second = ((float(v[0]), float(v[1]), float(v[2])) for v in lab)
    return float(ciede2000(first, second)), first, second


def _under(lamp: Illuminant, pair: FloatArray, day: FloatArray) -> LampMatch:
    xyz = _xyz(pair, lamp)
    plain, target, _ = _lab_difference(xyz, lamp)
    corrected = np.stack([xyz[0], xyz[1] * day[0] / day[1]])
    index, _, moved = _lab_difference(corrected, lamp)
    return LampMatch(lamp, plain, index, words(target, moved).plain)
