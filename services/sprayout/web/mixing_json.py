"""What the mixing room answers, as JSON: advice, choices of a recipe, the guide to swatches."""

from dataclasses import replace
from typing import Any

from sprayout.acts.advising import Said
from sprayout.acts.guiding import GuidedStep, PaintGuide, ShelfGuide
from sprayout.acts.shelf import Shelf
from sprayout.mixing.guide import SwatchAdvice
from sprayout.mixing.recipe import Recipe, RecipeBook
from sprayout.mixing.steer import WhatIf
from sprayout.mixing.steer_json import advice_to_json, recipe_to_json
from sprayout.mixing.values import Shelf as MixingShelf
from sprayout.mixing.weighing import weighed

Json = dict[str, Any]

NAMES = {
    "recommended": "recommended",
    "closest": "closest",
    "cheapest": "cheapest",
    "least metameric": "steadiest under other light",
}


def advice_json(said: Said, shelf: Shelf) -> Json:
    """Return the next addition with what it should come to, or why there is none."""
    advice = said.advice
    beside: Json = {
        "aim": "dry" if said.aim.shifts else "wet",
        "dry": dry_json(said),
        "notes": list(said.notes),
    }
    if advice is None:
        return {"add": [], "words": said.words, "done": False, "predicted_de00": None, **beside}
    return {
        **advice_to_json(advice),
        "add": [drops_json(shelf, paint, drops) for paint, drops in advice.add],
        "words": said.words,
        "u95_de00": round(float(advice.predicted_u95_de00), 2),
        **beside,
    }


def drops_json(shelf: Shelf, paint: str, drops: float) -> Json:
    """Return drops of a paint and what they weigh; null where its density is not entered."""
    grams = shelf.grams(paint, drops)
    return {"paint": paint, "drops": drops, "grams": None if grams is None else round(grams, 3)}


def dry_json(said: Said) -> Json | None:
    """Return the cup with the advice in it as it will look dry; null where it aims at wet."""
    dry: WhatIf | None = said.dry
    if not said.aim.shifts:
        return None
    unknown = {"lab_d65_10": None, "de00": None, "u95_de00": None}
    return {
        **(unknown if dry is None else look_json(dry)),
        "assumed": said.aim.assumed,
        "words": list(said.aim.words()),
    }


def look_json(look: WhatIf) -> Json:
    """Return a predicted colour with its distance from the target and its radius."""
    return {
        "lab_d65_10": [round(float(v), 2) for v in look.lab],
        "de00": round(look.de00, 2),
        "u95_de00": round(look.u95_de00, 2),
    }


def book_json(
    book: RecipeBook, shelf: Shelf, mixing: MixingShelf, total_g: float | None, step_g: float
) -> Json:
    """Return the recipe as the command does, and all choices with their names and words."""
    return {
        **recipe_to_json(book),
        "choices": [
            choice_json(recipe, book, shelf, mixing, total_g, step_g) for recipe in book.choices
        ],
    }


def choice_json(
    recipe: Recipe,
    book: RecipeBook,
    shelf: Shelf,
    mixing: MixingShelf,
    total_g: float | None = None,
    step_g: float = 0.01,
) -> Json:
    """Return one choice: what it is, drop by drop and by weight, and in words."""
    one = replace(book, recipe=recipe, alternatives=(), missing=None)
    figures = {k: v for k, v in recipe_to_json(one).items() if k not in ("alternatives", "missing")}
    return {
        "kind": recipe.kind,
        "name": NAMES[recipe.kind],
        "also": list(recipe.also),
        "words": recipe.words(),
        **figures,
        "recipe": [drops_json(shelf, paint, drops) for paint, drops in recipe.drops],
        "weighed": weighed_json(recipe, shelf, mixing, total_g, step_g),
    }


def weighed_json(
    recipe: Recipe, shelf: Shelf, mixing: MixingShelf, total_g: float | None, step_g: float
) -> Json:
    """Return the recipe for a scale; names the paints whose density is missing where one is."""
    unknown = [paint for paint, _ in recipe.drops if shelf.density_g_ml(paint) is None]
    if unknown:
        words = f"no grams: enter the density of {', '.join(unknown)} (weigh 10 mL)"
        return {"grams": None, "density_missing": unknown, "words": words}
    asked_g = total_g or sum(shelf.grams(paint, n) or 0.0 for paint, n in recipe.drops)
    found = weighed(recipe.drops, mixing, max(asked_g, 10 * step_g), step_g)
    words = " + ".join(f"{grams:g} g {paint}" for paint, grams in found.grams)
    return {
        "grams": [{"paint": paint, "grams": grams} for paint, grams in found.grams],
        "total_g": round(found.total_g, 4),
        "worst_share_error_pct": round(found.worst_share_error_pct, 1),
        "density_missing": [],
        "words": words,
    }


def guide_json(guide: ShelfGuide) -> Json:
    """Return the guide to the next swatches."""
    return {
        "first": None if guide.first is None else _advice(guide.first),
        "paints": [_paint_guide(one) for one in guide.paints],
        "notes": list(guide.notes),
    }


def _paint_guide(guide: PaintGuide) -> Json:
    first = next((step for step in guide.steps if not step.done), None)
    best = None if guide.best is None else _advice(guide.best)
    if best is None and first is not None and guide.swatches == 0:
        best = {**_step(first), "u95_before_de00": None, "u95_after_de00": None}
    return {
        "paint": guide.paint,
        "swatches": guide.swatches,
        "next": best,
        "words": guide.words,
        "steps": [_step(step) for step in guide.steps],
    }


def _advice(advice: SwatchAdvice) -> Json:
    return {
        "paint": advice.paint,
        "parts": dict(advice.parts),
        "over": list(advice.over),
        "what": advice.what(),
        "u95_before_de00": round(advice.u95_before_de00, 2),
        "u95_after_de00": round(advice.u95_after_de00, 2),
        "words": advice.words(),
    }


def _step(step: GuidedStep) -> Json:
    return {
        "parts": dict(step.swatch.parts),
        "over": list(step.swatch.over),
        "why": step.swatch.why,
        "done": step.done,
    }
