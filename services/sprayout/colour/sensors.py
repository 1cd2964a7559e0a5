"""Virtual sensors: what a unit of this kind may be before anything was measured on it.

A virtual sensor is the product of LED and filter per channel plus two faults.  The prior follows
what low-cost filter chips state of themselves (centres and widths of the bands, gains) and spans
the white LEDs on the market: blue or violet pump, one to three phosphors, warm to cool.  Spreads
are wide on purpose: a prior that is too sure cannot be mended by readings.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from sprayout.colour.tables import GRID_NM, FloatArray
from sprayout.colour.unit import Sensor

PRIOR_SIZE = 4000
OFFSET_SD = 0.002
THREE_COLOUR_SHARE = 0.06
NARROW_LEAK, WIDE_LEAK = 0.5, 1.2
_SEED = 415


@dataclass(frozen=True, slots=True)
class Bands:
    """Nominal bands of a chip, nm, and how far single units stray from them."""

    centre_nm: tuple[float, ...]
    width_nm: tuple[float, ...]
    centre_sd_nm: float
    width_sd: float
    leak: float
    responses: tuple[tuple[float, ...], ...]
    """Relative heights the channels may have been given, equal LED power: several readings of
    the data sheet, because it states counts under one LED only."""


# Centres and widths: data sheet of the 8-band chip (facts: peak +-10 nm at most, FWHM typical).
EIGHT = Bands(
    (415.0, 445.0, 480.0, 515.0, 555.0, 590.0, 630.0, 680.0),
    (26.0, 30.0, 36.0, 39.0, 39.0, 40.0, 50.0, 52.0),
    centre_sd_nm=2.5,
    width_sd=0.05,
    leak=0.003,
    responses=((1.0,) * 8, (0.45, 0.6, 0.8, 0.9, 1.0, 1.0, 1.0, 0.85)),
)
# The RGB chip's bands read off the responsivity its data sheet gives at 465, 525 and 615 nm;
# the shapes between are not stated, hence the wide spreads.
THREE = Bands(
    (615.0, 532.0, 464.0),
    (82.0, 86.0, 70.0),
    centre_sd_nm=5.0,
    width_sd=0.10,
    leak=0.02,
    responses=((1.0, 1.0, 1.0), (1.0, 0.85, 0.75)),
)
BANDS: dict[str, Bands] = {"spectral-8": EIGHT, "rgb": THREE}


@dataclass(frozen=True, slots=True)
class VirtualSensors:
    """``n`` sensors of ``k`` channels.

    ``response`` (n, k, 81): LED x filter in any scale.  ``throwback`` (n,): share of the light
    that goes from the surface back to it again.  ``bend`` (n,): curvature of the converter over
    the range from dark to white.  ``offset`` (n,): share of the tile's signal that the dark
    reading missed (LED off, light trap not black) or had too much.  ``spread`` (n,): how far this
    unit strays, 1 = as stated.
    """

    response: FloatArray
    throwback: FloatArray
    bend: FloatArray
    offset: FloatArray
    spread: FloatArray

    def take(self, rows: NDArray[np.intp] | slice) -> VirtualSensors:
        """The sensors at ``rows`` (indices or a slice)."""
        return VirtualSensors(
            self.response[rows],
            self.throwback[rows],
            self.bend[rows],
            self.offset[rows],
            self.spread[rows],
        )

    def ratios(self, reflectance: FloatArray, tile: FloatArray) -> FloatArray:
        """Signals (n, surfaces, k) over that of the white tile (81,), for surfaces (m, 81)."""
        offset = self.offset[:, None, None]
        signal = self._signal(reflectance) / self._signal(tile[None]) * (1.0 - offset) + offset
        bent: FloatArray = signal * (1.0 - self.bend[:, None, None] * (signal - 1.0))
        return bent

    def _signal(self, reflectance: FloatArray) -> FloatArray:
        lit = reflectance / (1.0 - self.throwback[:, None, None] * reflectance)
        product: FloatArray = np.matmul(lit, self.response.transpose(0, 2, 1))
        return product


def peak(centre: FloatArray, width: FloatArray, lean: FloatArray, power: FloatArray) -> FloatArray:
    """Peaks (..., 81), ``width`` at half height, leaning to one side by exp(+-lean)."""
    away = GRID_NM - centre[..., None]
    half = 0.5 * width[..., None] * np.exp(np.where(away < 0.0, -1.0, 1.0) * lean[..., None])
    found: FloatArray = np.exp(-np.log(2.0) * np.abs(away / half) ** power[..., None])
    return found


def filters(
    bands: Bands, spread: FloatArray, leak_spread: float, rng: np.random.Generator
) -> FloatArray:
    """Filters (n, k, 81) of units that stray by ``spread`` (n,), at random."""
    shape = (spread.size, len(bands.centre_nm))
    strayed = spread[:, None] * rng.standard_normal((3, *shape))
    centre = np.array(bands.centre_nm) + bands.centre_sd_nm * strayed[0]
    width = np.array(bands.width_nm) * np.exp(bands.width_sd * strayed[1])
    power = np.broadcast_to(2.0 + 0.3 * rng.random((spread.size, 1)), shape)
    leak = bands.leak * np.exp(leak_spread * rng.standard_normal((*shape, 1)))
    tilt, bow = rng.standard_normal((2, *shape, 1))
    x = (GRID_NM - 580.0) / 200.0
    floor = np.abs(leak * (1.0 + 0.4 * tilt * x + 0.25 * bow * (x * x - 0.33)))
    found: FloatArray = peak(centre, width, 0.05 * strayed[2], power) + floor
    return found


def white_leds(count: int, rng: np.random.Generator) -> FloatArray:
    """Spectral power (n, 81) of white LEDs: pump, yellow phosphor, perhaps red and cyan ones."""
    normal = rng.standard_normal((12, count))
    violet = rng.random(count) < 0.1
    pump_nm = np.where(violet, rng.uniform(405.0, 425.0, count), 451.0 + 4.0 * normal[0])
    pump = peak(
        pump_nm, np.clip(20 + 4 * normal[1], 12, 32), 0.1 + 0.06 * normal[2], np.full(count, 1.9)
    )
    yellow = peak(
        545 + 8 * normal[3],
        np.clip(100 + 9 * normal[4], 70, 140),
        0.2 + 0.08 * normal[5],
        np.full(count, 1.95),
    )
    red = peak(
        615 + 10 * normal[6],
        np.clip(90 + 15 * normal[7], 60, 140),
        0.05 * normal[8],
        np.full(count, 2.0),
    )
    cyan = peak(
        480 + 12 * normal[9],
        np.clip(50 + 8 * normal[10], 30, 80),
        np.zeros(count),
        np.full(count, 2.0),
    )
    heights = np.stack(
        [
            np.exp(rng.uniform(np.log(0.2), np.log(2.2), count)),
            np.clip(rng.uniform(-0.3, 1.2, count), 0.0, None),
            np.clip(rng.uniform(-0.7, 0.6, count), 0.0, None),
            0.004 * np.exp(0.5 * normal[11]),
        ]
    )[:, :, None]
    phosphor = heights[0] * pump + yellow + heights[1] * red + heights[2] * cyan
    three = rng.random(count)[:, None] < THREE_COLOUR_SHARE
    power: FloatArray = np.where(three, _three_colour_leds(count, rng), phosphor) + heights[3]
    return power


def _three_colour_leds(count: int, rng: np.random.Generator) -> FloatArray:
    """White made of a blue, a green and a red LED."""
    total = np.zeros((count, GRID_NM.size))
    for centre, width in ((460.0, 25.0), (525.0, 35.0), (630.0, 20.0)):
        place, size, height = rng.standard_normal((3, count))
        one = peak(
            centre + 6.0 * place,
            width * np.exp(0.12 * size),
            np.zeros(count),
            np.full(count, 2.0),
        )
        total += np.exp(0.4 * height)[:, None] * one
    return total


@cache
def prior(sensor: Sensor, leak_spread: float = NARROW_LEAK) -> VirtualSensors:
    """``PRIOR_SIZE`` virtual sensors of a kind; the same every time.

    ``leak_spread``: spread of the out-of-band leak in logarithms.  Patches can tell a large leak
    from a small one, the tile alone cannot and would only lose by the doubt.
    """
    rng = np.random.default_rng(_SEED)
    spread = np.clip(np.exp(0.25 * rng.standard_normal(PRIOR_SIZE)), 0.5, 2.5)
    strayed = filters(BANDS[sensor], spread, leak_spread, rng)
    response = strayed * white_leds(PRIOR_SIZE, rng)[:, None, :]
    throwback = rng.uniform(0.0, 0.08, PRIOR_SIZE)
    bend = 0.005 * spread * rng.standard_normal(PRIOR_SIZE)
    offset = OFFSET_SD * rng.standard_normal(PRIOR_SIZE)
    return VirtualSensors(response, throwback, bend, offset, spread)
