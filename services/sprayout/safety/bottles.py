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

    ``ml`` is ``None`` where the volume is not known, as of paint weighed without its density.
    ``solvents`` are shares of the bottle by volume (water counts), ``None`` where not known;
    the rest as in ``Product``.
    """

    name: str
    ml: float | None
    solvents: tuple[Solvent, ...] | None = None
    two_part: bool | None = None
    label: str = ""
    pigments: tuple[str, ...] = ()
    solids_g_ml: float | None = None


def product_of(name: str, bottles: Sequence[Bottle]) -> Product:
    """The cup as one product: solvents and solids by volume, labels and pigments together.

    Two-part if one bottle is, not known if one is not known.  Solids are ``None`` if those of one
    bottle are not known.  A bottle of unknown volume is an unknown one, whatever is in it; its
    solvents are named, with a share of 0, for some are refused at any.  An empty cup raises
    ``BadInput``.
    """
    if not bottles:
        raise BadInput(f"{name}: got an empty cup, wanted at least one bottle; add paint first")
    volumes = [above_zero(f"{b.name} in the cup", b.ml, "mL") for b in bottles if b.ml is not None]
    whole_ml = sum(volumes) or 1.0
    shares: dict[str, float] = {}
    for bottle in bottles:
        for solvent in bottle.solvents or ():
            part = (
                fraction(f"share of {solvent.name}", solvent.share) * (bottle.ml or 0.0) / whole_ml
            )
            shares[solvent.name] = shares.get(solvent.name, 0.0) + part
    return Product(
        name=name,
        solvents=tuple(Solvent(solvent, share) for solvent, share in shares.items()),
        two_part=_two_part(bottles),
        label="\n".join(f"{bottle.name}\n{bottle.label}" for bottle in bottles),
        pigments=tuple(pigment for bottle in bottles for pigment in bottle.pigments),
        solids_g_ml=_solids(bottles, whole_ml),
        unknown_bottles=tuple(filter(None, map(_unknown, bottles))),
    )


def _unknown(bottle: Bottle) -> str:
    if bottle.ml is None:
        return f"{bottle.name} (how much went in is not known)"
    return "" if bottle.solvents else bottle.name


def _two_part(bottles: Sequence[Bottle]) -> bool | None:
    said = {bottle.two_part for bottle in bottles}
    return True if True in said else (None if None in said else False)


def _solids(bottles: Sequence[Bottle], whole_ml: float) -> float | None:
    grams = 0.0
    for bottle in bottles:
        if bottle.solids_g_ml is None or bottle.ml is None:
            return None
        grams += not_below_zero(f"solids of {bottle.name}", bottle.solids_g_ml) * bottle.ml
    return grams / whole_ml
