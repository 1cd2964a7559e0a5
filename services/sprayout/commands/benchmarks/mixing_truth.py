"""A paint bench that behaves worse than the model that has to judge it.

Shares no code with ``sprayout.mixing``.  What it has and the model lacks: scattering that falls as
the film crowds, pairs of paints that colour more or less together than apart, bottles whose drops
differ, drops that scatter, filter centres off their nominal place, noise, films of uneven
thickness.  The numbers are invented to be of a believable size.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]

WAVELENGTH_NM: Array = np.arange(380.0, 781.0, 5.0)
CENTRE_NM: Array = np.array([415.0, 445.0, 480.0, 515.0, 555.0, 590.0, 630.0, 680.0])
WIDTH_NM: Array = np.array([26.0, 30.0, 36.0, 39.0, 39.0, 40.0, 50.0, 52.0])
KINDS = (
    "white",
    "black",
    "lemon",
    "ochre",
    "orange",
    "signal red",
    "crimson",
    "violet",
    "ultramarine",
    "sea blue",
    "green",
    "red oxide",
)


def _edge(at_nm: float, width_nm: float) -> Array:
    """Absorption that ends towards the red at ``at_nm``."""
    return np.asarray(1 / (1 + np.exp((WAVELENGTH_NM - at_nm) / width_nm)))


def _hump(at_nm: float, width_nm: float) -> Array:
    return np.asarray(np.exp(-0.5 * ((WAVELENGTH_NM - at_nm) / width_nm) ** 2))


def _absorption(kind: str, rng: np.random.Generator) -> Array:
    """Shape of K, about 1 where the pigment absorbs most."""
    j = rng.normal(0, 1, 4)
    floor = 0.008 * np.exp(0.4 * j[3])
    shapes: dict[str, Callable[[], Array]] = {
        "white": lambda: 0.0012 * np.exp(0.3 * j[0]) + 0.5 * _edge(388 + 2 * j[1], 5),
        "black": lambda: 1.0 + 0.15 * _hump(430, 80) * j[0],
        "lemon": lambda: _edge(492 + 6 * j[0], 9 + abs(j[1])) + 0.4 * floor,
        "ochre": lambda: _edge(528 + 8 * j[0], 20 + 2 * abs(j[1])) + 0.03 + 0.05 * _hump(650, 70),
        "orange": lambda: _edge(552 + 8 * j[0], 10) + 0.6 * floor,
        "signal red": lambda: _edge(590 + 6 * j[0], 8) + 0.6 * floor,
        "crimson": lambda: 0.25 * _edge(480, 40) + _hump(535 + 8 * j[0], 45) + floor,
        "violet": lambda: _hump(565 + 10 * j[0], 48) + 0.18 * _hump(430, 60) + 1.5 * floor,
        "ultramarine": lambda: _hump(600 + 8 * j[0], 52) + 0.25 * _hump(690, 50) + floor,
        "sea blue": lambda: _hump(640 + 10 * j[0], 68) + 0.1 * _edge(420, 12) + floor,
        "green": lambda: 0.7 * _edge(458 + 8 * j[0], 14) + _hump(665 + 8 * j[1], 55) + floor,
        "red oxide": lambda: _edge(572 + 6 * j[0], 16) + 0.06 + 0.05 * _hump(680, 60),
    }
    return np.asarray(shapes[kind]())


_STRENGTH = {  # K at its peak, S at 550 nm, crowding: each over white
    "white": (1.0, 1.00, 0.20),
    "black": (2.5, 0.05, 0.05),
    "lemon": (0.9, 0.35, 0.10),
    "ochre": (0.7, 0.30, 0.12),
    "orange": (1.1, 0.25, 0.10),
    "signal red": (1.2, 0.16, 0.08),
    "crimson": (1.2, 0.06, 0.05),
    "violet": (1.5, 0.05, 0.05),
    "ultramarine": (1.2, 0.06, 0.06),
    "sea blue": (2.0, 0.05, 0.04),
    "green": (1.4, 0.12, 0.07),
    "red oxide": (1.8, 0.35, 0.12),
}


@dataclass(frozen=True)
class Bench:
    """One shelf of bottles and the one sensor that looks at it."""

    names: tuple[str, ...]
    k: Array
    s: Array
    crowding: Array
    pairs: Array
    drop: Array
    filters: Array
    rng: np.random.Generator
    drop_scatter: float = 0.05
    noise: float = 0.002
    k1: float = 0.04
    k2: float = 0.5
    crowd_strength: float = 1.0

    def reflectance(self, volumes: Array) -> Array:
        """True spectrum of an opaque layer of this mixture, measured without the gloss."""
        k, s = self._coefficients(volumes)
        a = (s + k) / s
        inside = a - np.sqrt(a * a - 1.0)
        return self._surface(inside)

    def film(self, volumes: Array, thickness: float, base: Array) -> Array:
        """True spectrum of a film over a base given by its own measured spectrum."""
        k, s = self._coefficients(volumes)
        under = base / ((1 - self.k1) * (1 - self.k2) + self.k2 * base)
        a = (s + k) / s
        b = np.sqrt(a * a - 1.0)
        coth = 1.0 / np.tanh(b * s * thickness)
        inside = (1.0 - under * (a - b * coth)) / (a - under + b * coth)
        return self._surface(inside)

    def _coefficients(self, volumes: Array) -> tuple[Array, Array]:
        part = volumes / volumes.sum()
        crowd = 1.0 - self.crowd_strength * float(part @ self.crowding)
        interaction = np.einsum("i,j,ijl->l", part, part, self.pairs) * 2.0
        return (part @ self.k) * np.exp(interaction), (part @ self.s) * crowd

    def _surface(self, inside: Array) -> Array:
        return np.asarray((1 - self.k1) * (1 - self.k2) * inside / (1 - self.k2 * inside))

    def sensed(self, spectrum: Array, noisy: bool = True) -> Array:
        """What the eight bands report."""
        seen = self.filters @ spectrum
        if noisy:
            seen = seen * (1 + self.noise * self.rng.normal(size=8))
            seen = seen + 0.1 * self.noise * self.rng.normal(size=8)
        return np.clip(seen, 1e-4, 1.0)

    def poured(self, drops: Array) -> Array:
        """Volumes that really fall when these drops are counted."""
        scatter = (
            self.drop_scatter * np.sqrt(np.maximum(drops, 0)) * self.rng.normal(size=drops.size)
        )
        return np.asarray(self.drop * np.maximum(drops + scatter, 0.2 * drops))


def _own_names(kinds: tuple[str, ...]) -> tuple[str, ...]:
    """Two bottles of one kind of paint are told apart by a number."""
    return tuple(
        kind if kinds.index(kind) == i else f"{kind} {1 + kinds[:i].count(kind)}"
        for i, kind in enumerate(kinds)
    )


def bench(
    seed: int, kinds: tuple[str, ...] = KINDS, *, bottle_sd: float = 0.10, centre_sd_nm: float = 2.0
) -> Bench:
    """A shelf drawn at random: every seed has other pigments, bottles and filters."""
    rng = np.random.default_rng(seed)
    count = len(kinds)
    k, s, crowd = [], [], []
    for kind in kinds:
        strength, scatter, crowding = _STRENGTH[kind]
        k.append(_absorption(kind, rng) * strength * np.exp(0.2 * rng.normal()))
        slope = rng.uniform(0.2, 1.2)
        s.append(scatter * np.exp(0.2 * rng.normal()) * (WAVELENGTH_NM / 550.0) ** -slope)
        crowd.append(crowding)
    pairs = np.zeros((count, count, WAVELENGTH_NM.size))
    for i in range(count):
        for j in range(i):
            tilt = rng.normal() * (WAVELENGTH_NM - 550) / 150
            pairs[i, j] = pairs[j, i] = 0.03 * (rng.normal() + 0.5 * tilt) * 2.0 / 2.0
    centres = CENTRE_NM + centre_sd_nm * rng.normal(size=8)
    shape = np.exp(
        -4 * np.log(2.0) * ((WAVELENGTH_NM[None, :] - centres[:, None]) / WIDTH_NM[:, None]) ** 2
    )
    return Bench(
        names=_own_names(kinds),
        k=np.array(k),
        s=np.array(s),
        crowding=np.array(crowd),
        pairs=pairs,
        drop=np.exp(bottle_sd * rng.normal(size=count)),
        filters=shape / shape.sum(axis=1, keepdims=True),
        rng=rng,
    )


@dataclass
class TruthCup:
    """A cup on that bench: only it knows what really went in."""

    bench: Bench
    volumes: Array = field(init=False)
    drops: int = 0

    def __post_init__(self) -> None:
        self.volumes = np.zeros(len(self.bench.names))

    def add(self, paint: str, drops: int) -> None:
        counted = np.zeros(len(self.bench.names))
        counted[self.bench.names.index(paint)] = drops
        self.volumes = self.volumes + self.bench.poured(counted)
        self.drops += drops

    def spectrum(self) -> Array:
        return self.bench.reflectance(self.volumes)
