"""What is in one cup: the bottles poured together, as one product.

A bottle of which nobody has said what is in it makes the whole cup unknown, however few drops of
it went in: two drops of hardener are a hardener.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from sprayout.errors import BadInput
from sprayout.safety.given import above_zero, fraction, not_below_zero
from sprayout.safety.load import Product, Solvent


@dataclass(frozen=True, slots=True)
class Bottle:
    """A paint or reducer and how much of it went into the cup.

    ``solvents`` are shares of the bottle by volume (water counts), ``None`` where not known;
    the rest as in ``Product``.
    """

    name: str
    ml: float
    solvents: tuple[Solvent, ...] | None = None
    two_part: bool | None = None
    label: str = ""
    pigments: tuple[str, ...] = ()
    solids_g_ml: float | None = None


def product_of(name: str, bottles: Sequence[Bottle]) -> Product:
    """The cup as one product: solvents and solids by volume, labels and pigments together.

    Two-part if one bottle is, not known if one is not known.  Solids are ``None`` if those of one
    bottle are not known.  An empty cup raises ``BadInput``.
    """
    if not bottles:
        raise BadInput(f"{name}: got an empty cup, wanted at least one bottle; add paint first")
    whole_ml = sum(above_zero(f"{bottle.name} in the cup", bottle.ml, "mL") for bottle in bottles)
    shares: dict[str, float] = {}
    for bottle in bottles:
        for solvent in bottle.solvents or ():
            part = fraction(f"share of {solvent.name}", solvent.share) * bottle.ml / whole_ml
            shares[solvent.name] = shares.get(solvent.name, 0.0) + part
    return Product(
        name=name,
        solvents=tuple(Solvent(solvent, share) for solvent, share in shares.items()),
        two_part=_two_part(bottles),
        label="\n".join(f"{bottle.name}\n{bottle.label}" for bottle in bottles),
        pigments=tuple(pigment for bottle in bottles for pigment in bottle.pigments),
        solids_g_ml=_solids(bottles, whole_ml),
        unknown_bottles=tuple(bottle.name for bottle in bottles if not bottle.solvents),
    )


def _two_part(bottles: Sequence[Bottle]) -> bool | None:
    said = {bottle.two_part for bottle in bottles}
    return True if True in said else (None if None in said else False)


def _solids(bottles: Sequence[Bottle], whole_ml: float) -> float | None:
    grams = 0.0
    for bottle in bottles:
        if bottle.solids_g_ml is None:
            return None
        grams += not_below_zero(f"solids of {bottle.name}", bottle.solids_g_ml) * bottle.ml
    return grams / whole_ml
