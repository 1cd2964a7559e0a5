"""Recipes against full enumeration, and the order in which they are preferred."""

from functools import cache
from itertools import combinations

import numpy as np
import pytest

from sprayout.commands.benchmarks.mixing_runs import Setting, random_mixture, read, setting
from sprayout.errors import BadInput
from sprayout.mixing.recipe import recipes
from sprayout.mixing.search import both_ways, each_once
from sprayout.mixing.steer import Steering, start
from sprayout.mixing.steering import Limits
from sprayout.mixing.values import Paint, Shelf, Target


@cache
def place() -> Setting:
    return setting(51)


def state_of(seed: int, limits: Limits, lab: bool = False) -> Steering:
    here = place()
    shares = random_mixture(np.random.default_rng(seed), 12)
    seen = read(here.bench, here.bench.reflectance(shares))
    if not lab:
        return start(here.shelf, Target(seen), limits, here.model)
    mixed = here.model.lab(shares)
    target = Target(None, (float(mixed[0]), float(mixed[1]), float(mixed[2])))
    return start(here.shelf, target, limits, here.model)


def enumerated(state: Steering, total: int, most: int) -> float:
    """Least CIEDE2000 of every recipe of exactly this many drops."""
    best = np.inf
    for size in range(1, most + 1):
        listed = list(combinations(range(1, total), size - 1))
        cuts = np.array(listed, dtype=int).reshape(len(listed), size - 1)
        ends = np.full((len(cuts), 1), total)
        parts = np.diff(np.hstack([0 * ends, cuts, ends]), axis=1)
        for subset in combinations(range(12), size):
            full = np.zeros((len(parts), 12))
            full[:, list(subset)] = parts
            lab = state.goal.axis.lab(state.model.reflectance(full))
            best = min(best, float(state.goal.de00(lab).min()))
    return best


@pytest.mark.parametrize("lab", [False, True], ids=["spectrum", "Lab"])
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_the_closest_recipe_is_as_close_as_enumeration(seed: int, lab: bool):
    state = state_of(seed, Limits(10, 3), lab)
    book = recipes(state)
    closest = min(r.de00 for r in (book.recipe, *book.alternatives))
    assert closest <= enumerated(state, 10, 3) + 0.05


@pytest.mark.parametrize("seed", range(5))
def test_a_book_keeps_its_limits_and_its_order(seed: int):
    state = state_of(seed, Limits(60, 4))
    book = recipes(state)
    for recipe in (book.recipe, *book.alternatives):
        assert 1 <= recipe.total_drops <= 60
        assert 1 <= len(recipe.drops) <= 4
        assert recipe.metameric_de00 is not None
        lightness = [
            state.model.lab(np.eye(12)[state.shelf.names.index(p)])[0] for p, _ in recipe.drops
        ]
        assert lightness == sorted(lightness, reverse=True)
    kinds = {r.kind: r for r in book.alternatives}
    if "closest" in kinds:
        assert kinds["closest"].de00 <= book.recipe.de00
    if "least metameric" in kinds:
        assert kinds["least metameric"].metameric_de00 <= book.recipe.metameric_de00


def test_the_masstone_itself_needs_one_paint_and_one_drop():
    here = place()
    seen = read(here.bench, here.bench.reflectance(np.eye(12)[7]))
    book = recipes(start(here.shelf, Target(seen), None, here.model))
    assert book.recipe.drops == (("violet", 1),)


def test_the_cheapest_counts_money_where_prices_are_known():
    here = place()
    paints = tuple(
        Paint(p.name, p.swatches, price_per_ml=9.0 if p.name == "violet" else 0.1)
        for p in here.shelf.paints
    )
    shares = random_mixture(np.random.default_rng(3), 12)
    seen = read(here.bench, here.bench.reflectance(shares))
    book = recipes(start(Shelf(paints, "white"), Target(seen), None, here.model))
    prices = [r.price for r in (book.recipe, *book.alternatives)]
    assert all(price is not None for price in prices)
    cheapest = next((r for r in book.alternatives if r.kind == "cheapest"), book.recipe)
    within = [r.price for r in (book.recipe, *book.alternatives) if r.de00 <= cheapest.de00]
    assert cheapest.price == min(within)


def test_a_whole_recipe_wants_an_empty_cup():
    state = state_of(1, Limits()).add({"white": 3})
    with pytest.raises(BadInput, match="not empty"):
        recipes(state)


def test_rounding_goes_both_ways_and_never_below_zero():
    rows = both_ways(np.array([[1.4, -0.6]]))
    assert {tuple(row) for row in rows.tolist()} == {(1, 0), (2, 0), (1, 1), (2, 1)}
    assert len(each_once(np.array([[1, 2], [1, 2], [2, 1]]))) == 2
