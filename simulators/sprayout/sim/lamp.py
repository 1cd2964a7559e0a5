"""The white LED of the board, and the light of the workshop that leaks in beside it.

A phosphor-white LED is a narrow blue die plus the broad glow of a phosphor.  The die moves
about 0.04 nm per kelvin and loses output as it warms; the phosphor loses a little more, and
both fade with hours of use.  Figures are typical of the kind, from memory, and only have to be
plausible: nothing outside the simulator may rely on them.
"""

from dataclasses import dataclass

import numpy as np

from sprayout.errors import BadInput
from sprayout.sim.spectra import WAVELENGTH_NM, Spectrum, bump

RISE_FULL_K = 16.0  # junction above its surroundings after long use at 12 mA


@dataclass(frozen=True, slots=True)
class Glow:
    """One emission band: centre, standard deviation to the short and the long side, weight."""

    centre_nm: float
    short_nm: float
    long_nm: float
    weight: float

    def spectrum(self, shift_nm: float = 0.0) -> Spectrum:
        """The band moved by ``shift_nm``."""
        distance = WAVELENGTH_NM - self.centre_nm - shift_nm
        side = np.where(distance < 0.0, self.short_nm, self.long_nm)
        band: Spectrum = self.weight * np.exp(-0.5 * (distance / side) ** 2)
        return band


@dataclass(frozen=True, slots=True)
class LedKind:
    """A sort of LED: its die bands (they move with warmth) and its phosphor bands."""

    dies: tuple[Glow, ...]
    phosphors: tuple[Glow, ...]


LED_KINDS: dict[str, LedKind] = {
    "warm-phosphor": LedKind(
        (Glow(452.0, 9.5, 11.5, 0.30), Glow(424.0, 16.0, 12.0, 0.035)),
        (Glow(598.0, 46.0, 62.0, 1.0), Glow(530.0, 28, 40, 0.22)),
    ),
    "neutral-phosphor": LedKind(
        (Glow(450.0, 9.0, 11.0, 0.72), Glow(422.0, 16.0, 12.0, 0.085)),
        (Glow(565.0, 44.0, 66.0, 1.0), Glow(512.0, 22, 30, 0.10)),
    ),
    "cool-phosphor": LedKind(
        (Glow(448.0, 8.5, 10.5, 1.35), Glow(420.0, 16.0, 12.0, 0.16)),
        (Glow(552.0, 40.0, 64.0, 1.0),),
    ),
    "violet-pump": LedKind(
        (Glow(412.0, 7.0, 8.5, 0.80),),
        (Glow(458.0, 22, 28, 0.55), Glow(530.0, 34, 40, 0.72), Glow(618.0, 42, 50, 0.95)),
    ),
    "three-die": LedKind(
        (Glow(464.0, 9, 12, 0.85), Glow(524.0, 13, 19, 0.80), Glow(629.0, 9, 7, 1.2)),
        (Glow(575.0, 60, 70, 0.06),),
    ),
}


@dataclass(frozen=True, slots=True)
class Lamp:
    """One LED from the reel: its kind and how it differs from the typical one."""

    kind: LedKind
    die_shift_nm: float
    phosphor_shift_nm: float
    phosphor_share: float
    level: float

    def spectrum(self, led_ma: float, warmth: float, ambient_c: float, age_h: float) -> Spectrum:
        """Radiant output over the grid; 1 is about the phosphor's peak of a new one at 12 mA.

        ``warmth`` 0..1 is how far the LED has warmed up at 12 mA; higher currents warm it more.
        """
        rise_k = RISE_FULL_K * warmth * led_ma / 12.0 + (ambient_c - 22.0)
        die = sum(g.spectrum(self.die_shift_nm + 0.04 * rise_k) for g in self.kind.dies)
        glow = sum(g.spectrum(self.phosphor_shift_nm) for g in self.kind.phosphors)
        die_part = die * (1.0 - 0.0009 * rise_k) * np.exp(-age_h / 45_000.0)
        glow_part = glow * self.phosphor_share * (1.0 - 0.0016 * rise_k) * np.exp(-age_h / 28_000)
        droop = (led_ma / 12.0) ** 0.965
        out: Spectrum = self.level * droop * np.maximum(die_part + glow_part, 0.0)
        return out


def draw_lamp(rng: np.random.Generator, kind: str, variation: float) -> Lamp:
    """Take one LED of ``kind`` from the reel."""
    if kind not in LED_KINDS:
        raise BadInput(f"light: got {kind!r}, wanted one of {', '.join(LED_KINDS)}")
    die, phosphor, share, level = np.clip(rng.standard_normal(4), -2.0, 2.0) * variation
    return Lamp(
        LED_KINDS[kind],
        die_shift_nm=2.0 * float(die),
        phosphor_shift_nm=2.5 * float(phosphor),
        phosphor_share=1.0 + 0.06 * float(share),
        level=1.0 + 0.03 * float(level),
    )


def workshop_light() -> Spectrum:
    """Tubes at the ceiling and a filament lamp at the bench, seen by a sensor that was lifted."""
    tubes = 0.55 * bump(452.0, 10.0) + 0.7 * bump(560.0, 52.0)
    kelvin = 2750.0
    metre = WAVELENGTH_NM * 1e-9
    filament = metre**-5 / np.expm1(1.438777e-2 / (metre * kelvin))  # Planck, second constant
    light: Spectrum = tubes + 0.5 * filament / filament.max()
    return light
