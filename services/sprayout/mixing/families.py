"""Paints of one family at a time: an enamel stirred into a lacquer curdles.

Common practice, no source: enamel, lacquer and acrylic are not mixed in one cup, each is thinned
with its own reducer.  The search itself knows nothing of families; here it is given one at a time.
"""

from __future__ import annotations

from dataclasses import replace

from sprayout.mixing.recipe import RecipeBook, recipes
from sprayout.mixing.steer import Advice, Steering, advise
from sprayout.mixing.values import Family


def only(steering: Steering, names: tuple[str, ...]) -> Steering:
    """The same cup with these paints to go on with, and whatever is in it already."""
    kept = tuple(n for n in steering.shelf.names if n in names or n in in_cup(steering))
    if kept == steering.shelf.names:
        return steering
    pours = tuple(
        replace(pour, paint=kept.index(steering.shelf.names[pour.paint]))
        for pour in steering.history.pours
    )
    return replace(
        steering,
        shelf=steering.shelf.only(kept),
        model=steering.model.only(kept),
        history=replace(steering.history, pours=pours),
    )


def in_cup(steering: Steering) -> tuple[str, ...]:
    """The paints that are in the cup."""
    drops = steering.history.drops(len(steering.shelf.names))
    return tuple(name for name, n in zip(steering.shelf.names, drops, strict=True) if n > 0)


def families_in_cup(steering: Steering) -> tuple[Family, ...]:
    """The families of what is in the cup; more than one is a cup that may curdle."""
    held = in_cup(steering)
    return tuple(dict.fromkeys(p.family for p in steering.shelf.paints if p.name in held))


def each_family(steering: Steering) -> tuple[Steering, ...]:
    """The ways to go on: with the cup's own family, or from an empty cup with any one of them."""
    paints = steering.shelf.paints
    held = families_in_cup(steering)
    ways = (held,) if held else tuple((f,) for f in dict.fromkeys(p.family for p in paints))
    return tuple(
        only(steering, tuple(paint.name for paint in paints if paint.family in way)) for way in ways
    )


def advise_in_family(steering: Steering) -> Advice:
    """The advice of the family that comes nearest to the target."""
    tolerance = steering.goal.tolerance_de00
    return min(
        (advise(way) for way in each_family(steering)),
        key=lambda one: (one.reason == "unreachable", max(one.predicted_de00, 0.5 * tolerance)),
    )


def recipes_in_family(steering: Steering) -> RecipeBook:
    """The recipes of the family that comes nearest to the target, from an empty cup."""
    tolerance = steering.goal.tolerance_de00
    return min(
        (recipes(way) for way in each_family(steering)),
        key=lambda book: (book.missing is not None, max(book.recipe.de00, 0.5 * tolerance)),
    )
