"""What is known of the patches: a certificate, a published table, or only a Lab.

A patch known as Lab leaves its spectrum open.  The training surfaces of about that colour, each
bent to have exactly that Lab, say what the spectrum may be: their mean serves as the reference
and their scatter as its doubt.  Where every such Lab lies near a patch of the common chart
(ISO 17321-1), the chart's own spectra stand in for the training surfaces.
"""

from __future__ import annotations

import numpy as np

from sprayout.colour.difference import ciede2000
from sprayout.colour.lab import lab_to_xyz, xyz_to_lab
from sprayout.colour.noise import CALIBRATION_READINGS, USUAL
from sprayout.colour.posterior import PatchReadings
from sprayout.colour.tables import GRID_NM, FloatArray, published_chart
from sprayout.colour.training import surfaces
from sprayout.colour.tristimulus import (
    Illuminant,
    grid_to_lab,
    resample,
    spectrum_to_xyz,
    weights,
    white_point,
)
from sprayout.colour.unit import Patch, Unit

_NEAREST = 40
_DOUBTS = 4
_CHART_DE00 = 3.0
_EDGE_NM = 80.0
_OFFSET = 0.25
# Two published spectra of the common chart differ mostly in ways that no smooth shape follows
# (10 % and more at single wavelengths): a spectrum's error is therefore mostly free by channel.
# What is known as Lab is tied in three sums of channels and leaves the rest almost as free.
_OF_A_LAB = 0.5
_OF_A_SPECTRUM = np.array([0.5] * 6 + [0.2, 0.2])[:, None]
_LOOSE, _TIED = np.array(2.0), np.array(1.5)
_WHITE: tuple[Illuminant, int] = ("d50", 2)


def patch_readings(unit: Unit, dark: FloatArray, white: FloatArray) -> PatchReadings | None:
    """The patches' ratios and references; ``None`` where the unit has no patches."""
    if not unit.patches:
        return None
    columns = list(unit.colour_columns())
    counts = np.array([patch.counts for patch in unit.patches])[:, columns]
    known = [_reference(patch, unit.patches) for patch in unit.patches]
    reflectance, ways, doubt, own = (np.stack(parts) for parts in zip(*known, strict=True))
    noise = (unit.noise or USUAL).variance(counts) / CALIBRATION_READINGS / white**2
    return PatchReadings((counts - dark) / white, reflectance, ways, doubt, own, noise)


def ways_to_be_wrong(reflectance: FloatArray) -> FloatArray:
    """Shapes (8, 81) of the error of a certificate or table, each for an error of size 1.

    Level, slope and ripples as shares of the reflectance; the wavelength scale or the bandpass of
    the other instrument (steep edges suffer); a veil of surface light.
    """
    x = (GRID_NM - 580.0) / 200.0
    turns = np.stack([1.5 * np.ones_like(x), x, 1.2 * (x * x - 0.33)])
    ripples = 0.5 * np.cos(np.outer([3.0, 4.0, 5.0], (GRID_NM - 380.0) / 400.0 * np.pi))
    shares = np.concatenate([turns, ripples]) * reflectance
    edge = _EDGE_NM * np.gradient(reflectance, GRID_NM)
    return np.concatenate([shares, edge[None], np.full((1, GRID_NM.size), _OFFSET)])


def _reference(patch: Patch, patches: tuple[Patch, ...]) -> tuple[FloatArray, ...]:
    """Reflectance (81,), ways to be wrong (8, 81), fixed doubt (q, 81), error by channel ()."""
    nothing = np.zeros((_DOUBTS, GRID_NM.size))
    if patch.spectrum is not None:
        known = resample(patch.spectrum, f"patch {patch.name}")
        return known, _OF_A_SPECTRUM * ways_to_be_wrong(known), nothing, _LOOSE
    assert patch.lab_d50_2 is not None
    lab = np.array(patch.lab_d50_2)
    if _is_common_chart(patches):
        known = _from_chart(lab)
        return known, _OF_A_LAB * _without_colour(ways_to_be_wrong(known)), nothing, _TIED
    known, doubt = _from_surfaces(lab)
    return known, ways_to_be_wrong(known), _without_colour(doubt), _TIED


def _without_colour(ways: FloatArray) -> FloatArray:
    """Shapes less the part that would change the known Lab."""
    kept: FloatArray = ways - ways @ weights(*_WHITE) @ _lift().T
    return kept


def _is_common_chart(patches: tuple[Patch, ...]) -> bool:
    labs = np.array([patch.lab_d50_2 for patch in patches if patch.lab_d50_2 is not None])
    chart = grid_to_lab(published_chart().values.T, "d50-2")
    nearest = ciede2000(labs[:, None], chart[None]).min(axis=1)
    return len(labs) >= 4 and bool(np.all(nearest < _CHART_DE00))


def _from_chart(lab: FloatArray) -> FloatArray:
    spectra = published_chart().values.T
    nearest = int(np.argmin(ciede2000(lab, grid_to_lab(spectra, "d50-2"))))
    bent: FloatArray = bend_to_lab(spectra[[nearest]], lab)[0]
    return bent


def surfaces_like(lab: FloatArray, white: tuple[Illuminant, int]) -> tuple[FloatArray, FloatArray]:
    """Surfaces (n, 81) that have this Lab under a white, and how likely each is (n,)."""
    spectra = surfaces()
    labs = xyz_to_lab(spectrum_to_xyz(spectra, *white), white_point(*white))
    gap = ciede2000(lab, labs)
    nearest = np.argsort(gap)[:_NEAREST]
    weight = np.exp(-0.5 * (gap[nearest] / max(float(gap[nearest[10]]), 2.0)) ** 2)
    return bend_to_lab(spectra[nearest], lab, white), weight / weight.sum()


def _from_surfaces(lab: FloatArray) -> tuple[FloatArray, FloatArray]:
    bent, weight = surfaces_like(lab, _WHITE)
    mean = weight @ bent
    away = (bent - mean) * np.sqrt(weight)[:, None]
    _, size, ways = np.linalg.svd(away, full_matrices=False)
    return mean, size[:_DOUBTS, None] * ways[:_DOUBTS]


def _lift(white: tuple[Illuminant, int] = _WHITE) -> FloatArray:
    """(81, 3): the smoothest change of a spectrum for each unit of X, Y, Z."""
    weight = weights(*white)
    smooth = np.exp(-0.5 * ((GRID_NM[:, None] - GRID_NM[None, :]) / 60.0) ** 2)
    lift: FloatArray = smooth @ weight @ np.linalg.inv(weight.T @ smooth @ weight)
    return lift


def bend_to_lab(
    spectra: FloatArray, lab: FloatArray, white: tuple[Illuminant, int] = _WHITE
) -> FloatArray:
    """Spectra (n, 81) changed as smoothly as possible so that each has the Lab (D50/2)."""
    wanted = lab_to_xyz(lab, white_point(*white))
    missing = wanted - spectrum_to_xyz(spectra, *white)
    return np.clip(spectra + missing @ _lift(white).T, 0.001, 1.2)
