"""What is sprayed, in a JSON request: one product as sprayed, or the bottles poured together."""

from collections.abc import Mapping
from dataclasses import replace

from sprayout.errors import BadInput
from sprayout.safety.bottles import Bottle, product_of
from sprayout.safety.given import above_zero, fraction
from sprayout.safety.json_fields import number_of, only, shares
from sprayout.safety.load import Product, Solvent

_CONTENTS = ("name", "solvents", "two_part", "label", "pigments", "solids_g_ml")
_SHEET = ("data_sheet_limits_ppm", "dust_limit_mg_m3")


def parse_product(given: Mapping[str, object]) -> Product:
    """``{"name","solvents": {name: share},"two_part","label","pigments","solids_g_ml"}``.

    Or ``{"name","bottles": [{…the same…, "ml"}…]}``.  Either may carry the data sheet's
    ``data_sheet_limits_ppm`` and ``dust_limit_mg_m3``.
    """
    only(given, (*_CONTENTS, *_SHEET, "bottles"), "product")
    bottles = given.get("bottles")
    name = str(given.get("name") or "unnamed")
    product = _as_sprayed(given) if bottles is None else product_of(name, _bottles(given, bottles))
    limits = shares(given, "data_sheet_limits_ppm")
    dust = number_of(given, "dust_limit_mg_m3", "product")
    return replace(
        product,
        data_sheet_limits_ppm=tuple((n, above_zero(f"limit of {n}", v)) for n, v in limits.items()),
        dust_limit_mg_m3=None if dust is None else above_zero("dust limit", dust, "mg/m³"),
    )


def _as_sprayed(given: Mapping[str, object]) -> Product:
    return Product(
        name=str(given.get("name") or "unnamed"),
        solvents=_solvents(given) or (),
        two_part=_two_part(given),
        label=str(given.get("label") or ""),
        pigments=_pigments(given),
        solids_g_ml=number_of(given, "solids_g_ml", "product"),
    )


def _bottles(given: Mapping[str, object], bottles: object) -> list[Bottle]:
    twice = [name for name in _CONTENTS[1:] if given.get(name) is not None]
    if twice:
        raise BadInput(f"product: got bottles and {twice[0]}, wanted one; put it in its bottle")
    if not isinstance(bottles, list | tuple) or not all(isinstance(b, Mapping) for b in bottles):
        raise BadInput(f"product bottles: got {bottles!r}, wanted a list of objects; one a bottle")
    return [_bottle(bottle) for bottle in bottles]


def _bottle(given: Mapping[str, object]) -> Bottle:
    only(given, (*_CONTENTS, "ml"), "bottle")
    name = str(given.get("name") or "unnamed bottle")
    ml = number_of(given, "ml", f"bottle {name}")
    if "ml" not in given:
        raise BadInput(f"bottle {name}: ml is missing, wanted a number; say how much went in")
    return Bottle(
        name,
        None if ml is None else above_zero(f"bottle {name} ml", ml, "mL"),
        _solvents(given),
        _two_part(given),
        str(given.get("label") or ""),
        _pigments(given),
        number_of(given, "solids_g_ml", "product"),
    )


def _solvents(given: Mapping[str, object]) -> tuple[Solvent, ...] | None:
    named = shares(given, "solvents").items()
    return tuple(Solvent(n, fraction(f"share of {n}", v)) for n, v in named) or None


def _two_part(given: Mapping[str, object]) -> bool | None:
    value = given.get("two_part")
    if value is None or isinstance(value, bool):
        return value
    raise BadInput(f"product two_part: got {value!r}, wanted true, false or null; say which")


def _pigments(given: Mapping[str, object]) -> tuple[str, ...]:
    pigments = given.get("pigments") or []
    if not isinstance(pigments, list | tuple):
        raise BadInput(f"product pigments: got {pigments!r}, wanted a list of names; use []")
    return tuple(str(pigment) for pigment in pigments)
