"""The whole recipe for a target before a bottle is opened, with a choice of others.

The one named first has the fewest paints that come as close as any choice does, give or take what
nobody sees, in the smallest cup that can hold the ratio.  Beside it stand the closest, the cheapest
and, where the target is a spectrum, the one least metameric.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
import numpy.typing as npt

from sprayout.errors import BadInput
from sprayout.mixing.belief import Belief
from sprayout.mixing.goal import Goal
from sprayout.mixing.metamerism import metameric_de00
from sprayout.mixing.missing import Missing, missing_colour
from sprayout.mixing.outlook import Outlook, outlook
from sprayout.mixing.search import Blend, blends, each_once, whole_drops
from sprayout.mixing.steer import Lab, Steering
from sprayout.mixing.steering import Limits, palette_of, seen_after
from sprayout.mixing.values import Shelf

Array = npt.NDArray[np.float64]
Whole = npt.NDArray[np.int64]
Kind = Literal["recommended", "closest", "cheapest", "least metameric"]

_SLACK_SHARE = 0.15
_CHUNK = 40_000
_JUDGED_EACH = 6
_PAINT_COST, _DROP_COST = 0.15, 0.004
"""What a paint more, and a drop more, must gain in expected CIEDE2000."""


_WHY: dict[Kind, str] = {
    "recommended": "fewest paints and smallest cup of those as close as makes no odds",
    "closest": "closest to the target, whatever it takes",
    "cheapest": "least money of those near enough",
    "least metameric": "holds the match best under a warm lamp",
}


@dataclass(frozen=True, slots=True)
class Recipe:
    """Whole drops of each paint, light paint first, and what they should give.

    ``metameric_de00``: how far apart target and recipe would stand under a warm lamp if they
    matched in daylight, or None without a spectrum.  ``price``: in the shelf's money, or None.
    ``also``: the other choices that come to the same recipe.
    """

    kind: Kind
    drops: tuple[tuple[str, int], ...]
    lab: Lab
    de00: float
    u95_de00: float
    metameric_de00: float | None
    price: float | None
    also: tuple[Kind, ...] = ()

    @property
    def total_drops(self) -> int:
        return sum(n for _, n in self.drops)

    def words(self) -> str:
        """One sentence: why it is offered, what it takes, what it should come to."""
        paints = "1 paint" if len(self.drops) == 1 else f"{len(self.drops)} paints"
        drops = "1 drop" if self.total_drops == 1 else f"{self.total_drops} drops"
        said = (
            f"{self._why()}: {drops} of {paints} should come to {self.de00:.1f} CIEDE2000, give "
            f"or take {self.u95_de00:.1f}"
        )
        if self.metameric_de00 is not None:
            said += f"; under a warm lamp {self.metameric_de00:.1f} apart"
        return said if self.price is None else f"{said}; costs {self.price:.2f}"

    def _why(self) -> str:
        if self.kind == "cheapest" and self.price is None:
            return "least paint of those near enough (enter prices, and money is counted)"
        return _WHY[self.kind]


@dataclass(frozen=True, slots=True)
class RecipeBook:
    """The recipe, other choices, and what the shelf lacks when none is within the tolerance."""

    recipe: Recipe
    alternatives: tuple[Recipe, ...]
    missing: Missing | None

    @property
    def choices(self) -> tuple[Recipe, ...]:
        """All that there is to choose from, the recommended one first."""
        return (self.recipe, *self.alternatives)

    def kinds(self) -> tuple[Kind, ...]:
        """What may be asked for by name."""
        return tuple(kind for recipe in self.choices for kind in (recipe.kind, *recipe.also))

    def named(self, kind: Kind) -> Recipe | None:
        """The recipe of that kind, be it the same as another."""
        return next((r for r in self.choices if kind == r.kind or kind in r.also), None)


@dataclass(frozen=True, slots=True)
class _Found:
    """Every whole-drop recipe tried: drops (n, paints), CIEDE2000, paints and total of each."""

    drops: Whole
    de00: Array
    paints: npt.NDArray[np.intp]
    total: npt.NDArray[np.int64]


def recipes(state: Steering) -> RecipeBook:
    """The recipe for the state's target from an empty cup."""
    if state.history.pours:
        raise BadInput("recipe: the cup is not empty; start a new cup for a whole recipe")
    belief = state.belief()
    found = search(belief, state.goal, state.limits)
    chosen: dict[Kind, int] = {
        "recommended": recommended(found, belief, state.goal),
        "closest": int(np.lexsort((found.total, found.de00.round(3)))[0]),
        "cheapest": _cheapest(found, state),
    }
    if state.goal.spectral:
        chosen["least metameric"] = _least_metameric(found, belief, state.goal)
    book = {kind: _recipe(kind, found.drops[i], belief, state) for kind, i in chosen.items()}
    lacking = None
    if found.de00.min() > state.goal.tolerance_de00:
        lacking = missing_colour(belief, state.goal, state.limits)
    first, *others = _distinct(book)
    return RecipeBook(first, tuple(others), lacking)


