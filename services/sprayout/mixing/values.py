"""What a person puts on the table: swatches, paints, a shelf of them, and a target.

Every value checks itself when it is made, so that the computing modules may trust it.
"""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Literal

from sprayout.colour.tristimulus import Spectrum
from sprayout.errors import BadInput
from sprayout.mixing.surface_colours import is_surface_colour

Base = Literal["black", "white"]
Family = Literal["enamel", "lacquer", "acrylic"]
FAMILIES: tuple[Family, ...] = ("enamel", "lacquer", "acrylic")
SLACK = 0.002
"""Noise of a sensor around 0 and 1 that is taken for 0 and 1."""


def check_spectrum(spectrum: Spectrum, what: str) -> None:
    """Refuse what no surface shows; ``what`` names it in the message."""
    nm, values = spectrum.wavelength_nm, spectrum.reflectance
    if len(nm) < 5 or len(nm) != len(values):
        raise BadInput(
            f"{what}: got {len(nm)} wavelengths and {len(values)} reflectances, wanted the same "
            "number of both and at least 5; measure it again"
        )
    if not all(math.isfinite(v) for v in (*nm, *values)):
        raise BadInput(f"{what}: got a value that is no number; measure it again")
    if any(later <= earlier for earlier, later in pairwise(nm)):
        raise BadInput(f"{what}: wavelengths do not rise; give them in nm in rising order")
    if nm[0] < 300 or nm[-1] > 1000 or nm[0] > 450 or nm[-1] < 620:
        raise BadInput(
            f"{what}: got {nm[0]:g}-{nm[-1]:g} nm, wanted at least 450-620 nm of the visible range"
        )
    worst = max(values, key=lambda v: abs(v - 0.5))
    if not -SLACK <= worst <= 1 + SLACK:
        raise BadInput(
            f"{what}: got reflectance {worst:g}, wanted 0 to 1; calibrate on the white tile "
            "and measure it again"
        )


@dataclass(frozen=True, slots=True)
class Swatch:
    """A mixture put on a card and measured.

    ``parts``: paint -> drops or any other measure of volume, in the bottle's own drops where they
    were counted.  ``over``: the card it lies on when it does not hide, or None when it is opaque.
    ``sd``: standard deviation of each reflectance, or None when the sensor's usual one holds.
    """

    parts: tuple[tuple[str, float], ...]
    spectrum: Spectrum
    over: Base | None = None
    sd: tuple[float, ...] | None = None

    def __post_init__(self) -> None:
        what = f"swatch of {self.title()}"
        if not self.parts or not all(math.isfinite(n) and n > 0 for _, n in self.parts):
            raise BadInput(f"{what}: parts must be numbers above 0; correct the parts")
        if self.over not in ("black", "white", None):
            raise BadInput(
                f"{what}: over is {self.over!r}, wanted black, white or null; correct it"
            )
        check_spectrum(self.spectrum, what)
        if self.sd is not None and (
            len(self.sd) != len(self.spectrum.reflectance)
            or not all(math.isfinite(v) and v >= 0 for v in self.sd)
        ):
            raise BadInput(
                f"{what}: reflectance_sd needs one number of 0 or more for each reflectance"
            )

    def title(self) -> str:
        """The mixture in words: ``2 hull blue + 10 ice-van white``."""
        if len(self.parts) == 1:
            return self.parts[0][0]
        return " + ".join(f"{n:g} {name}" for name, n in self.parts)


@dataclass(frozen=True, slots=True)
class Paint:
    """A bottle on the shelf."""

    name: str
    swatches: tuple[Swatch, ...] = ()
    family: Family = "enamel"
    finish: str = "gloss"
    drop_ml: float = 0.05
    left_ml: float | None = None
    price_per_ml: float | None = None
    density_g_ml: float = 1.0

    def __post_init__(self) -> None:
        if not self.name.strip():
            raise BadInput("paint: got an empty name, wanted the name on the bottle; name it")
        if self.family not in FAMILIES:
            raise BadInput(
                f"{self.name}: family is {self.family!r}, wanted {', '.join(FAMILIES)}; correct it"
            )
        if not 0.005 <= self.drop_ml <= 1.0:
            raise BadInput(
                f"{self.name}: a drop of {self.drop_ml:g} mL, wanted 0.005 to 1; count the drops "
                "to 1 mL and divide"
            )
        if not 0.5 <= self.density_g_ml <= 4:
            raise BadInput(
                f"{self.name}: density {self.density_g_ml:g} g/mL, wanted 0.5 to 4; weigh 10 mL"
            )


