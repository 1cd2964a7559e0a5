"""How light fares in a layer of paint: two fluxes inside, a boundary on top.

Inside: Kubelka's solution for a layer over a base (Kubelka 1948).  At the boundary: part of the
light is turned back on its way in and more of it on its way out (Saunderson 1942), without the
mirror part (45/0), plus a little haze that a satin skin scatters.  A real coat is uneven: light
mist lies in islands, and thickness varies from place to place; both are averaged over the spot.
"""

from dataclasses import dataclass

import numpy as np

from sprayout.errors import BadInput
from sprayout.sim.spectra import Spectrum

ISLAND_UM = 3.2  # a coat of this mean thickness covers 63 % of the surface
UNEVEN = (0.82, 0.94, 1.0, 1.06, 1.18)  # thickness from place to place, as shares of the mean


@dataclass(frozen=True, slots=True)
class Skin:
    """The boundary of a layer: turned back going in, turned back going out, haze."""

    entering: float
    leaving: float
    haze: float

    def __post_init__(self) -> None:
        """Refuse shares outside 0..1."""
        for name in ("entering", "leaving", "haze"):
            if not 0.0 <= getattr(self, name) < 1.0:
                raise BadInput(f"skin: {name} is {getattr(self, name)!r}, wanted 0 to below 1")

    def seen(self, inside: Spectrum) -> Spectrum:
        """What is measured outside when the layer below reflects ``inside``."""
        through = (1.0 - self.entering) * (1.0 - self.leaving)
        out: Spectrum = self.haze + through * inside / (1.0 - self.leaving * inside)
        return out

    def inside(self, seen: Spectrum) -> Spectrum:
        """What the layer reflects inside when ``seen`` is measured."""
        diffuse = np.maximum(seen - self.haze, 0.0)
        through = (1.0 - self.entering) * (1.0 - self.leaving)
        layer: Spectrum = diffuse / (through + self.leaving * diffuse)
        return np.minimum(layer, 1.0)


def opaque(absorption: Spectrum, scattering: Spectrum) -> Spectrum:
    """Reflectance inside a layer so thick that nothing below matters."""
    ratio = absorption / scattering
    out: Spectrum = 1.0 + ratio - np.sqrt(ratio * ratio + 2.0 * ratio)
    return out


def layer(
    absorption: Spectrum, scattering: Spectrum, thickness_mm: float, base: Spectrum
) -> Spectrum:
    """Reflectance inside a layer over ``base``; absorption and scattering per mm."""
    a = 1.0 + absorption / scattering
    b = np.sqrt(a * a - 1.0)
    # tanh stays finite for thick layers, where coth of the book's form would be 1 anyway.
    t = np.tanh(np.minimum(b * scattering * thickness_mm, 40.0))
    out: Spectrum = (t - base * (a * t - b)) / (b + t * (a - base))
    return out


def uneven_coat(
    absorption: Spectrum, scattering: Spectrum, film_um: float, base: Spectrum, skin: Skin
) -> Spectrum:
    """What is measured on a coat of mean ``film_um`` over a base measured as ``base``."""
    covered = 1.0 - float(np.exp(-film_um / ISLAND_UM)) if film_um > 0.0 else 0.0
    if covered < 1e-9:
        return base.copy()
    local_mm = film_um / covered / 1000.0
    below = skin.inside(base)
    spots = [skin.seen(layer(absorption, scattering, u * local_mm, below)) for u in UNEVEN]
    mean: Spectrum = covered * np.mean(spots, axis=0) + (1.0 - covered) * base
    return mean
