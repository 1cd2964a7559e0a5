"""Bottles, drops, a cup and a coat: how paint really mixes.

Richer on purpose than the plain sum of absorption and scattering:

* particles crowd each other, so white scatters less per drop the more of it there is;
* pairs of paints help or hinder each other by a few per cent, differently along the spectrum;
* bottles differ in strength and in the size of their drops, and no two drops are alike;
* a cup that was not stirred shows streaks, a cup with little in it shows its bottom;
* reducer wets the particles and deepens the colour a little; wet paint dries to another shade,
  acrylics more than enamels;
* the surface turns light back on the way in and out, each family in its own way.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from sprayout.errors import BadInput
from sprayout.sim.film import Skin, layer, opaque, uneven_coat
from sprayout.sim.pigments import PAINTS, PIGMENTS, Paint
from sprayout.sim.spectra import (
    WAVELENGTH_NM,
    Spectrum,
    Surface,
    checked_reflectance,
    checked_seed,
    rise,
)

CUP_AREA_CM2 = 6.0
CUP_HOLDS_ML = 30.0
REDUCER_DROP_ML = 0.030
DROP_SCATTER = 0.05
CARDS: dict[str, Spectrum] = {
    "black": np.full_like(WAVELENGTH_NM, 0.012),
    "white": 0.84 - 0.25 * (1.0 - rise(405.0, 8.0)),
}


@dataclass(frozen=True, slots=True)
class Family:
    """What the binder does: skin wet and dry, scattering wet as a share of dry, reducer."""

    wet_skin: Skin
    dry_skin: Skin
    wet_scattering: float
    reducer_deepens: float


FAMILY: dict[str, Family] = {
    "enamel": Family(Skin(0.038, 0.58, 0.0005), Skin(0.040, 0.56, 0.0025), 1.015, 0.050),
    "lacquer": Family(Skin(0.036, 0.56, 0.0005), Skin(0.040, 0.54, 0.0040), 1.05, 0.030),
    "acrylic": Family(Skin(0.022, 0.48, 0.0005), Skin(0.040, 0.52, 0.0060), 1.32, 0.020),
}


@dataclass(frozen=True, slots=True)
class Bottle:
    """One bottle: its paint, how strong it turned out, and its mean drop in mL."""

    paint: Paint
    strength: float
    drop_ml: float


class Shelf:
    """The bottles of one workshop, and how their paints get on with each other.

    ``seed`` decides strengths, drop sizes and pair effects; ``variation`` scales them (0: every
    bottle as the maker meant it and no pair effects).
    """

    def __init__(
        self, seed: int, variation: float = 1.0, paints: tuple[Paint, ...] = PAINTS
    ) -> None:
        if not 0.0 <= variation <= 3.0:
            raise BadInput(f"variation: got {variation!r}, wanted 0 to 3; 1 is a usual shelf")
        names = [one.name for one in paints]
        if not names or len(set(names)) != len(names):
            raise BadInput(f"paints: got {names}, wanted one or more with different names")
        rng = np.random.default_rng((checked_seed(seed), 0x55))
        self.bottles = {one.name: _draw_bottle(rng, one, variation) for one in paints}
        size = len(paints)
        # Level and slope of the pair effects on K and S: [which, level/slope, paint, paint].
        pair = 0.03 * variation * rng.standard_normal((2, 2, size, size))
        self._pairs = np.triu(pair, 1)
        self._k = np.array([_sum(b, "absorption_per_mm") for b in self.bottles.values()])
        self._s = np.array([_sum(b, "scattering_per_mm") for b in self.bottles.values()])
        self._filler = np.array([_filler(b) for b in self.bottles.values()])

    @property
    def names(self) -> tuple[str, ...]:
        """The paints on the shelf, in order."""
        return tuple(self.bottles)

    def bottle(self, name: str) -> Bottle:
        """The bottle of that name, or BadInput with the names there are."""
        if name not in self.bottles:
            raise BadInput(
                f"paint: {name!r} is not on the shelf, wanted one of {', '.join(self.bottles)}"
            )
        return self.bottles[name]

    def absorption_scattering(self, shares: Spectrum) -> tuple[Spectrum, Spectrum]:
        """K and S per mm of dry film for volume shares of the shelf's paints, shape (paints,)."""
        slope = (WAVELENGTH_NM - 550.0) / 300.0
        slope = np.clip(slope, -1.0, 1.0)
        products = 4.0 * np.outer(shares, shares)
        level = (self._pairs * products).sum(axis=(2, 3))
        crowding = 1.0 - 1.4 * float(shares @ self._filler)
        absorption = (shares @ self._k) * (1.0 + level[0, 0] + level[0, 1] * slope)
        scattering = (shares @ self._s) * (1.0 + level[1, 0] + level[1, 1] * slope) * crowding
        return np.maximum(absorption, 1e-4), np.maximum(scattering, 1e-3)

    def wet_look(self, volumes_ml: Spectrum, family: str) -> Spectrum:
        """What a deep, wet, well-stirred cup of these volumes, shape (paints,), shows."""
        if family not in FAMILY:
            raise BadInput(f"family: got {family!r}, wanted one of {', '.join(FAMILY)}")
        k, s = self.absorption_scattering(volumes_ml / volumes_ml.sum())
        kind = FAMILY[family]
        return kind.wet_skin.seen(opaque(k, s * kind.wet_scattering))

    def drawdown(
        self,
        drops: Mapping[str, int],
        *,
        over: str | None = None,
        film_um: float = 40.0,
        dry: float = 1.0,
        seed: int = 0,
    ) -> Surface:
        """A swatch for getting to know the shelf: drops stirred and drawn out over a card.

        ``over`` is None for a layer that hides, or "black" or "white" for a film of ``film_um``.
        """
        cup = Cup(self, seed)
        for name, count in drops.items():
            cup.add(name, count)
        cup.stir(60)
        label = " + ".join(f"{n} {name}" for name, n in drops.items())
        if over is None:
            return Surface(label, cup.hiding(dry), unevenness=0.002)
        if over not in CARDS:
            raise BadInput(f"over: got {over!r}, wanted None, 'black' or 'white'")
        return Surface(f"{label} over {over}", cup.coat_over(CARDS[over], film_um, dry), 0.002)


