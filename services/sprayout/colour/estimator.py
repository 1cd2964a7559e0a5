"""From virtual sensors to the map of one unit, and to what the map may be wrong by."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np

from sprayout.colour import regression, uncertainty
from sprayout.colour.difference import ciede2000
from sprayout.colour.lab import xyz_to_lab
from sprayout.colour.noise import CALIBRATION_READINGS, READINGS, USUAL, NoiseModel
from sprayout.colour.sensors import VirtualSensors
from sprayout.colour.tables import GRID_NM, FloatArray
from sprayout.colour.training import surfaces
from sprayout.colour.tristimulus import WHITES, spectrum_to_xyz, white_point

BANDS_NM: FloatArray = np.arange(400.0, 700.1, 10.0)
"""Wavelengths of an estimated reflectance, nm, shape (31,)."""

FIT_SENSORS = 60
_SEED = 8


@cache
def goals() -> FloatArray:
    """What the map must give for the training surfaces: XYZ/white twice, then bands; (t, 37)."""
    spectra = surfaces()
    relative = [spectrum_to_xyz(spectra, *white) / white_point(*white) for white in WHITES.values()]
    bands = spectra[:, np.isin(GRID_NM, BANDS_NM)]
    return np.concatenate([*relative, bands], axis=1)


@cache
def surface_labs() -> tuple[FloatArray, FloatArray]:
    """Lab (t, 3) of the training surfaces under D65/10 and D50/2."""
    relative = goals()
    one = np.ones(3)
    return xyz_to_lab(relative[:, :3], one), xyz_to_lab(relative[:, 3:6], one)


@dataclass(frozen=True, slots=True)
class Estimator:
    """The fitted map (k ratios -> 37 outputs) and its uncertainty for each white.

    ``offset``: share of the tile's signal that the dark missed, as the patches tell; it comes off
    every ratio before the map.
    """

    ratio_map: regression.RatioMap
    u95: dict[str, uncertainty.UncertaintyMap]
    offset: float

    def outputs(self, ratio: FloatArray) -> FloatArray:
        """XYZ over white twice, then the bands, (n, 37) of raw channel ratios (n, k)."""
        return self.ratio_map.apply((ratio - self.offset) / (1.0 - self.offset))


def fit(
    members: VirtualSensors,
    tile: FloatArray,
    white: FloatArray,
    noise: NoiseModel = USUAL,
    *,
    sensor_known: bool,
    widen: float = 1.0,
    sensors: int = FIT_SENSORS,
) -> Estimator:
    """The estimator for a unit known as ``members``, its white tile (81,) and the tile's counts.

    ``noise``: of one reading of this unit; the map trusts a restless channel less.  ``widen``
    multiplies every radius; ``sensors`` is how many of the members are used.
    """
    rng = np.random.default_rng(_SEED)
    chosen = members.take(slice(sensors))
    clean = _misread(chosen.ratios(surfaces(), tile), white, noise)
    sd = noise.sd(clean * white) / white / np.sqrt(READINGS)
    offset = float(members.offset.mean())
    noisy = (clean + sd * rng.standard_normal(clean.shape) - offset) / (1.0 - offset)
    clean = (clean - offset) / (1.0 - offset)
    whole = regression.fit(_rows(noisy), _repeat(goals(), len(noisy)))
    errors = _cross_validate(clean, noisy)
    maps = {
        name: uncertainty.build(surface_labs()[i], *errors, sensor_known=sensor_known, widen=widen)
        for i, name in enumerate(WHITES)
    }
    return Estimator(whole, maps, offset)


def _misread(clean: FloatArray, white: FloatArray, noise: NoiseModel) -> FloatArray:
    """Ratios (s, t, k) as they come out when dark and white were themselves read with noise."""
    rng = np.random.default_rng(_SEED + 1)
    count, _, channels = clean.shape
    dark_off, white_off = rng.standard_normal((2, count, 1, channels))
    once = np.sqrt(CALIBRATION_READINGS)
    dark_off = dark_off * noise.sd(np.zeros(channels)) / white / once
    white_off = white_off * noise.sd(white) / white / once
    misread: FloatArray = clean + dark_off * (1.0 - clean) - white_off * clean
    return misread


def _rows(ratios: FloatArray) -> FloatArray:
    return ratios.reshape(-1, ratios.shape[-1])


def _repeat(goal: FloatArray, times: int) -> FloatArray:
    return np.tile(goal, (times, 1))


def _cross_validate(clean: FloatArray, noisy: FloatArray) -> tuple[FloatArray, FloatArray]:
    """CIEDE2000 (sensors/2, surfaces) of held-out halves, without and with reading noise."""
    half = len(clean) // 2
    goal = goals()[:, :3]
    truth = surface_labs()[0]
    found = np.empty((2, len(clean) - half, clean.shape[1]))
    for fold in (0, 1):
        learn, judge = slice(fold, None, 2), slice(1 - fold, None, 2)
        mapping = regression.fit(_rows(noisy[:half, learn]), _repeat(goal[learn], half))
        for i, ratios in enumerate((clean, noisy)):
            lab = xyz_to_lab(mapping.apply(ratios[half:, judge]), np.ones(3))
            found[i][:, judge] = ciede2000(truth[judge], lab)
    return found[0], found[1]