def _distinct(book: dict[Kind, Recipe]) -> list[Recipe]:
    """The choices that differ, the recommended first; each says which others it is too."""
    kinds: dict[tuple[tuple[str, int], ...], list[Kind]] = {}
    for kind, recipe in book.items():
        kinds.setdefault(recipe.drops, []).append(kind)
    return [replace(book[first], also=tuple(also)) for first, *also in kinds.values()]


def search(belief: Belief, goal: Goal, limits: Limits) -> _Found:
    """Every whole-drop recipe near the best blends of each number of paints."""
    palette = palette_of(belief)
    # In a small cup it is the rounding that decides: look at more sets of paints there.
    keep = int(np.clip(2400 // limits.drops_max, 12, 120))
    found = blends(palette, goal, limits.paints_max, keep)
    drops = _near(found, limits, keep)
    de00 = _judged(belief, goal, drops)
    drops, de00 = _polished(belief, goal, limits, drops, de00)
    return _Found(drops, de00, np.count_nonzero(drops, axis=1), drops.sum(axis=1))


def _near(found: list[Blend], limits: Limits, keep: int) -> Whole:
    totals = np.arange(1, limits.drops_max + 1, dtype=float)
    if limits.drops_max > 250:
        totals = np.unique(np.round(np.geomspace(1, limits.drops_max, 250)))
    taken: dict[int, int] = {}
    some: list[Whole] = []
    for blend in sorted(found, key=lambda blend: blend.de00):
        size = len(blend.paints)
        taken[size] = taken.get(size, 0) + 1
        if taken[size] <= keep:
            some.append(whole_drops(blend, totals, 0, limits.drops_max))
    return np.concatenate(some)


def _judged(belief: Belief, goal: Goal, drops: Whole) -> Array:
    """CIEDE2000 of each recipe from the target, (n,)."""
    parts = [
        goal.de00(goal.axis.lab(seen_after(belief, drops[at : at + _CHUNK])))
        for at in range(0, len(drops), _CHUNK)
    ]
    return np.concatenate(parts)


def _polished(
    belief: Belief, goal: Goal, limits: Limits, drops: Whole, de00: Array
) -> tuple[Whole, Array]:
    """One drop more, less or exchanged around the closest recipes, until nothing is gained."""
    tried = np.argsort(de00)[:24]
    pool = drops[tried]
    for _ in range(4):
        moved = _neighbours(pool, limits)
        if not len(moved):
            break
        near = _judged(belief, goal, moved)
        drops, de00 = np.concatenate([drops, moved]), np.concatenate([de00, near])
        pool = moved[np.argsort(near)[:24]]
        if near.min() > np.min(de00[: -len(near)]) - 1e-4:
            break
    return drops, de00


def _neighbours(pool: Whole, limits: Limits) -> Whole:
    paints = pool.shape[1]
    unit = np.eye(paints, dtype=np.int64)
    swap = (unit[:, None, :] - unit[None, :, :]).reshape(-1, paints)
    steps = np.concatenate([unit, -unit, swap])
    moved = (pool[:, None, :] + steps[None]).reshape(-1, paints)
    total = moved.sum(axis=1)
    fits = (moved.min(axis=1) >= 0) & (total > 0) & (total <= limits.drops_max)
    fits &= np.count_nonzero(moved, axis=1) <= limits.paints_max
    return each_once(moved[fits])


def recommended(found: _Found, belief: Belief, goal: Goal) -> int:
    """Fewest paints and smallest cup among those as close as makes no odds.

    Of each number of paints the smallest close cups are judged with their uncertainty: one paint
    more is taken only where it makes the outcome much surer.
    """
    enough = max(
        float(found.de00.min()) + _SLACK_SHARE * goal.tolerance_de00, 0.3 * goal.tolerance_de00
    )
    close = np.flatnonzero(found.de00 <= enough)
    best, least = int(close[0]), np.inf
    for paints in np.unique(found.paints[close]):
        same = close[found.paints[close] == paints]
        small = same[np.lexsort((found.de00[same], found.total[same]))][:_JUDGED_EACH]
        for i in small:
            look = outlook(belief, goal, found.drops[i].astype(float))
            cost = look.expected_de00 + _PAINT_COST * float(paints) + _DROP_COST * found.total[i]
            if cost < least:
                best, least = int(i), cost
    return best


def _cheapest(found: _Found, state: Steering) -> int:
    """Least money among those near enough; where no prices are known, least paint."""
    price = prices(state.shelf)
    cost = found.drops @ (price if price is not None else np.ones(found.drops.shape[1]))
    # Out of reach, money still counts among those that come about as near as any.
    nearest = float(found.de00.min()) + _SLACK_SHARE * state.goal.tolerance_de00
    close = np.flatnonzero(found.de00 <= max(nearest, 0.7 * state.goal.tolerance_de00))
    return int(close[np.lexsort((found.de00[close], cost[close]))[0]])


def prices(shelf: Shelf) -> Array | None:
    """Price of one drop of each paint, or None where a price is not known."""
    each = [paint.price_per_ml for paint in shelf.paints]
    if any(price is None for price in each):
        return None
    return np.array([p.drop_ml * (p.price_per_ml or 0.0) for p in shelf.paints])


def _least_metameric(found: _Found, belief: Belief, goal: Goal) -> int:
    allowed = max(float(found.de00.min()) + 0.1, 0.5 * goal.tolerance_de00)
    close = np.flatnonzero(found.de00 <= allowed)
    close = close[np.argsort(found.de00[close])[:2000]]
    apart = metameric_de00(goal, seen_after(belief, found.drops[close]))
    return int(close[np.argmin(apart)])


def _recipe(kind: Kind, drops: Whole, belief: Belief, state: Steering) -> Recipe:
    look: Outlook = outlook(belief, state.goal, drops.astype(float))
    lightness = belief.model.lab(np.eye(drops.size))[:, 0]
    order = sorted(np.flatnonzero(drops).tolist(), key=lambda p: -lightness[p])
    apart = None
    if state.goal.spectral:
        seen = seen_after(belief, drops[None, :])
        apart = float(metameric_de00(state.goal, seen)[0])
    price = prices(state.shelf)
    return Recipe(
        kind=kind,
        drops=tuple((state.shelf.names[p], int(drops[p])) for p in order),
        lab=(float(look.lab[0]), float(look.lab[1]), float(look.lab[2])),
        de00=look.de00,
        u95_de00=look.u95_de00,
        metameric_de00=apart,
        price=None if price is None else float(price @ drops),
    )
