"""The JSON of ``sprayout steer`` and ``sprayout recipe``: the first line, readings, answers."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from sprayout.colour.tristimulus import Spectrum
from sprayout.errors import BadInput
from sprayout.mixing.missing import Missing
from sprayout.mixing.recipe import Recipe, RecipeBook
from sprayout.mixing.steer import Advice
from sprayout.mixing.steering import Limits
from sprayout.mixing.values import Base, Paint, Shelf, Swatch, Target

Json = Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Task:
    """The first line: what to mix from, towards what, within which limits."""

    shelf: Shelf
    target: Target
    limits: Limits


def parse_task(line: object) -> Task:
    """The first line; raises BadInput naming the field."""
    given = _object(line, "first line")
    tolerance = _number(given.get("tolerance_de00", 1.0), "tolerance_de00")
    drop_ml = _number(given.get("drop_ml", 0.05), "drop_ml")
    if "target" not in given:
        raise BadInput("target: missing; give wavelength_nm and reflectance, or lab_d65_10")
    return Task(
        shelf=parse_shelf(given, drop_ml),
        target=parse_target(given["target"], tolerance),
        limits=Limits(
            drops_max=_whole(given.get("drops_max", 200), "drops_max"),
            paints_max=_whole(given.get("paints_max", 4), "paints_max"),
        ),
    )


def parse_shelf(given: Json, drop_ml: float = 0.05) -> Shelf:
    """``paints`` and ``white_paint`` of the first line."""
    listed = given.get("paints")
    if not isinstance(listed, list):
        raise BadInput("paints: wanted a list of paints, each with name and swatches")
    white = given.get("white_paint")
    if white is not None and not isinstance(white, str):
        raise BadInput(f"white_paint: got {white!r}, wanted the name of a paint, or null")
    return Shelf(tuple(_paint(item, drop_ml) for item in listed), white)


def _paint(item: object, drop_ml: float) -> Paint:
    given = _object(item, "paints")
    name = given.get("name")
    if not isinstance(name, str):
        raise BadInput(f"paints: got name {name!r}, wanted the name on the bottle")
    swatches = given.get("swatches", [])
    if not isinstance(swatches, list):
        raise BadInput(f"{name}: swatches must be a list; give a list, even of one")
    price = given.get("price_per_ml")
    left = given.get("left_ml")
    return Paint(
        name=name,
        swatches=tuple(_swatch(one, name) for one in swatches),
        family=given.get("family", "enamel"),
        finish=str(given.get("finish", "gloss")),
        drop_ml=_number(given.get("drop_ml", drop_ml), f"{name}: drop_ml"),
        left_ml=None if left is None else _number(left, f"{name}: left_ml"),
        density_g_ml=_number(given.get("density_g_ml", 1.0), f"{name}: density_g_ml"),
        price_per_ml=None if price is None else _number(price, f"{name}: price_per_ml"),
    )


def _swatch(item: object, paint: str) -> Swatch:
    given = _object(item, f"{paint}: swatch")
    parts = given.get("parts", {paint: 1.0})
    if not isinstance(parts, dict):
        raise BadInput(f'{paint}: parts must be an object of paint and parts, as {{"{paint}": 1}}')
    over: Base | None = given.get("over")
    sd = given.get("reflectance_sd")
    return Swatch(
        parts=tuple((str(k), _number(v, f"{paint}: parts of {k}")) for k, v in parts.items()),
        spectrum=parse_spectrum(given, f"swatch of {paint}"),
        over=over,
        sd=None if sd is None else _numbers(sd, f"{paint}: reflectance_sd"),
    )


def parse_target(item: object, tolerance_de00: float = 1.0) -> Target:
    """``target`` of the first line."""
    given = _object(item, "target")
    if "lab_d65_10" in given:
        if "reflectance" in given:
            raise BadInput("target: got a spectrum and lab_d65_10, wanted one of the two")
        lab = _numbers(given["lab_d65_10"], "target: lab_d65_10")
        if len(lab) != 3:
            raise BadInput(f"target: lab_d65_10 has {len(lab)} numbers, wanted L*, a*, b*")
        return Target(None, (lab[0], lab[1], lab[2]), tolerance_de00)
    return Target(parse_spectrum(given, "target"), None, tolerance_de00)


def parse_reading(line: object) -> Spectrum:
    """A later line: ``{"reading": {"wavelength_nm": …, "reflectance": …}}``."""
    given = _object(line, "line")
    if "reading" not in given:
        raise BadInput('line: wanted {"reading": {"wavelength_nm": …, "reflectance": …}}')
    return parse_spectrum(_object(given["reading"], "reading"), "reading")


def parse_spectrum(given: Json, what: str) -> Spectrum:
    """``wavelength_nm`` and ``reflectance`` of any object."""
    return Spectrum(
        _numbers(given.get("wavelength_nm"), f"{what}: wavelength_nm"),
        _numbers(given.get("reflectance"), f"{what}: reflectance"),
    )


def advice_to_json(advice: Advice) -> dict[str, Any]:
    """One answer of ``steer``."""
    answer: dict[str, Any] = {
        "add": [{"paint": paint, "drops": drops} for paint, drops in advice.add],
        "predicted_de00": _rounded(advice.predicted_de00),
        "predicted_u95_de00": _rounded(advice.predicted_u95_de00),
        "predicted_lab_d65_10": [_rounded(v) for v in advice.predicted_lab],
        "now_de00": None if advice.now_de00 is None else _rounded(advice.now_de00),
        "total_drops": advice.total_drops,
        "done": advice.done,
        "reason": advice.reason,
    }
    if advice.nearest_de00 is not None:
        answer["nearest_de00"] = _rounded(advice.nearest_de00)
    if advice.missing is not None:
        answer["missing"] = missing_to_json(advice.missing)
    return answer


def recipe_to_json(book: RecipeBook) -> dict[str, Any]:
    """The answer of ``recipe``."""
    return {
        **_one_recipe(book.recipe),
        "alternatives": [{"kind": other.kind, **_one_recipe(other)} for other in book.alternatives],
        "missing": None if book.missing is None else missing_to_json(book.missing),
    }


def _one_recipe(recipe: Recipe) -> dict[str, Any]:
    return {
        "recipe": [{"paint": paint, "drops": drops} for paint, drops in recipe.drops],
        "predicted_de00": _rounded(recipe.de00),
        "predicted_u95_de00": _rounded(recipe.u95_de00),
        "predicted_lab_d65_10": [_rounded(v) for v in recipe.lab],
        "total_drops": recipe.total_drops,
        "metameric_de00": None
        if recipe.metameric_de00 is None
        else _rounded(recipe.metameric_de00),
        "price": None if recipe.price is None else round(recipe.price, 4),
    }


def missing_to_json(missing: Missing) -> dict[str, Any]:
    """The colour that is missing."""
    return {
        "lab_d65_10": [_rounded(v) for v in missing.lab_d65_10],
        "words": missing.words,
        "nearest": missing.nearest,
    }


def _rounded(value: float) -> float:
    return round(float(value), 4)


def _object(item: object, what: str) -> Json:
    if not isinstance(item, dict):
        raise BadInput(f"{what}: got {type(item).__name__}, wanted a JSON object; correct the line")
    return item


def _number(value: object, what: str) -> float:
    if isinstance(value, bool) or not isinstance(value, (int, float)) or not math.isfinite(value):
        raise BadInput(f"{what}: got {value!r}, wanted a number; correct it")
    return float(value)


def _whole(value: object, what: str) -> int:
    number = _number(value, what)
    if number != int(number):
        raise BadInput(f"{what}: got {value!r}, wanted a whole number; correct it")
    return int(number)


def _numbers(values: object, what: str) -> tuple[float, ...]:
    if not isinstance(values, (list, tuple)):
        raise BadInput(f"{what}: got {type(values).__name__}, wanted a list of numbers; give it")
    return tuple(_number(value, what) for value in values)
