"""A unit's profile: raw calibration in, colours out.

``build_profile`` checks the calibration, narrows the virtual sensors to this unit and fits the
map; a profile is plain arrays after that and the same calibration always gives the same profile,
so the journal keeps raw counts and ``FORMULA_VERSION`` and any value can be worked out again.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from sprayout.colour import estimator
from sprayout.colour.batch import BatchMap, LabBatch
from sprayout.colour.estimator import BANDS_NM, Estimator
from sprayout.colour.lab import xyz_to_lab
from sprayout.colour.noise import READINGS, USUAL, NoiseModel, noise_excess
from sprayout.colour.patch_check import check_story, tell_story, tile_note
from sprayout.colour.posterior import update_by_patches, weigh_by_tile
from sprayout.colour.references import patch_readings
from sprayout.colour.surface import RESTLESS, RESTLESS_EXCESS, row_warnings
from sprayout.colour.tables import FloatArray
from sprayout.colour.tile_posterior import MEMBERS, read_tile
from sprayout.colour.tristimulus import Lab, resample, white_of
from sprayout.colour.uncertainty import widen_clipped
from sprayout.colour.unit import Unit
from sprayout.colour.unit_check import CLIP_SHARE, check_counts, check_unit, full_scale_of
from sprayout.errors import BadInput

FORMULA_VERSION = "2026.11-4"
"""Changes whenever the same counts may give another colour."""

WIDTH_OF_A_LAB = 1.2
"""Patches known as Lab only leave their spectra open, and what stands in for them is surer of
itself than it is right: without this 92.4 % were held on 110 virtual units of the benchmark's
physics, seeds from 520000."""

__all__ = [
    "BANDS_NM",
    "FORMULA_VERSION",
    "ColourEstimate",
    "LabBatch",
    "UnitProfile",
    "build_profile",
]


@dataclass(frozen=True, slots=True)
class ColourEstimate:
    """One colour: reflectance at ``BANDS_NM``, Lab under both whites, radius of uncertainty.

    ``noise_de00``: the part of it that reading noise alone gives (root mean square).
    """

    reflectance: tuple[float, ...]
    lab_d65_10: Lab
    lab_d50_2: Lab
    u95_de00: float
    clipped: bool
    warnings: tuple[str, ...] = ()
    noise_de00: float = 0.1


@dataclass(frozen=True, slots=True)
class UnitProfile:
    """One calibrated unit; made by :func:`build_profile`."""

    unit: Unit
    estimator: Estimator
    full_scale: float
    notes: tuple[str, ...] = ()
    formula_version: str = FORMULA_VERSION

    @property
    def calibration(self) -> str:
        """What the unit was calibrated with, in words."""
        count = len(self.unit.patches)
        return f"white tile and {count} patches" if count else "white tile only"

    def ratios(self, counts: ArrayLike, ambient: ArrayLike | None = None) -> FloatArray:
        """Signals (n, k) over that of the white tile; ``ambient`` is the LED-off reading."""
        raw = np.atleast_2d(np.asarray(counts, dtype=float))
        check_counts(raw, self.unit.channels, "sample")
        if ambient is not None:
            off = np.atleast_2d(np.asarray(ambient, dtype=float))
            check_counts(off, self.unit.channels, "ambient reading")
            raw = raw - off
        columns = list(self.unit.colour_columns())
        dark = np.array(self.unit.dark)[columns]
        white = np.array(self.unit.white.counts)[columns] - dark
        ratio: FloatArray = (raw[:, columns] - dark) / white
        return ratio

    def clipped(self, counts: ArrayLike) -> NDArray[np.bool_]:
        """Which rows (n,) hold a colour channel at the top of its range."""
        raw = np.atleast_2d(np.asarray(counts, dtype=float))[:, list(self.unit.colour_columns())]
        top: NDArray[np.bool_] = np.any(raw >= CLIP_SHARE * self.full_scale, axis=1)
        return top

    def noise_sd(self, counts: FloatArray) -> FloatArray:
        """Noise (n, k) of one reading, in counts, that the map was trained for."""
        columns = list(self.unit.colour_columns())
        return (self.unit.noise or USUAL).sd(counts[:, columns])

    def lab(
        self, counts: ArrayLike, white: str = "d65-10", noise_share: FloatArray | float = 1.0
    ) -> LabBatch:
        """Lab of many samples (n, channels).

        ``noise_share``: variance of a row's noise over that of four usual readings.
        """
        white_of(white)
        raw = np.atleast_2d(np.asarray(counts, dtype=float))
        if raw.shape[1] != len(self.unit.channels):
            check_counts(raw, self.unit.channels, "sample")
        columns = self.unit.colour_columns()
        dark = np.array(self.unit.dark)[list(columns)]
        white_counts = np.array(self.unit.white.counts)[list(columns)]
        first = 0 if white == "d65-10" else 3
        fast = BatchMap(
            self.unit.channels,
            columns,
            self.estimator.offset * white_counts + (1.0 - self.estimator.offset) * dark,
            white_counts,
            self.estimator.ratio_map.coefficients[:, first : first + 3],
            self.full_scale,
        )
        return fast.lab(raw, self.estimator.u95[white], noise_share)

    def estimate(
        self, counts: ArrayLike, *, ambient: ArrayLike | None = None, repeats: int = 1
    ) -> tuple[ColourEstimate, ...]:
        """One colour for each row of counts (n, channels), a mean of ``repeats`` readings."""
        if repeats < 1:
            raise BadInput(f"repeats: got {repeats}, wanted 1 or more")
        outputs = self.estimator.outputs(self.ratios(counts, ambient))
        tristimulus = np.maximum(outputs[:, :6], 0.0)
        one = np.ones(3)
        wide, narrow = xyz_to_lab(tristimulus[:, :3], one), xyz_to_lab(tristimulus[:, 3:], one)
        share = READINGS / repeats
        u95 = self.estimator.u95["d65-10"].u95(wide, share)
        noise = self.estimator.u95["d65-10"].noise_de00(wide, share)
        bands = np.maximum(outputs[:, 6:], 0.0)
        clipped = self.clipped(counts)
        u95 = widen_clipped(u95, clipped)
        doubts = row_warnings(self.unit, counts, ambient, bands)
        return tuple(
            ColourEstimate(
                tuple(bands[i].tolist()),
                _lab(wide[i]),
                _lab(narrow[i]),
                float(u95[i]),
                bool(clipped[i]),
                doubts[i],
                float(noise[i]),
            )
            for i in range(len(wide))
        )

    def estimate_sample(
        self, readings: ArrayLike, *, ambient: ArrayLike | None = None
    ) -> ColourEstimate:
        """One colour from the repeated readings (m, channels) of one placement."""
        raw = np.atleast_2d(np.asarray(readings, dtype=float))
        check_counts(raw, self.unit.channels, "sample")
        off = (
            None
            if ambient is None
            else np.atleast_2d(np.asarray(ambient, dtype=float)).mean(axis=0)
        )
        (mean,) = self.estimate(raw.mean(axis=0), ambient=off, repeats=len(raw))
        excess = self._restlessness(raw)
        share = READINGS / len(raw) * excess
        place, u95 = np.array(mean.lab_d65_10), self.estimator.u95["d65-10"]
        restless = (RESTLESS,) if excess > RESTLESS_EXCESS and len(raw) > 2 else ()
        clipped = np.array([self.clipped(raw).any()])
        return dataclasses.replace(
            mean,
            clipped=bool(clipped[0]),
            u95_de00=float(widen_clipped(u95.u95(place, share), clipped)[0]),
            noise_de00=float(u95.noise_de00(place, share)),
            warnings=mean.warnings + restless,
        )

    def _restlessness(self, raw: FloatArray) -> float:
        """Variance of repeats (m, channels) over the trained one, drawn to 1 when they are few."""
        mean = raw.mean(axis=0, keepdims=True)
        away = (raw - mean)[:, list(self.unit.colour_columns())] / self.noise_sd(mean)
        return noise_excess(float((away**2).sum()), (len(raw) - 1) * away.shape[1])


def _lab(values: Sequence[float] | FloatArray) -> Lab:
    return float(values[0]), float(values[1]), float(values[2])


def build_profile(unit: Unit) -> UnitProfile:
    """The profile of a calibrated unit; ``BadInput`` or ``CalibrationRefused`` with the reason."""
    check_unit(unit)
    assert unit.white.spectrum is not None
    tile = resample(unit.white.spectrum, "white tile")
    columns = list(unit.colour_columns())
    dark = np.array(unit.dark)[columns]
    white = np.array(unit.white.counts)[columns] - dark
    noise = unit.noise or USUAL
    if not unit.patches and unit.sensor == "spectral-8":
        return UnitProfile(unit, _by_tile_alone(unit, tile, white, noise), full_scale_of(unit))
    # A patch known as Lab only leaves the very freedom in which a large leak would show.
    spectra = any(patch.spectrum is not None for patch in unit.patches)
    cloud = weigh_by_tile(unit.sensor, tile, white, leak_can_show=spectra)
    readings = patch_readings(unit, dark, white)
    notes: tuple[str, ...] = ()
    if readings is None:
        # Nothing but the tile, and three channels too few to tell how far the unit strays.
        members = dataclasses.replace(cloud, offset=np.zeros(len(cloud.offset)))
    else:
        story = tell_story(cloud, tile, readings)
        check_story(story, tuple(patch.name for patch in unit.patches))
        notes = tuple(note for note in [tile_note(story)] if note)
        members = update_by_patches(cloud, tile, readings)
    known = readings is not None
    widen = WIDTH_OF_A_LAB if known and not spectra else 1.0
    fitted = estimator.fit(members, tile, white, noise, sensor_known=known, widen=widen)
    return UnitProfile(unit, fitted, full_scale_of(unit), notes)


def _by_tile_alone(unit: Unit, tile: FloatArray, white: FloatArray, noise: NoiseModel) -> Estimator:
    told = read_tile(unit.sensor, tile, white)
    return estimator.fit(
        told.members, tile, white, noise, sensor_known=False, widen=told.widen, sensors=MEMBERS
    )
