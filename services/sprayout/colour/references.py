"""What is known of the patches: a certificate, a published table, or only a Lab.

A patch known as Lab leaves its spectrum open.  The training surfaces of about that colour, each
bent to have exactly that Lab, say what the spectrum may be: their mean serves as the reference
and their scatter as its doubt.  Where every such Lab lies near a patch of the common chart
(ISO 17321-1), the chart's own spectra stand in for the training surfaces.
"""

from __future__ import annotations

import numpy as np

from sprayout.colour.difference import ciede2000
from sprayout.colour.lab import lab_to_xyz
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
_WHITE: tuple[Illuminant, int] = ("d50", 2)


def patch_readings(unit: Unit, dark: FloatArray, white: FloatArray) -> PatchReadings | None:
    """The patches' ratios and references; ``None`` where the unit has no patches."""
    if not unit.patches:
        return None
    columns = list(unit.colour_columns())
    counts = np.array([patch.counts for patch in unit.patches])[:, columns]
    known = [_reference(patch, unit.patches) for patch in unit.patches]
    reflectance = np.stack([spectrum for spectrum, _ in known])
    doubt = np.stack([ways for _, ways in known])
    return PatchReadings((counts - dark) / white, reflectance, doubt)


def _reference(patch: Patch, patches: tuple[Patch, ...]) -> tuple[FloatArray, FloatArray]:
    if patch.spectrum is not None:
        return resample(patch.spectrum, f"patch {patch.name}"), np.zeros((_DOUBTS, GRID_NM.size))
    assert patch.lab_d50_2 is not None
    lab = np.array(patch.lab_d50_2)
    if _is_common_chart(patches):
        return _from_chart(lab)
    return _from_surfaces(lab)


def _is_common_chart(patches: tuple[Patch, ...]) -> bool:
    labs = np.array([patch.lab_d50_2 for patch in patches if patch.lab_d50_2 is not None])
    chart = grid_to_lab(published_chart().values.T, "d50-2")
    nearest = ciede2000(labs[:, None], chart[None]).min(axis=1)
    return len(labs) >= 4 and bool(np.all(nearest < _CHART_DE00))


def _from_chart(lab: FloatArray) -> tuple[FloatArray, FloatArray]:
    spectra = published_chart().values.T
    nearest = int(np.argmin(ciede2000(lab, grid_to_lab(spectra, "d50-2"))))
    bent = bend_to_lab(spectra[[nearest]], lab)[0]
    doubt = np.zeros((_DOUBTS, GRID_NM.size))
    wave = (GRID_NM - 380.0) / 400.0 * np.pi
    for i in range(_DOUBTS):
        doubt[i] = 0.006 * bent * np.cos((i + 2) * wave)
    return bent, doubt


def _from_surfaces(lab: FloatArray) -> tuple[FloatArray, FloatArray]:
    spectra = surfaces()
    gap = ciede2000(lab, grid_to_lab(spectra, "d50-2"))
    nearest = np.argsort(gap)[:_NEAREST]
    bent = bend_to_lab(spectra[nearest], lab)
    weight = np.exp(-0.5 * (gap[nearest] / max(float(gap[nearest[10]]), 2.0)) ** 2)
    weight /= weight.sum()
    mean = weight @ bent
    away = (bent - mean) * np.sqrt(weight)[:, None]
    _, size, ways = np.linalg.svd(away, full_matrices=False)
    return mean, size[:_DOUBTS, None] * ways[:_DOUBTS]


def bend_to_lab(spectra: FloatArray, lab: FloatArray) -> FloatArray:
    """Spectra (n, 81) changed as smoothly as possible so that each has the Lab (D50/2)."""
    weight = weights(*_WHITE)
    smooth = np.exp(-0.5 * ((GRID_NM[:, None] - GRID_NM[None, :]) / 60.0) ** 2)
    wanted = lab_to_xyz(lab, white_point(*_WHITE))
    missing = wanted - spectrum_to_xyz(spectra, *_WHITE)
    lift = smooth @ weight @ np.linalg.inv(weight.T @ smooth @ weight)
    return np.clip(spectra + missing @ lift.T, 0.001, 1.2)
