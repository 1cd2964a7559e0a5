"""What one coat gives off: vapour by substance, and mist, from the batch and the millilitres.

m = V * share * density; all of it is taken to evaporate while spraying, film and overspray
alike: an upper bound for the minutes of the coat.
"""

from dataclasses import dataclass

from sprayout.errors import BadInput
from sprayout.safety.given import above_zero, fraction, not_below_zero
from sprayout.safety.room_air import vapour_l_min
from sprayout.safety.substances import Substance, find
from sprayout.safety.wording import said

TRANSFER_SHARE = 0.2
"""Share of the solids that lands: the low end of what is assumed of airbrushes on small parts
(20 to 40 %, no published figure); the low end makes the most mist (source ``transfer``)."""


@dataclass(frozen=True, slots=True)
class Solvent:
    """One solvent of the batch as sprayed and its share by volume (0..1)."""

    name: str
    share: float


@dataclass(frozen=True, slots=True)
class Product:
    """The batch as sprayed, thinner included.

    ``solvents`` empty means nobody has said what is in it.  ``two_part`` is whether a hardener
    belongs to it, ``None`` where nobody has said.  ``label`` and ``pigments`` are read for words
    that need a professional.  ``data_sheet_limits_ppm`` are 8-h limits from its data sheet by
    solvent name; they outrank our tables, as does ``dust_limit_mg_m3`` for the mist.
    ``unknown_bottles`` went into the cup without anybody saying what is in them.
    """

    name: str
    solvents: tuple[Solvent, ...] = ()
    two_part: bool | None = None
    label: str = ""
    pigments: tuple[str, ...] = ()
    solids_g_ml: float | None = None
    data_sheet_limits_ppm: tuple[tuple[str, float], ...] = ()
    dust_limit_mg_m3: float | None = None
    unknown_bottles: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Coat:
    """How much is sprayed in how many minutes, and how many such coats in the evening."""

    sprayed_ml: float
    minutes: float
    coats: int = 1


@dataclass(frozen=True, slots=True)
class Vapour:
    """One substance in the air's way: mass, and rate while spraying."""

    substance: Substance
    grams: float
    mg_min: float
    l_min: float


@dataclass(frozen=True, slots=True)
class Load:
    """Vapours of one coat; ``unknown`` names what could not be worked out, and why."""

    vapours: tuple[Vapour, ...]
    unknown: tuple[str, ...]

    @property
    def complete(self) -> bool:
        """True where at least one vapour is known and none is missing."""
        return bool(self.vapours) and not self.unknown

    @property
    def l_min(self) -> float:
        """All known vapour together."""
        return sum(vapour.l_min for vapour in self.vapours)


def vapour_load(product: Product, coat: Coat, air_c: float | None = None) -> Load:
    """Vapour of each solvent: m = V share rho, G = m/M * V_m / t.

    A solvent that is not in our table, or without density or molar mass, stands under
    ``unknown``, and so does a batch of which less than half is named; water counts as named.
    Shares beyond 1 in sum raise ``BadInput``.
    """
    above_zero("sprayed", coat.sprayed_ml, "mL")
    above_zero("minutes", coat.minutes, "min")
    shares = [fraction(f"share of {s.name}", s.share) for s in product.solvents]
    if sum(shares) > 1.0 + 1e-9:
        raise BadInput(
            f"solvents of {product.name}: shares sum to {said(sum(shares))}, wanted at most 1 by "
            "volume; enter percentages divided by 100"
        )
    vapours: list[Vapour] = []
    unknown = [f"it is not known what is in {name}" for name in product.unknown_bottles]
    unknown += _unnamed(sum(shares))
    for solvent in (s for s in product.solvents if not _is_water(s.name)):
        found = _vapour(solvent, coat, air_c)
        if isinstance(found, Vapour):
            vapours.append(found)
        else:
            unknown.append(found)
    return Load(tuple(vapours), tuple(unknown))


NAMED_AT_LEAST = 0.5
"""Share of the batch that has to be named as solvents or water; what is left may be pigment and
binder, which seldom fill more than half (common practice, no source)."""


def _unnamed(named_share: float) -> list[str]:
    if named_share >= NAMED_AT_LEAST:
        return []
    return [f"only {named_share:.0%} of this batch is named as solvents or water"]


def _is_water(name: str) -> bool:
    return name.strip().casefold() in ("water", "7732-18-5")


def mist_mg_min(
    product: Product, coat: Coat, transfer_share: float = TRANSFER_SHARE
) -> float | None:
    """Overspray solids, m_solids (1 - TE) / t; ``None`` where the solids are not known."""
    if product.solids_g_ml is None:
        return None
    solids = not_below_zero("solids", product.solids_g_ml, "g/mL") * coat.sprayed_ml
    missed = 1.0 - fraction("transfer share", transfer_share)
    return solids * missed * 1000.0 / above_zero("minutes", coat.minutes, "min")


def _vapour(solvent: Solvent, coat: Coat, air_c: float | None) -> Vapour | str:
    try:
        substance = find(solvent.name)
    except BadInput:
        return f"we have no exposure data on {solvent.name}"
    density, mass = substance.density_kg_l, substance.molar_mass_g
    if density is None or mass is None or substance.kind == "particulate":
        return f"{substance.name}: no density and molar mass of a liquid solvent known"
    grams = coat.sprayed_ml * solvent.share * density.value
    mg_min = grams * 1000.0 / coat.minutes
    return Vapour(substance, grams, mg_min, vapour_l_min(mg_min, mass.value, air_c))