def _draw_bottle(rng: np.random.Generator, one: Paint, variation: float) -> Bottle:
    """A bottle as it came from the shop: strength 4 %, drop size 10 %."""
    strength, drop = np.clip(rng.standard_normal(2), -2.0, 2.0) * variation
    return Bottle(one, 1.0 + 0.04 * float(strength), one.drop_ml * (1.0 + 0.10 * float(drop)))


def _sum(bottle: Bottle, curve: str) -> Spectrum:
    """The bottle's K or S: its pigments by load, stronger or weaker as the bottle is."""
    parts = [load * getattr(PIGMENTS[p], curve) for p, load in bottle.paint.loads.items()]
    total: Spectrum = bottle.strength * np.sum(parts, axis=0)
    return total


def _filler(bottle: Bottle) -> float:
    """Volume share of pigment in the bottle's dry film."""
    loads = bottle.paint.loads.items()
    return bottle.strength * sum(load * PIGMENTS[p].filler for p, load in loads)


class Cup:
    """One cup of mixed paint: drops go in, it is stirred, reduced, looked at and sprayed."""

    def __init__(self, shelf: Shelf, seed: int) -> None:
        self._shelf = shelf
        self._rng = np.random.default_rng((checked_seed(seed), 0x66))
        self._mixed_ml = np.zeros(len(shelf.names))
        self._streaks_ml = np.zeros(len(shelf.names))
        self._reducer_ml = 0.0
        self._family: str | None = None

    @property
    def volume_ml(self) -> float:
        """All that is in the cup, reducer included, in mL."""
        return float(self._paint_ml.sum() + self._reducer_ml)

    @property
    def contents_ml(self) -> dict[str, float]:
        """What went in of each paint and is still there, in mL."""
        return {n: float(v) for n, v in zip(self._shelf.names, self._paint_ml, strict=True) if v}

    @property
    def _paint_ml(self) -> Spectrum:
        total: Spectrum = self._mixed_ml + self._streaks_ml
        return total

    def add(self, name: str, drops: int) -> "Cup":
        """Let ``drops`` of a bottle fall in; each drop has its own size.  Stir afterwards."""
        bottle = self._shelf.bottle(name)
        count = _whole(drops, "drops", 1, 2000)
        if self._family not in (None, bottle.paint.family):
            raise BadInput(
                f"{name}: it is {bottle.paint.family} and the cup holds {self._family}; they "
                "curdle together: take a paint of the same family or a fresh cup"
            )
        sizes = bottle.drop_ml * (1.0 + DROP_SCATTER * self._rng.standard_normal(count))
        added_ml = float(np.maximum(sizes, 0.2 * bottle.drop_ml).sum())
        self._room_for(added_ml)
        self._streaks_ml[self._shelf.names.index(name)] += added_ml
        self._family = bottle.paint.family
        return self

    def reduce(self, drops: int) -> "Cup":
        """Add ``drops`` of the family's reducer."""
        count = _whole(drops, "reducer drops", 1, 5000)
        sizes = REDUCER_DROP_ML * (1.0 + DROP_SCATTER * self._rng.standard_normal(count))
        self._room_for(float(sizes.sum()))
        self._reducer_ml += float(sizes.sum())
        return self

    def stir(self, strokes: int = 40) -> "Cup":
        """Stir; eight strokes leave a third of the streaks."""
        kept = float(np.exp(-_whole(strokes, "strokes", 1, 10_000) / 8.0))
        self._mixed_ml += (1.0 - kept) * self._streaks_ml
        self._streaks_ml *= kept
        return self

    def take(self, volume_ml: float) -> "Cup":
        """Pour ``volume_ml`` into the airbrush."""
        if not 0.0 < volume_ml <= self.volume_ml:
            raise BadInput(
                f"cup: asked for {volume_ml} mL, wanted more than 0 and at most the "
                f"{self.volume_ml:.2f} mL in it"
            )
        kept = 1.0 - volume_ml / self.volume_ml
        self._mixed_ml *= kept
        self._streaks_ml *= kept
        self._reducer_ml *= kept
        return self

    def reflectance(self, dry: float = 0.0) -> Spectrum:
        """What the sensor sees looking into the cup; ``dry`` 0 is wet, 1 has dried."""
        self._needs_paint()
        streaks = float(self._streaks_ml.sum())
        share = min(0.6, 1.5 * streaks / float(self._paint_ml.sum()))
        if self._mixed_ml.sum() <= 0.0:
            return self._pool(self._streaks_ml, dry)
        if share < 1e-12:
            return self._pool(self._mixed_ml, dry)
        streaky: Spectrum = (1.0 - share) * self._pool(self._mixed_ml, dry)
        return streaky + share * self._pool(self._streaks_ml, dry)

    def surface(self, dry: float = 0.0) -> Surface:
        """The cup under the sensor; a wet surface trembles, so placements scatter more."""
        return Surface("cup", self.reflectance(dry), unevenness=0.004 - 0.002 * dry)

    def hiding(self, dry: float = 1.0) -> Spectrum:
        """A layer of the stirred paint so thick that nothing below matters."""
        self._needs_paint()
        k, s = self._curves(self._paint_ml, dry)
        return self._skin(dry).seen(opaque(k, s))

    def coat_over(self, base: Spectrum, film_um: float, dry: float = 1.0) -> Spectrum:
        """A coat of ``film_um`` (dry, mean) over a base measured as ``base``, as measured."""
        self._needs_paint()
        below = checked_reflectance(base, "base under the coat")
        if not 0.0 <= film_um <= 1000.0:
            raise BadInput(f"film_um: got {film_um!r}, wanted 0 to 1000 µm of dry film")
        k, s = self._curves(self._paint_ml, dry)
        return uneven_coat(k, s, film_um, below, self._skin(dry))

    def _pool(self, volumes_ml: Spectrum, dry: float) -> Spectrum:
        """The paint as deep as it stands in the cup, over the cup's pale bottom."""
        k, s = self._curves(volumes_ml, dry)
        solids = float(self._paint_ml.sum()) / self.volume_ml
        depth_mm = 0.45 * solids * 10.0 * self.volume_ml / CUP_AREA_CM2
        return self._skin(dry).seen(layer(k, s, depth_mm, np.full_like(k, 0.75)))

    def _curves(self, volumes_ml: Spectrum, dry: float) -> tuple[Spectrum, Spectrum]:
        """K and S of these volumes, wet or dry, deepened by what reducer there is."""
        if not 0.0 <= dry <= 1.0:
            raise BadInput(f"dry: got {dry!r}, wanted 0 (wet) to 1 (dry)")
        k, s = self._shelf.absorption_scattering(volumes_ml / volumes_ml.sum())
        family = FAMILY[self._family or "enamel"]
        reduced = self._reducer_ml / self.volume_ml
        deeper = 1.0 + family.reducer_deepens * reduced / (reduced + 0.3)
        wet = family.wet_scattering + (1.0 - family.wet_scattering) * dry
        return k * deeper, s * wet

    def _skin(self, dry: float) -> Skin:
        family = FAMILY[self._family or "enamel"]
        wet, end = family.wet_skin, family.dry_skin
        return Skin(
            wet.entering + dry * (end.entering - wet.entering),
            wet.leaving + dry * (end.leaving - wet.leaving),
            wet.haze + dry * (end.haze - wet.haze),
        )

    def _room_for(self, added_ml: float) -> None:
        if self.volume_ml + added_ml > CUP_HOLDS_ML:
            raise BadInput(
                f"cup: {self.volume_ml:.1f} mL in it and {added_ml:.1f} mL more, it holds "
                f"{CUP_HOLDS_ML:g} mL; take a larger cup or pour some off"
            )

    def _needs_paint(self) -> None:
        if self._paint_ml.sum() <= 0.0:
            raise BadInput("cup: it is empty, wanted paint in it; add drops first")


def cup_seed(seed: int, number: int) -> int:
    """The seed of the ``number``-th cup of an evening: how its drops will fall."""
    return checked_seed(seed) * 1000 + number


def _whole(value: int, what: str, low: int, high: int) -> int:
    """``value`` if it is a whole number in range."""
    if isinstance(value, bool) or not isinstance(value, int | np.integer):
        raise BadInput(f"{what}: got {value!r}, wanted a whole number from {low} to {high}")
    if not low <= value <= high:
        raise BadInput(f"{what}: got {value}, wanted {low} to {high}")
    return int(value)
