"""Munsell notation: what was typed, and the target it names.

The renotation (Newhall, Nickerson and Judd, J. Opt. Soc. Am. 33 (1943) 385-418) gives
chromaticities for illuminant C and the 2 degree observer; its table belongs to a library that the
caller asks (``acts.munsell_table``), so that this module stays arithmetic.  From illuminant C the
colour is carried over to our whites as every typed Lab is: over surfaces of that colour, with the
radius in which they scatter.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace

import numpy as np

from sprayout.colour.lab import xyz_to_lab
from sprayout.colour.targets import ColourTarget, typed_target
from sprayout.colour.tristimulus import white_point
from sprayout.errors import BadInput

HUES = ("R", "YR", "Y", "GY", "G", "BG", "B", "PB", "P", "RP")
_NOTATION = re.compile(
    r"(?P<step>\d+(?:\.\d+)?)\s*(?P<hue>[A-Z]{1,2})\s*"
    r"(?P<value>\d+(?:\.\d+)?)\s*/\s*(?P<chroma>\d+(?:\.\d+)?)"
)
_GREY = re.compile(r"N\s*(?P<value>\d+(?:\.\d+)?)\s*/?")
_WANTED = "wanted hue value/chroma such as 5R 4/10, or a grey such as N 5/"
NOTE = "the Munsell table holds for illuminant C and 2 degrees; carried over to D65/10 and D50/2"


@dataclass(frozen=True, slots=True)
class Munsell:
    """One notation: hue (``step`` 0..10 within one of ``HUES``; grey has none), value, chroma."""

    step: float
    hue: str | None
    value: float
    chroma: float

    def __str__(self) -> str:
        if self.hue is None:
            return f"N {self.value:g}/"
        return f"{self.step:g}{self.hue} {self.value:g}/{self.chroma:g}"


def parse_munsell(text: str) -> Munsell:
    """The notation as typed; ``BadInput`` says which part of it cannot be."""
    said = " ".join(text.upper().split())
    grey = _GREY.fullmatch(said)
    if grey:
        return _checked(Munsell(0.0, None, float(grey["value"]), 0.0), text)
    parts = _NOTATION.fullmatch(said)
    if parts is None:
        raise BadInput(f"munsell: got {text!r}, {_WANTED}; correct it")
    found = Munsell(
        float(parts["step"]), parts["hue"], float(parts["value"]), float(parts["chroma"])
    )
    if found.hue not in HUES:
        raise BadInput(f"munsell: got hue {found.hue} in {text!r}, wanted one of {', '.join(HUES)}")
    if not 0.0 <= found.step <= 10.0:
        raise BadInput(
            f"munsell: got hue step {found.step:g} in {text!r}, wanted 0 to 10; correct it"
        )
    return _checked(found, text)


def _checked(found: Munsell, text: str) -> Munsell:
    if not 1.0 <= found.value <= 9.0:
        raise BadInput(
            f"munsell: got value {found.value:g} in {text!r}, wanted 1 to 9: the renotation's "
            "table has no others; measure the colour or type its Lab"
        )
    return found


def munsell_target(
    name: str, notation: Munsell, xyy: tuple[float, float, float], u95_de00: float = 0.0
) -> ColourTarget:
    """The target of a notation whose x, y and Y (0..1, perfect diffuser = 1) the table gives."""
    x, y, luminance = xyy
    xyz = 100.0 * luminance * np.array([x / y, 1.0, (1.0 - x - y) / y])
    lab = xyz_to_lab(xyz, white_point("c", 2))
    if notation.hue is None or notation.chroma == 0.0:
        # A grey of the table stands for an even reflectance, which no light and no eye changes.
        even = (float(lab[0]), 0.0, 0.0)
        return ColourTarget(name, "typed", even, even, u95_de00, u95_de00, notes=(NOTE,))
    stated = (float(lab[0]), float(lab[1]), float(lab[2]))
    return replace(typed_target(name, stated, "c", 2, u95_de00), notes=(NOTE,))
