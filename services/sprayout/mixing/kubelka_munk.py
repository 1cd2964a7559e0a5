"""Light in a paint film: two-constant Kubelka–Munk with the surface correction.

All functions work element by element on arrays of any matching shape and take fractions, not
per cent.  "Internal" reflectance is what the film would show without its surface; "measured" is
what an instrument sees through it.

Sources: P. Kubelka and F. Munk (1931); P. Kubelka, J. Opt. Soc. Am. 38 (1948) 448, for the film
equation; D. R. Duncan (1940) for adding K and S of the parts of a mixture; J. L. Saunderson,
J. Opt. Soc. Am. 32 (1942) 727, for the surface.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]

FRESNEL_N_1_5 = ((1.5 - 1.0) / (1.5 + 1.0)) ** 2
"""Reflection of a surface of refractive index 1.5 at normal incidence, exactly 0.04."""


@dataclass(frozen=True, slots=True)
class Surface:
    """The film's surface: ``k1`` outside reflection, ``k2`` inside reflection of diffuse light.

    ``specular_included`` says whether the instrument collects the gloss.  A 0/45 sensor does not.
    """

    k1: float = FRESNEL_N_1_5
    k2: float = 0.5
    specular_included: bool = False

    def seen(self, internal: Array) -> Array:
        """Internal -> measured reflectance (Saunderson 1942)."""
        leading = self.k1 if self.specular_included else 0.0
        return leading + (1 - self.k1) * (1 - self.k2) * internal / (1 - self.k2 * internal)

    def below(self, measured: Array) -> Array:
        """Measured -> internal reflectance, the exact inverse of :meth:`seen`."""
        leading = self.k1 if self.specular_included else 0.0
        through = measured - leading
        return through / ((1 - self.k1) * (1 - self.k2) + self.k2 * through)

    def slope(self, internal: Array) -> Array:
        """Derivative of measured with respect to internal reflectance."""
        return (1 - self.k1) * (1 - self.k2) / (1 - self.k2 * internal) ** 2


BARE = Surface(k1=0.0, k2=0.0)
"""No surface at all: measured equals internal."""


def k_over_s(reflectance: Array) -> Array:
    """K/S of an opaque layer from its internal reflectance: (1 - R)^2 / 2R."""
    return (1 - reflectance) ** 2 / (2 * reflectance)


def opaque_reflectance(ratio: Array) -> Array:
    """Internal reflectance of an opaque layer from K/S.

    1 + q - sqrt(q^2 + 2q), written as 1/(1 + q + sqrt(...)) so that nothing cancels at large q.
    """
    return 1 / (1 + ratio + np.sqrt(ratio * (ratio + 2)))


def mixed(shares: Array, coefficients: Array) -> Array:
    """K or S of a mixture: shares (..., paints) times coefficients (paints, bands)."""
    return shares @ coefficients


def film_reflectance(k: Array, s: Array, thickness: Array | float, base: Array) -> Array:
    """Internal reflectance of a film over a base (Kubelka 1948, eq. with a, b and coth).

    Multiplied through by tanh(b S X), so that no thickness at all gives the base and a thick film
    gives the opaque value without an overflow.  ``k``, ``s`` per unit thickness, ``base`` internal.
    """
    a = 1 + k / s
    b = np.sqrt(a * a - 1)
    tanh = np.tanh(b * s * thickness)
    slow = np.where(b < 1e-9, s * thickness, tanh / np.maximum(b, 1e-9))
    return (slow * (1 - base * a) + base) / (slow * (a - base) + 1)


def scattering_power(over_black: Array, opaque: Array, black: Array) -> Array:
    """S times X from a film over black and the same paint opaque (Kubelka 1948, inverted).

    S X = (1/b) [arcoth((a - R)/b) - arcoth((a - Rg)/b)].  All internal; ``over_black`` must lie
    between ``black`` and ``opaque``.
    """
    a = (1 / opaque + opaque) / 2
    b = (1 / opaque - opaque) / 2
    high, low = (a - over_black) / b, (a - black) / b
    return (np.arctanh(1 / high) - np.arctanh(1 / low)) / b
