"""The CIEDE2000 colour difference, whole and in its parts.

Source: ISO/CIE 11664-6:2014 with kL = kC = kH = 1; the steps and the cases of zero chroma
follow Sharma, Wu and Dalal, Color Res. Appl. 30 (2005) 21-30, whose 34 pairs are our test.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from sprayout.colour.tables import FloatArray
from sprayout.colour.tristimulus import Lab

_POW25_7 = 25.0**7
# Hues exactly opposite (pairs 10 and 14 of Sharma et al.) must count as 180 degrees, whatever
# the last bit of the arctangent says.
_HALF_TURN_DEG = 180.0 + 1e-9


@dataclass(frozen=True, slots=True)
class Difference:
    """Sample minus standard.  ``de00**2`` is the sum of the four squared or signed parts.

    ``lightness``, ``chroma``, ``hue`` are the weighted, signed terms; ``rotation`` is the signed
    cross term (already a product).  ``delta_*`` are plain CIE Lab differences.
    """

    de00: float
    lightness: float
    chroma: float
    hue: float
    rotation: float
    delta_l: float
    delta_a: float
    delta_b: float
    delta_chroma: float


def _hue_deg(b: FloatArray, a_prime: FloatArray) -> FloatArray:
    hue: FloatArray = np.degrees(np.arctan2(b, a_prime)) % 360.0
    return hue


def _mean_hue_deg(h1: FloatArray, h2: FloatArray, achromatic: FloatArray) -> FloatArray:
    total = h1 + h2
    wrapped = np.where(total < 360.0, (total + 360.0) / 2.0, (total - 360.0) / 2.0)
    mean = np.where(np.abs(h1 - h2) <= _HALF_TURN_DEG, total / 2.0, wrapped)
    return np.where(achromatic, total, mean)


def _hue_step_deg(h1: FloatArray, h2: FloatArray, achromatic: FloatArray) -> FloatArray:
    step = h2 - h1
    step = np.where(step > _HALF_TURN_DEG, step - 360.0, step)
    step = np.where(step < -_HALF_TURN_DEG, step + 360.0, step)
    return np.where(achromatic, 0.0, step)


def parts(
    standard: ArrayLike, sample: ArrayLike
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Weighted lightness, chroma and hue terms and the rotation term, each (...,)."""
    l1, a1, b1 = np.moveaxis(np.asarray(standard, dtype=float), -1, 0)
    l2, a2, b2 = np.moveaxis(np.asarray(sample, dtype=float), -1, 0)
    mean_c7 = ((np.hypot(a1, b1) + np.hypot(a2, b2)) / 2.0) ** 7
    g = 0.5 * (1.0 - np.sqrt(mean_c7 / (mean_c7 + _POW25_7)))
    ap1, ap2 = (1.0 + g) * a1, (1.0 + g) * a2
    c1, c2 = np.hypot(ap1, b1), np.hypot(ap2, b2)
    h1, h2 = _hue_deg(b1, ap1), _hue_deg(b2, ap2)
    achromatic = c1 * c2 == 0.0
    step = np.radians(_hue_step_deg(h1, h2, achromatic))
    delta_h = 2.0 * np.sqrt(c1 * c2) * np.sin(step / 2.0)
    mean_c = (c1 + c2) / 2.0
    mean_h = _mean_hue_deg(h1, h2, achromatic)
    s_l, s_c, s_h, r_t = _weightings((l1 + l2) / 2.0, mean_c, mean_h)
    dl, dc, dh = (l2 - l1) / s_l, (c2 - c1) / s_c, delta_h / s_h
    return dl, dc, dh, r_t * dc * dh


def _weightings(
    mean_l: FloatArray, mean_c: FloatArray, mean_h_deg: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    def cosine(multiple: float, offset_deg: float) -> FloatArray:
        value: FloatArray = np.cos(np.radians(multiple * mean_h_deg + offset_deg))
        return value

    t = 1 - 0.17 * cosine(1, -30) + 0.24 * cosine(2, 0) + 0.32 * cosine(3, 6) - 0.2 * cosine(4, -63)
    away = (mean_l - 50.0) ** 2
    s_l = 1.0 + 0.015 * away / np.sqrt(20.0 + away)
    theta = np.radians(30.0 * np.exp(-(((mean_h_deg - 275.0) / 25.0) ** 2)))
    r_c = 2.0 * np.sqrt(mean_c**7 / (mean_c**7 + _POW25_7))
    return s_l, 1.0 + 0.045 * mean_c, 1.0 + 0.015 * mean_c * t, -np.sin(2.0 * theta) * r_c


def ciede2000(standard: ArrayLike, sample: ArrayLike) -> FloatArray:
    """CIEDE2000 (...,) between Lab arrays (..., 3) of the same illuminant and observer."""
    dl, dc, dh, rotation = parts(standard, sample)
    # The quadratic form is positive; rounding may leave -1e-17 for equal colours.
    total: FloatArray = np.sqrt(np.maximum(dl**2 + dc**2 + dh**2 + rotation, 0.0))
    return total


def difference(standard: Lab, sample: Lab) -> Difference:
    """How far ``sample`` stands from ``standard``, with the parts."""
    dl, dc, dh, rotation = (float(v) for v in parts(standard, sample))
    chroma_step = float(np.hypot(*sample[1:]) - np.hypot(*standard[1:]))
    delta_l, delta_a, delta_b = (s - t for s, t in zip(sample, standard, strict=True))
    de00 = float(ciede2000(standard, sample))
    return Difference(de00, dl, dc, dh, rotation, delta_l, delta_a, delta_b, chroma_step)
