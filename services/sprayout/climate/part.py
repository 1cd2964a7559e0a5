"""The part under the film: how much heat a square metre of its wet face can give, and take up.

Volumetric heat capacities are density times specific heat at 25 °C, CRC Handbook of Chemistry
and Physics (from memory, rounded; 2 % does not matter here).
"""

import math
from dataclasses import dataclass
from typing import Literal

from sprayout.errors import BadInput

# J/(m3·K)
METALS: dict[str, float] = {
    "steel": 7_850.0 * 460.0,
    "zinc": 7_140.0 * 388.0,
    "brass": 8_500.0 * 380.0,
    "aluminium": 2_700.0 * 897.0,
}
_OTHER_NAMES = {
    "tinplate": "steel",
    "tin": "steel",
    "iron": "steel",
    "zamak": "zinc",
    "die-cast": "zinc",
    "diecast": "zinc",
    "white metal": "zinc",
    "aluminum": "aluminium",
}
_THICKEST_MM = 100.0


@dataclass(frozen=True, slots=True)
class Part:
    """A thin part; ``metal`` ``None`` is foil, which holds no heat worth counting."""

    metal: str | None
    thickness_mm: float
    wet_faces: Literal[1, 2] = 1

    @property
    def heat_j_m2_k(self) -> float:
        """Heat capacity behind each square metre of wet face."""
        if self.metal is None:
            return 0.0
        return METALS[self.metal] * self.thickness_mm * 1e-3 / self.wet_faces

    def words(self) -> str:
        """The part in words."""
        faces = "" if self.wet_faces == 1 else ", wet on both faces"
        what = "foil" if self.metal is None else f"{self.thickness_mm:g} mm {self.metal}"
        return what + faces


FOIL = Part(None, 0.0)


def foil(wet_faces: Literal[1, 2] = 1) -> Part:
    """A part too thin to hold heat: the coldest case, and the one taken where nothing is said."""
    return Part(None, 0.0, wet_faces)


def metal_part(metal: str, thickness_mm: float, wet_faces: Literal[1, 2] = 1) -> Part:
    """A part of a metal of :data:`METALS` (or a common name of one)."""
    key = metal.strip().casefold()
    key = _OTHER_NAMES.get(key, key)
    if key not in METALS:
        names = ", ".join(METALS)
        raise BadInput(f"metal: got {metal.strip()!r}, wanted {names} or foil; name the nearest")
    if not math.isfinite(thickness_mm) or not 0.0 < thickness_mm <= _THICKEST_MM:
        raise BadInput(
            f"metal thickness: got {thickness_mm:g} mm, wanted above 0 to {_THICKEST_MM:g} mm; "
            "measure the sheet, or say foil"
        )
    return Part(key, thickness_mm, wet_faces)
