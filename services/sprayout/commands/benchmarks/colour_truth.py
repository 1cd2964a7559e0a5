"""A small physics of real-like sensor units, to judge the colour estimator by.

It shares no code with ``sprayout.colour`` and differs from its prior on purpose: lopsided,
flat-topped filters with side lobes, a blue leak and a red leak of their own shape, light that
never touched the sample, light thrown back and forth between sample and sensor, a converter that
bends, a certificate that is a little wrong, and readings with noise that grows with the signal.
Everything runs at 1 nm.  All figures here are invented for the benchmark; sizes of the unit
variation follow what low-cost filter chips state (centres +-2.5 nm, gains +-10 %).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

NM: Floats = np.arange(380.0, 781.0)
CENTRES_8 = np.array([415.0, 445, 480, 515, 555, 590, 630, 680])
WIDTHS_8 = np.array([26.0, 30, 36, 39, 39, 40, 50, 52])
RESPONSE_8 = np.array([0.55, 0.7, 0.85, 0.95, 1.0, 1.0, 0.95, 0.8])
CENTRES_RGB = np.array([615.0, 535, 462])
WIDTHS_RGB = np.array([85.0, 88, 68])
FULL_SCALE = 65535.0


@dataclass(frozen=True, slots=True)
class Condition:
    """One stated condition of the benchmark."""

    name: str
    sensor: str = "spectral-8"
    patches: int = 12
    variation: float = 1.0
    led: str = "neutral"
    published_chart: bool = False
    lab_patches: bool = False
    dark_led_off: bool = False
    readings: int = 4
    noise: float = 0.002


@dataclass(frozen=True, slots=True)
class TrueUnit:
    """Spectral responses (channels, 401) and the faults of one unit."""

    response: Floats
    throwback: float
    stray: Floats
    bend: float
    noise: float

    def mean_counts(self, reflectance: Floats) -> Floats:
        """Noise-free counts (n, channels) on surfaces of reflectance (n, 401)."""
        lit = reflectance / (1.0 - self.throwback * reflectance)
        signal = lit @ self.response.T + self.stray
        bent: Floats = signal * (1.0 - self.bend * signal / FULL_SCALE)
        return bent

    def read(self, reflectance: Floats, readings: int, rng: np.random.Generator) -> Floats:
        """Mean counts of ``readings`` noisy, whole-numbered readings, (n, channels)."""
        mean: Floats = self.read_each(reflectance, readings, rng).mean(axis=0)
        return mean

    def read_each(self, reflectance: Floats, readings: int, rng: np.random.Generator) -> Floats:
        """Counts of ``readings`` noisy, whole-numbered readings, (readings, n, channels)."""
        clean = self.mean_counts(reflectance)
        shape = (readings, *clean.shape)
        flicker = 1.0 + 0.3 * self.noise * rng.standard_normal((readings, clean.shape[0], 1))
        sd = np.sqrt((self.noise * clean) ** 2 + 0.04 * clean + 1.0)
        noisy = np.rint(clean * flicker + sd * rng.standard_normal(shape))
        each: Floats = np.clip(noisy, 0.0, FULL_SCALE)
        return each


def _bell(centre: float, left: float, right: float, power: float = 2.0) -> Floats:
    """A two-sided peak with its own half width at half height on either side."""
    side = np.where(centre > NM, left, right)
    peak: Floats = np.exp(-np.log(2.0) * np.abs((NM - centre) / side) ** power)
    return peak


def led_power(kind: str, rng: np.random.Generator, variation: float) -> Floats:
    """Relative spectral power (401,) of one white LED of a kind."""
    step = variation * rng.standard_normal(6)
    pump, share = {"neutral": (450.0, 0.9), "warm": (452.0, 0.35), "cool": (447.0, 1.7)}.get(
        kind, (418.0, 0.5)
    )
    blue = _bell(pump + 2.5 * step[0], 11.0 + 0.7 * step[1], 14.0 + 0.9 * step[1], 1.7)
    glow = _bell(545.0 + 4.0 * step[2], 38.0, 62.0 + 3.0 * step[3], 1.9)
    if kind == "warm":
        glow = 0.75 * glow + 0.8 * _bell(612.0 + 4.0 * step[2], 42.0, 52.0 + 3.0 * step[3])
    if kind == "violet":
        glow = 0.8 * glow + 0.55 * _bell(465.0, 22.0, 30.0) + 0.7 * _bell(625.0, 40.0, 50.0)
    power: Floats = share * np.exp(0.08 * step[4]) * blue + glow + 0.004
    return power


def _filters(condition: Condition, rng: np.random.Generator) -> Floats:
    eight = condition.sensor == "spectral-8"
    centres, widths = (CENTRES_8, WIDTHS_8) if eight else (CENTRES_RGB, WIDTHS_RGB)
    shift = 2.5 if eight else 4.0
    rows = []
    for centre, width in zip(centres, widths, strict=True):
        size = condition.variation * rng.standard_normal(5)
        half = width / 2.0 * np.exp(0.05 * size[1])
        lopsided = np.exp(0.08 * size[2])
        peak = _bell(centre + shift * size[0], half * lopsided, half / lopsided, 2.15)
        lobe_at = centre + rng.choice([-1.0, 1.0]) * rng.uniform(1.6, 2.6) * width
        lobe = 0.004 * abs(size[3]) * _bell(lobe_at, 12.0, 12.0)
        red_leak = 0.003 * np.exp(0.5 * size[4]) * (NM - 380.0) / 400.0
        blue_leak = 0.0015 * np.exp(0.5 * size[4])
        rows.append(peak + lobe + red_leak + blue_leak)
    return np.array(rows)


def draw_unit(condition: Condition, rng: np.random.Generator) -> TrueUnit:
    """One random unit under a condition."""
    filters = _filters(condition, rng)
    light = led_power(condition.led, rng, condition.variation)
    gains = np.exp(0.10 * condition.variation * rng.standard_normal(len(filters)))
    typical = RESPONSE_8 if condition.sensor == "spectral-8" else np.array([1.0, 1.0, 0.9])
    response = filters * light * (gains * typical)[:, None]
    top = response.sum(axis=1).max() * 1.06
    response *= rng.uniform(0.5, 0.75) * FULL_SCALE / top
    stray = response.sum(axis=1) * rng.uniform(0.005, 0.03)
    return TrueUnit(
        response,
        throwback=rng.uniform(0.0, 0.06),
        stray=stray,
        bend=0.006 * condition.variation * rng.standard_normal(),
        noise=condition.noise,
    )


def smooth_error(size: float, count: int, rng: np.random.Generator) -> Floats:
    """Relative, smooth errors (count, 401) of a certificate: a level, a tilt and a bow."""
    x = (NM - 580.0) / 200.0
    shapes = np.stack([np.ones_like(x), x, x**2 - 0.33])
    error: Floats = size * rng.standard_normal((count, 3)) @ (shapes * [[1.0], [0.7], [0.7]])
    return error


def unit_json(
    unit: TrueUnit,
    condition: Condition,
    chart: Floats,
    published: Floats,
    rng: np.random.Generator,
) -> dict[str, Any]:
    """The unit file (contract 3) a person would have made: dark, tile, patches.

    ``chart`` (patches, 401) is what hangs on the wall; ``published`` is what books say of it.
    """
    names = ["f1", "f2", "f3", "f4", "f5", "f6", "f7", "f8"]
    channels = names if condition.sensor == "spectral-8" else ["red", "green", "blue"]
    tile = np.clip(0.955 + 0.02 * (1.0 - np.exp(-(NM - 380.0) / 40.0)), 0, 1)[None, :]
    certified = tile * (1.0 + smooth_error(0.002, 1, rng))
    dark = unit.read(np.zeros((1, NM.size)), 8, rng)[0]
    if condition.dark_led_off:
        dark = np.full(dark.size, 2.0)
    own = chart * (1.0 + smooth_error(0.004, len(chart), rng))
    reference = published if condition.published_chart else own
    counts = unit.read(chart, 8, rng)
    return {
        "sensor": condition.sensor,
        "channels": channels,
        "gain": 64,
        "integration_ms": 182.0,
        "dark": dark.tolist(),
        "white": {
            "counts": unit.read(tile, 8, rng)[0].tolist(),
            "wavelength_nm": NM[::10].tolist(),
            "reflectance": certified[0, ::10].tolist(),
        },
        "patches": [
            {
                "name": f"patch {i + 1}",
                "counts": counts[i].tolist(),
                "wavelength_nm": NM[::10].tolist(),
                "reflectance": reference[i, ::10].tolist(),
            }
            for i in range(condition.patches)
        ],
    }
