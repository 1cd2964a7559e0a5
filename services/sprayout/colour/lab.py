"""XYZ <-> CIE Lab, and how a Lab looks on a screen.

Formulas: ISO/CIE 11664-4:2019 with its exact fractions (24/116)^3 and 841/108; sRGB:
IEC 61966-2-1:1999.  The step to the screen's white is a Bradford adaptation (ICC.1:2022,
annex E), for a colour patch on the page only: nothing measured passes through it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from sprayout.colour.tables import FloatArray

_EPSILON = (24.0 / 116.0) ** 3
_SLOPE = 841.0 / 108.0
_BRADFORD = np.array(
    [[0.8951, 0.2664, -0.1614], [-0.7502, 1.7135, 0.0367], [0.0389, -0.0685, 1.0296]]
)
# IEC 61966-2-1: chromaticities of the primaries and of the white (D65, 2 degrees).
_PRIMARIES_XY = np.array([[0.64, 0.33], [0.30, 0.60], [0.15, 0.06]])
_SCREEN_WHITE_XY = np.array([0.3127, 0.3290])


def xyz_to_lab(xyz: ArrayLike, white_xyz: ArrayLike) -> FloatArray:
    """Lab (..., 3) of XYZ (..., 3) relative to the white's XYZ (3,) in the same scale."""
    ratio = np.asarray(xyz, dtype=float) / np.asarray(white_xyz, dtype=float)
    f = np.where(ratio > _EPSILON, np.cbrt(ratio), _SLOPE * ratio + 16.0 / 116.0)
    x, y, z = np.moveaxis(f, -1, 0)
    return np.stack([116.0 * y - 16.0, 500.0 * (x - y), 200.0 * (y - z)], axis=-1)


def lab_to_xyz(lab: ArrayLike, white_xyz: ArrayLike) -> FloatArray:
    """XYZ (..., 3) of Lab (..., 3); the exact inverse of :func:`xyz_to_lab`."""
    lightness, a, b = np.moveaxis(np.asarray(lab, dtype=float), -1, 0)
    y = (lightness + 16.0) / 116.0
    f = np.stack([y + a / 500.0, y, y - b / 200.0], axis=-1)
    ratio = np.where(f > 24.0 / 116.0, f**3, (f - 16.0 / 116.0) / _SLOPE)
    scaled: FloatArray = ratio * np.asarray(white_xyz, dtype=float)
    return scaled


def lab_to_lch(lab: ArrayLike) -> FloatArray:
    """Lightness, chroma, hue angle in degrees 0..360, shape (..., 3)."""
    lightness, a, b = np.moveaxis(np.asarray(lab, dtype=float), -1, 0)
    hue_deg = np.degrees(np.arctan2(b, a)) % 360.0
    return np.stack([lightness, np.hypot(a, b), hue_deg], axis=-1)


@dataclass(frozen=True, slots=True)
class ScreenColour:
    """A Lab as the nearest colour an sRGB screen shows; ``in_gamut`` says whether it is the one."""

    red: int
    green: int
    blue: int
    hex: str
    in_gamut: bool


def _xy_to_xyz(xy: FloatArray) -> FloatArray:
    x, y = np.moveaxis(xy, -1, 0)
    return np.stack([x / y, np.ones_like(y), (1.0 - x - y) / y], axis=-1)


def _screen_matrix() -> FloatArray:
    """XYZ (screen white, Y = 1) -> linear sRGB, worked out from the primaries (IEC 61966-2-1)."""
    columns = _xy_to_xyz(_PRIMARIES_XY).T
    gains = np.linalg.solve(columns, _xy_to_xyz(_SCREEN_WHITE_XY))
    return np.linalg.inv(columns * gains)


def adapt(xyz: ArrayLike, from_white: ArrayLike, to_white: ArrayLike) -> FloatArray:
    """XYZ seen under one white as its corresponding colour under another (Bradford)."""
    source = _BRADFORD @ np.asarray(from_white, dtype=float)
    goal = _BRADFORD @ np.asarray(to_white, dtype=float)
    matrix = np.linalg.inv(_BRADFORD) @ np.diag(goal / source) @ _BRADFORD
    moved: FloatArray = np.asarray(xyz, dtype=float) @ matrix.T
    return moved


def lab_to_srgb(lab: ArrayLike, white_xyz: ArrayLike) -> ScreenColour:
    """The screen colour of one Lab whose white has the XYZ ``white_xyz`` (Y = 100)."""
    white = np.asarray(white_xyz, dtype=float)
    xyz = lab_to_xyz(lab, white) / 100.0
    linear = _screen_matrix() @ adapt(xyz, white / 100.0, _xy_to_xyz(_SCREEN_WHITE_XY))
    # Half an 8-bit step beyond the cube still rounds to a colour the screen has.
    in_gamut = bool(np.all((linear > -0.0005) & (linear < 1.005)))
    inside = np.clip(linear, 0.0, 1.0)
    encoded = np.where(inside <= 0.0031308, 12.92 * inside, 1.055 * inside ** (1 / 2.4) - 0.055)
    red, green, blue = (int(v) for v in np.rint(encoded * 255.0))
    return ScreenColour(red, green, blue, f"#{red:02x}{green:02x}{blue:02x}", in_gamut)