@dataclass(frozen=True, slots=True)
class Shelf:
    """The paints at hand; ``white`` names the white among them, where there is one.

    ``excerpt``: some bottles of a shelf that was checked as a whole.
    """

    paints: tuple[Paint, ...]
    white: str | None = None
    excerpt: bool = False
    names: tuple[str, ...] = field(init=False)

    def __post_init__(self) -> None:
        names = tuple(paint.name for paint in self.paints)
        object.__setattr__(self, "names", names)
        if not names:
            raise BadInput("shelf: got no paints, wanted at least one; add a paint with a swatch")
        twice = [name for name, count in Counter(names).items() if count > 1]
        if twice:
            raise BadInput(f"shelf: two paints are called {twice[0]!r}; give each its own name")
        if self.white is not None and self.white not in names:
            raise BadInput(
                f"white_paint: {self.white!r} is not on the shelf; name one of the paints, or null"
            )
        if not self.excerpt:
            self._check_swatches()

    def _check_swatches(self) -> None:
        known = {name for swatch in self.swatches() for name, _ in swatch.parts}
        stray = known - set(self.names)
        if stray:
            raise BadInput(
                f"swatch: it holds {min(stray)!r}, which is not on the shelf; add the paint or "
                "correct the name"
            )
        missing = [name for name in self.names if name not in known]
        if missing:
            raise BadInput(
                f"{missing[0]}: got no swatch, wanted at least one; paint a masstone and measure it"
            )

    def swatches(self) -> tuple[Swatch, ...]:
        """Every swatch of every paint."""
        return tuple(swatch for paint in self.paints for swatch in paint.swatches)

    def only(self, names: tuple[str, ...]) -> Shelf:
        """Some of the bottles, in the shelf's order, with all their swatches.

        To be used with a model of the whole shelf, for the swatches may hold paints left out.
        """
        kept = tuple(paint for paint in self.paints if paint.name in names)
        return Shelf(kept, self.white if self.white in names else None, excerpt=True)

    def without(self, name: str) -> Shelf:
        """The shelf with one bottle, and every swatch it is part of, taken off."""
        kept = [
            Paint(
                paint.name,
                tuple(s for s in paint.swatches if name not in dict(s.parts)),
                paint.family,
                paint.finish,
                paint.drop_ml,
                paint.left_ml,
                paint.price_per_ml,
                paint.density_g_ml,
            )
            for paint in self.paints
            if paint.name != name
        ]
        return Shelf(tuple(kept), None if self.white == name else self.white)


@dataclass(frozen=True, slots=True)
class Target:
    """The colour to reach: a spectrum, or only a Lab of D65/10°."""

    spectrum: Spectrum | None = None
    lab_d65_10: tuple[float, float, float] | None = None
    tolerance_de00: float = 1.0

    def __post_init__(self) -> None:
        if (self.spectrum is None) == (self.lab_d65_10 is None):
            raise BadInput("target: give either a spectrum or lab_d65_10, one of the two")
        if not 0.05 <= self.tolerance_de00 <= 20:
            raise BadInput(
                f"tolerance_de00: got {self.tolerance_de00:g}, wanted 0.05 to 20; 1.0 is usual"
            )
        if self.spectrum is not None:
            check_spectrum(self.spectrum, "target")
        if self.lab_d65_10 is not None:
            check_surface_lab(self.lab_d65_10)


def check_surface_lab(lab: tuple[float, float, float], white: str = "d65-10") -> None:
    """Refuse a Lab that no surface has under D65/10° (or D50/2°)."""
    field = f"lab_{white.replace('-', '_')}"
    if not all(math.isfinite(v) for v in lab):
        raise BadInput(f"target: {field} holds a value that is no number; type it again")
    if not 0 <= lab[0] <= 100.5 or not is_surface_colour(lab, white):
        light = "D65/10°" if white == "d65-10" else "D50/2°"
        raise BadInput(
            f"target: Lab {lab[0]:g}, {lab[1]:g}, {lab[2]:g} is not a colour a surface can have "
            f"under {light}; measure it, or type it again"
        )
