"""How a colour moves from wet to dry, and from reduced to unreduced paint.

A shift is a step in ln(K/S), alike along the spectrum: up is darker and deeper.  It starts from
common practice, per family, and is replaced by the owner's own pairs as they come; until there are
pairs it is marked as an assumption.  Normal prior, normal scatter between paints, exact update.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

from sprayout.colour.tristimulus import Spectrum
from sprayout.errors import BadInput
from sprayout.mixing.axis import model_axis, sight_of
from sprayout.mixing.goal import smoothest_reflectance
from sprayout.mixing.kubelka_munk import Surface, k_over_s, opaque_reflectance
from sprayout.mixing.observation import log_ratio
from sprayout.mixing.values import FAMILIES, Family, Target, check_spectrum

Array = npt.NDArray[np.float64]
Change = Literal["wet to dry", "reduced to unreduced"]

_PRIOR: dict[tuple[Change, Family], tuple[float, float]] = {
    ("wet to dry", "enamel"): (0.02, 0.04),
    ("wet to dry", "lacquer"): (0.05, 0.07),
    ("wet to dry", "acrylic"): (0.12, 0.12),
    ("reduced to unreduced", "enamel"): (-0.05, 0.05),
    ("reduced to unreduced", "lacquer"): (-0.04, 0.06),
    ("reduced to unreduced", "acrylic"): (-0.04, 0.08),
}
"""Mean and standard deviation of the step in ln(K/S): common practice, no source."""
BETWEEN_PAINTS = 0.04
"""Standard deviation of the step from one paint of a family to the next."""
_PAIR_NOISE = 0.02


@dataclass(frozen=True, slots=True)
class Pair:
    """One surface measured before and after the change."""

    before: Spectrum
    after: Spectrum

    def __post_init__(self) -> None:
        check_spectrum(self.before, "pair, before")
        check_spectrum(self.after, "pair, after")
        if self.before.wavelength_nm != self.after.wavelength_nm:
            raise BadInput("pair: measured at different wavelengths; use one sensor for both")


@dataclass(frozen=True, slots=True)
class Shift:
    """The step in ln(K/S) with its standard deviation for the next paint of this family.

    ``assumed`` until at least one own pair is in it.
    """

    change: Change
    family: Family
    step: float
    sd: float
    pairs: int

    @property
    def assumed(self) -> bool:
        return self.pairs == 0

    def words(self) -> str:
        """One sentence for the person."""
        way = "darker" if self.step > 0 else "lighter"
        own = "1 pair of yours" if self.pairs == 1 else f"{self.pairs} pairs of yours"
        source = "an assumption, no pair of yours yet" if self.assumed else own
        return (
            f"{self.family}, {self.change}: about {abs(self.step) * 100:.0f} % {way} in K/S, give "
            f"or take {self.sd * 100:.0f} % ({source})"
        )


def shift_of(change: Change, family: Family, pairs: tuple[Pair, ...] = ()) -> Shift:
    """What is known of this change for this family."""
    if (change, family) not in _PRIOR:
        raise BadInput(
            f"shift: got {change!r} of {family!r}, wanted wet to dry or reduced to unreduced of "
            f"{', '.join(FAMILIES)}"
        )
    mean, sd = _PRIOR[change, family]
    noise = BETWEEN_PAINTS**2 + _PAIR_NOISE**2
    weight = sd**-2 + len(pairs) / noise
    step = (mean * sd**-2 + sum(step_of(pair) for pair in pairs) / noise) / weight
    return Shift(change, family, step, float(np.sqrt(1 / weight + BETWEEN_PAINTS**2)), len(pairs))


def step_of(pair: Pair, surface: Surface | None = None) -> float:
    """Median step in ln(K/S) of one pair, over the bands that are neither white nor black."""
    sight = sight_of(pair.before)
    before = sight.bands_of(pair.before.reflectance)
    after = sight.bands_of(pair.after.reflectance)
    step = log_ratio(after, surface or Surface()) - log_ratio(before, surface or Surface())
    told = (np.minimum(before, after) > 0.01) & (np.maximum(before, after) < 0.85)
    if not told.any():
        return 0.0
    return float(np.median(step[told]))


def shifted(spectrum: Spectrum, step: float, surface: Surface | None = None) -> Spectrum:
    """A spectrum with ln(K/S) moved by ``step``: negative for the way back."""
    surface = surface or Surface()
    seen = np.asarray(spectrum.reflectance)
    inside = np.clip(surface.below(np.maximum(seen, 1e-4)), 1e-4, 0.9999)
    moved = surface.seen(opaque_reflectance(k_over_s(inside) * np.exp(step)))
    return Spectrum(spectrum.wavelength_nm, tuple(float(v) for v in moved))


def target_before(target: Target, shift: Shift) -> Target:
    """What to mix to now, so that the target comes out after the change."""
    if target.spectrum is not None:
        spectrum = shifted(target.spectrum, -shift.step)
        return Target(spectrum, None, target.tolerance_de00)
    axis = model_axis()
    seen = smoothest_reflectance(np.asarray(target.lab_d65_10, dtype=float), axis)
    surface = Surface()
    ratio = np.exp(log_ratio(seen, surface) - shift.step)
    lab = axis.lab(surface.seen(opaque_reflectance(ratio)))
    return Target(None, (float(lab[0]), float(lab[1]), float(lab[2])), target.tolerance_de00)
