"""Enamel, lacquer and acrylic stay out of one another's cups."""

import dataclasses
from functools import cache

import numpy as np
import pytest

from sprayout.commands.benchmarks.mixing_runs import Setting, read, setting
from sprayout.mixing.families import (
    advise_in_family,
    each_family,
    families_in_cup,
    in_cup,
    only,
    recipes_in_family,
)
from sprayout.mixing.guide import partner_of
from sprayout.mixing.steer import Steering, advise, start
from sprayout.mixing.values import Shelf, Target

LACQUERS = ("ochre", "orange", "crimson", "green", "red oxide")


@cache
def place() -> Setting:
    """A shelf of which some bottles are lacquers, the white and the black among the enamels."""
    here = setting(17)
    paints = tuple(
        dataclasses.replace(p, family="lacquer" if p.name in LACQUERS else "enamel")
        for p in here.shelf.paints
    )
    return dataclasses.replace(here, shelf=Shelf(paints, "white"))


def cup(**shares: float) -> Steering:
    """An empty cup for a mixture of these paints."""
    here = place()
    volumes = np.array([shares.get(n.replace(" ", "_"), 0.0) for n in here.shelf.names])
    seen = read(here.bench, here.bench.reflectance(volumes))
    return start(here.shelf, Target(seen), model=here.model)


def kin(names) -> set[str]:
    return {"lacquer" if name in LACQUERS else "enamel" for name in names}


@pytest.mark.parametrize(
    "shares", [{"ochre": 0.6, "green": 0.4}, {"white": 0.7, "ultramarine": 0.3}]
)
def test_the_family_that_comes_nearest_is_taken_and_no_other(shares):
    state = cup(**shares)
    family = kin(name.replace("_", " ") for name in shares)
    advice, book = advise_in_family(state), recipes_in_family(state)
    assert kin(paint for paint, _ in advice.add) == family
    for recipe in book.choices:
        assert kin(paint for paint, _ in recipe.drops) == family
    assert advice.predicted_de00 < 1.0


def test_a_mixture_of_both_is_not_offered():
    """It could be matched only by stirring an enamel into a lacquer."""
    state = cup(white=0.5, red_oxide=0.5)
    assert len(kin(paint for paint, _ in recipes_in_family(state).recipe.drops)) == 1


def test_what_is_in_the_cup_decides():
    state = cup(white=0.7, ultramarine=0.3).add({"green": 10})
    assert in_cup(state) == ("green",) and families_in_cup(state) == ("lacquer",)
    (way,) = each_family(state)
    assert kin(way.shelf.names) == {"lacquer"}
    assert way.total_drops == 10 and in_cup(way) == ("green",)
    mixed = state.add({"white": 5})
    assert families_in_cup(mixed) == ("enamel", "lacquer")
    assert each_family(mixed) == (mixed,)


def test_a_narrowed_cup_advises_as_the_whole_one_where_it_would_take_no_more():
    state = cup(white=0.7, ultramarine=0.3).add({"white": 14})
    whole = advise(state)
    taken = tuple({"white", *(paint for paint, _ in whole.add)})
    narrow = advise(only(state, taken))
    assert dict(narrow.add).keys() == dict(whole.add).keys()
    assert narrow.predicted_de00 == pytest.approx(whole.predicted_de00, abs=0.3)


def test_a_paint_is_let_down_within_its_family():
    here = place()
    partners = {
        name: partner_of(here.shelf, here.model, i)[0] for i, name in enumerate(here.shelf.names)
    }
    assert partners["ultramarine"] == "white"
    assert partners["green"] is None  # no lacquer on this shelf is nearly white
    assert kin([partners["lemon"]]) == {"enamel"}
