"""From a surface to counts: LED, housing, surface, filters, photodiodes.

A ``VirtualUnit`` is one board from the production line.  It differs from the typical one as
real ones do: filter centres (2.5 nm), widths (5 %), gains (10 %), skewed and flat-topped
filter shapes, out-of-band leak (0.3 %), stray light that never meets the surface, light that
bounces between surface and housing, and a converter that is not quite straight.  The numbers
in brackets are standard deviations at ``variation=1``, cut at two of them.

Typical centres and widths: chip data sheet as listed in the project's chip facts.  The rest is
plausible invention; nothing outside the simulator may rely on it.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sprayout.errors import BadInput
from sprayout.sim.lamp import Lamp, draw_lamp, workshop_light
from sprayout.sim.spectra import WAVELENGTH_NM, Spectrum, checked_reflectance, checked_seed, rise

Counts = NDArray[np.float64]


STEP_NM = float(WAVELENGTH_NM[1] - WAVELENGTH_NM[0])


@dataclass(frozen=True, slots=True)
class Band:
    """A typical channel: centre, full width at half maximum (nm), peak, out-of-band leak.

    ``peak`` is counts per ms at gain 1x, per nm of light as bright as the LED's phosphor peak.
    """

    name: str
    centre_nm: float
    fwhm_nm: float
    peak: float
    leak: float = 0.003


@dataclass(frozen=True, slots=True)
class Sensor:
    """A sort of chip: its filtered channels, the clear one, its gains and its ceiling."""

    bands: tuple[Band, ...]
    clear_peak: float
    channels: tuple[str, ...]
    full_scale_per_ms: float
    gains: tuple[float, ...]


# Peaks: set so that a warm-white LED gives the pattern of the data sheet's typical counts
# (55 110 210 390 590 840 1350 1070, clear 1750, near infrared 112), and so that a white tile
# under the neutral LED fills about 55 % of the range at 64x and 50 ms (spectral) or about
# 45 % at 16x and 50 ms (rgb).
SENSORS: dict[str, Sensor] = {
    "spectral-8": Sensor(
        bands=(
            Band("f1", 415.0, 26.0, 0.0683),
            Band("f2", 445.0, 30.0, 0.0296),
            Band("f3", 480.0, 36.0, 0.0530),
            Band("f4", 515.0, 39.0, 0.0405),
            Band("f5", 555.0, 39.0, 0.0304),
            Band("f6", 590.0, 40.0, 0.0340),
            Band("f7", 630.0, 50.0, 0.0516),
            Band("f8", 680.0, 52.0, 0.0767),
            Band("nir", 910.0, 110.0, 0.0598, leak=0.02),
        ),
        clear_peak=0.0212,
        channels=("f1", "f2", "f3", "f4", "f5", "f6", "f7", "f8", "clear", "nir"),
        full_scale_per_ms=1.0 / 0.00278,
        gains=(0.5, 1.0, 2.0, 4.0, 8.0, 16.0, 32.0, 64.0, 128.0, 256.0, 512.0),
    ),
    "rgb": Sensor(
        bands=(
            Band("red", 640.0, 110.0, 0.078, leak=0.05),
            Band("green", 535.0, 92.0, 0.062, leak=0.07),
            Band("blue", 462.0, 84.0, 0.055, leak=0.08),
        ),
        clear_peak=0.082,
        channels=("red", "green", "blue", "clear"),
        full_scale_per_ms=1024.0 / 2.4,
        gains=(1.0, 4.0, 16.0, 60.0),
    ),
}

# Electrons behind one count at 64x: sets the shot noise (0.08 % at 10,000 counts).
ELECTRONS_PER_COUNT_64X = 150.0
# The workshop's light on a lifted sensor, beside the LED's own on a white tile (about 0.6).
WORKSHOP_LEVEL = 0.5
READ_NOISE_SHARE = 5e-5  # of full scale; chip data sheet, 16x and 10 ms


class VirtualUnit:
    """One board from the line; the same arguments always give the same board.

    ``variation`` scales every difference from the typical board (0: typical, 1: usual, 1.5:
    wide).  ``light`` names an LED kind of ``lamp.LED_KINDS``.
    """

    def __init__(
        self,
        seed: int,
        variation: float = 1.0,
        sensor: str = "spectral-8",
        light: str = "neutral-phosphor",
    ) -> None:
        if not 0.0 <= variation <= 3.0:
            raise BadInput(f"variation: got {variation!r}, wanted 0 to 3; 1 is a usual board")
        if sensor not in SENSORS:
            raise BadInput(f"sensor: got {sensor!r}, wanted one of {', '.join(SENSORS)}")
        rng = np.random.default_rng((checked_seed(seed), 0x44))
        self.sensor = SENSORS[sensor]
        self.channels = self.sensor.channels
        self._lamp: Lamp = draw_lamp(rng, light, variation)
        self._filters = _draw_filters(rng, self.sensor, variation)
        self._workshop_rate = WORKSHOP_LEVEL * (self._filters @ workshop_light()) * STEP_NM
        housing = _draws(rng, 2, variation)
        self._stray_share = 0.012 * float(np.exp(0.35 * housing[0]))
        self._bounce = 0.040 * float(np.exp(0.25 * housing[1]))
        # Compression of the front end at the white tile's level, as a share of it.
        self._compression = 0.003 + 0.0015 * _draws(rng, len(self.channels), variation)
        self._white_rate = self._rates(np.full_like(WAVELENGTH_NM, 0.9), 12.0, 0.5, 22.0, 0.0)

    def counts_per_ms(
        self,
        reflectance: Spectrum,
        led_ma: float = 12.0,
        *,
        ambient: float = 0.0,
        warmth: float = 0.5,
        air_c: float = 22.0,
        age_h: float = 0.0,
    ) -> Counts:
        """Counts per millisecond at gain 1x on each channel, shape (channels,), no noise.

        ``ambient`` is the share of full workshop light that reaches the sensor (1: lifted off);
        ``warmth`` 0..1 how far the LED has warmed up; ``air_c`` the air around the board;
        ``age_h`` the hours the LED has burned.
        """
        curve = checked_reflectance(reflectance, "surface under the sensor")
        for what, value, low, high in (
            ("led_ma", led_ma, 0.0, 258.0),
            ("ambient", ambient, 0.0, 10.0),
            ("warmth", warmth, 0.0, 1.0),
            ("air_c", air_c, -40.0, 85.0),
            ("age_h", age_h, 0.0, 1e6),
        ):
            if not low <= value <= high:
                raise BadInput(f"{what}: got {value!r}, wanted {low:g} to {high:g}")
        lit = self._rates(curve, led_ma, warmth, air_c, age_h) if led_ma > 0 else 0.0
        return self._compressed(lit + ambient * self._workshop_rate)

    def read(
        self,
        reflectance: Spectrum,
        rng: np.random.Generator,
        *,
        gain: float = 64.0,
        integration_ms: float = 50.04,
        ambient: float = 0.0,
        warmth: float = 0.5,
    ) -> NDArray[np.int64]:
        """One reading as whole counts, with noise and clipping, without the chip simulation.

        For benchmarks that need many readings; the virtual board goes through the chips.
        """
        if gain not in self.sensor.gains:
            raise BadInput(f"gain: got {gain!r}, wanted one of {self.sensor.gains}")
        if not 1.0 <= integration_ms <= 1000.0:
            raise BadInput(f"integration_ms: got {integration_ms!r}, wanted 1 to 1000")
        full_scale = min(65535.0, round(self.sensor.full_scale_per_ms * integration_ms))
        rate = self.counts_per_ms(reflectance, ambient=ambient, warmth=warmth)
        counts = rate * gain * integration_ms
        shot = counts * gain / 64.0 / ELECTRONS_PER_COUNT_64X
        noise = np.sqrt(shot + (READ_NOISE_SHARE * full_scale) ** 2)
        noisy = counts + noise * rng.standard_normal(counts.size)
        return np.clip(np.rint(noisy), 0.0, full_scale).astype(np.int64)

    def _rates(
        self, curve: Spectrum, led_ma: float, warmth: float, air_c: float, age_h: float
    ) -> Counts:
        """Light of the LED by way of surface, housing and filters, before the front end."""
        lamp = self._lamp.spectrum(led_ma, warmth, air_c, age_h)
        # Light bounces between surface and housing: a geometric series in R times the bounce.
        returned = curve / (1.0 - self._bounce * curve)
        rates: Counts = (self._filters @ (lamp * (returned + self._stray_share))) * STEP_NM
        return rates

    def _compressed(self, rate: Counts) -> Counts:
        """The front end gives a little less than in proportion at high light; always rising."""
        relative = rate / self._white_rate
        out: Counts = rate / (1.0 + self._compression * relative)
        return out


def _draws(rng: np.random.Generator, size: int, variation: float) -> Counts:
    """Standard normal draws, cut at two, times ``variation``."""
    draws: Counts = variation * np.clip(rng.standard_normal(size), -2.0, 2.0)
    return draws


def _draw_filters(
    rng: np.random.Generator, sensor: Sensor, variation: float
) -> NDArray[np.float64]:
    """The responses of one chip, shape (channels, wavelengths), in counts per ms and nm."""
    by_name = {band.name: _draw_filter(rng, band, variation) for band in sensor.bands}
    by_name["clear"] = _draw_clear(rng, sensor.clear_peak, variation)
    return np.array([by_name[name] for name in sensor.channels])


def _draw_filter(rng: np.random.Generator, band: Band, variation: float) -> Spectrum:
    """One filter: moved, widened, skewed, more or less flat-topped, leaking out of band."""
    centre, width, gain, skew, top, leak = _draws(rng, 6, variation)
    distance = WAVELENGTH_NM - band.centre_nm - 2.5 * centre
    side = np.clip(0.07 * skew, -0.3, 0.3) * np.sign(distance)
    half = 0.5 * band.fwhm_nm * (1.0 + 0.05 * width) * (1.0 + side)
    shape = np.exp(-np.log(2.0) * np.abs(distance / half) ** (2.1 + 0.2 * top))
    ripple = 1.0 + 0.5 * variation * np.sin(WAVELENGTH_NM / 60.0 + 6.283 * rng.random())
    floor = band.leak * np.exp(0.4 * leak) * np.maximum(ripple, 0.0)
    response: Spectrum = band.peak * (1.0 + 0.10 * gain) * (shape + floor)
    return np.maximum(response, 0.0)


def _draw_clear(rng: np.random.Generator, peak: float, variation: float) -> Spectrum:
    """The clear channel: bare silicon behind an infrared blocker."""
    gain, short, long = _draws(rng, 3, variation)
    window = rise(400.0 + 3.0 * short, 12.0) * (1.0 - rise(690.0 + 5.0 * long, 25.0))
    response: Spectrum = peak * (1.0 + 0.10 * gain) * (window + 0.01)
    return response
