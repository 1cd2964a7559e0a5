"""The whole room on a small virtual bench that is richer than the model; seeded, a few cases."""

import dataclasses
from functools import cache

import numpy as np
import pytest

from sprayout.colour.difference import ciede2000
from sprayout.colour.tristimulus import Spectrum, grid_to_lab
from sprayout.commands.benchmarks.mixing_runs import (
    Setting,
    one_drop_at_a_time,
    random_mixture,
    read,
    setting,
    shelf_of,
    steered,
    steering_without,
)
from sprayout.commands.benchmarks.mixing_truth import KINDS, WAVELENGTH_NM, bench
from sprayout.errors import BadInput
from sprayout.mixing.belief import CupHistory, learn
from sprayout.mixing.coats import CoatPlan, film_of, said_after, step_from_film
from sprayout.mixing.fit import fit_shelf
from sprayout.mixing.guide import guided_set, lacking, next_swatches, wanted_steps
from sprayout.mixing.missing import hue_name, missing_colour
from sprayout.mixing.recipe import recipes
from sprayout.mixing.steer import advise, start
from sprayout.mixing.steering import Limits
from sprayout.mixing.values import Paint, Shelf, Swatch, Target


@cache
def place(seed: int = 1) -> Setting:
    return setting(seed)


def drops_of(place: Setting, **drops: float) -> np.ndarray:
    return np.array([drops.get(name.replace(" ", "_"), 0.0) for name in place.shelf.names])


def target_of(place: Setting, shares: np.ndarray, **more: float) -> Target:
    return Target(read(place.bench, place.bench.reflectance(shares)), None, **more)


def test_unseen_mixtures_are_predicted_from_masstone_and_one_let_down():
    miss = []
    for seed in (1, 2, 3):
        for _ in range(20):
            drops = np.round(40 * random_mixture(place(seed).rng, 12))
            true = grid_to_lab(place(seed).bench.reflectance(drops * place(seed).bench.drop))
            miss.append(float(ciede2000(true, place(seed).model.lab(drops))))
    assert np.median(miss) < 1.2
    assert np.quantile(miss, 0.9) < 3.5


def test_more_swatches_make_the_fit_surer():
    drawn, spread = bench(4), []
    for letdowns in ((), (10,), (10, 3, 1)):
        model = fit_shelf(shelf_of(drawn, letdowns))
        spread.append(float(np.trace(model.covariance)))
    assert spread[0] > spread[1] > spread[2]


def test_one_paint_with_one_swatch_is_enough_to_start():
    drawn = bench(4)
    whole = shelf_of(drawn, ())
    shelf = Shelf((whole.paints[0], whole.paints[5]))
    book = recipes(start(shelf, Target(whole.paints[5].swatches[0].spectrum)))
    assert book.recipe.drops[0][0] == "signal red"
    assert book.recipe.de00 < 0.5


def test_one_white_swatch_alone_is_fitted_as_it_is():
    here = place()
    (white,) = [paint for paint in here.shelf.paints if paint.name == "white"]
    model = fit_shelf(Shelf((Paint("white", white.swatches[:1]),), "white"))
    assert model.residual_de00[0] < 0.3


def test_a_fine_spectrum_and_eight_bands_give_the_same_recipe_colour():
    """Swatches from a spectrum every 10 nm, readings from the bands: mixed in one cup."""
    drawn = dataclasses.replace(bench(5, centre_sd_nm=0.0), noise=1e-5)
    nm = WAVELENGTH_NM[4:65:2]

    def fine(volumes: np.ndarray) -> Spectrum:
        return Spectrum(tuple(nm), tuple(drawn.reflectance(volumes)[4:65:2]))

    unit = np.eye(12)
    paints = [
        Paint(
            name,
            (
                Swatch(((name, 1.0),), fine(unit[i])),
                Swatch(((name, 1.0), ("white", 10.0)), fine(unit[i] * drawn.drop + 10 * unit[0])),
            )[: 1 if i == 0 else 2],
        )
        for i, name in enumerate(drawn.names)
    ]
    shelf = Shelf(tuple(paints), "white")
    shares = 0.6 * unit[0] + 0.3 * unit[3] + 0.1 * unit[10]
    state = start(shelf, Target(fine(shares)))
    first = advise(state)
    volumes = sum(n * unit[drawn.names.index(p)] * drawn.drop for p, n in first.add)
    state = state.add(dict(first.add)).read(read(drawn, drawn.reflectance(volumes)))
    now = state.now_de00()
    true = float(
        ciede2000(grid_to_lab(drawn.reflectance(shares)), grid_to_lab(drawn.reflectance(volumes)))
    )
    assert now == pytest.approx(true, abs=0.6)


def test_steering_ends_within_the_tolerance_and_beats_one_drop_at_a_time():
    ours, theirs = [], []
    for seed in (11, 12):
        for _ in range(4):
            spectrum = place(seed).bench.reflectance(random_mixture(place(seed).rng, 12))
            ours.append(steered(place(seed), spectrum))
            theirs.append(one_drop_at_a_time(place(seed), spectrum))
    assert sum(run.success for run in ours) >= 7
    assert sum(run.overshot for run in ours) == 0
    readings = [len(run.true_de00) for run in ours]
    assert np.median(readings) <= 2
    assert np.sum(readings) < 0.2 * np.sum([len(run.true_de00) for run in theirs])


@pytest.mark.parametrize(("drops_max", "paints_max"), [(12, 2), (25, 3), (200, 6)])
def test_limits_are_kept(drops_max: int, paints_max: int):
    here = place(21)
    for _ in range(3):
        target = target_of(here, random_mixture(here.rng, 12))
        state = start(here.shelf, target, Limits(drops_max, paints_max), here.model)
        for _ in range(8):
            advice = advise(state)
            if advice.done:
                break
            state = state.add(dict(advice.add))
            assert state.total_drops == advice.total_drops <= drops_max
            drops = state.history.drops(12)
            assert np.count_nonzero(drops) <= paints_max
            state = state.read(read(here.bench, here.bench.reflectance(drops * here.bench.drop)))
        assert advice.done


def test_a_guarded_dose_is_less_than_the_plan_when_the_cup_is_tight():
    """Black in white from masstones alone: too much would need more white than there is room."""
    drawn = bench(9)
    whole = shelf_of(drawn, ())
    shelf = Shelf((whole.paints[0], whole.paints[1]), "white")
    shares = np.zeros(12)
    shares[[0, 1]] = 0.96, 0.04
    target = Target(read(drawn, drawn.reflectance(shares)))
    state = start(shelf, target, Limits(60, 2))
    plan, dose = recipes(state).recipe, dict(advise(state).add)
    ratio = dict(plan.drops)["black"] / dict(plan.drops)["white"]
    assert dose.get("black", 0) / dose["white"] < ratio


def test_what_if_says_what_advice_predicts():
    here = place()
    state = start(here.shelf, target_of(here, random_mixture(here.rng, 12)), model=here.model)
    advice = advise(state)
    what = state.what_if(dict(advice.add))
    assert what.de00 == pytest.approx(advice.predicted_de00)
    assert what.lab == pytest.approx(advice.predicted_lab)
    assert what.total_drops == advice.total_drops
    assert state.total_drops == 0


def test_a_reading_of_another_cup_is_refused_and_nothing_changes():
    here = place()
    state = start(
        here.shelf, target_of(here, drops_of(here, white=0.7, ochre=0.3)), model=here.model
    )
    state = state.add({"white": 20, "ochre": 8})
    other = read(here.bench, here.bench.reflectance(drops_of(here, ultramarine=1.0)))
    with pytest.raises(BadInput, match="right cup"):
        state.read(other)
    assert state.history.readings == ()


def test_readings_teach_the_strength_of_a_bottle():
    """A bottle whose drops are twice the swatches' is found out by two readings."""
    here = place()
    state = start(
        here.shelf, target_of(here, drops_of(here, white=0.8, green=0.2)), model=here.model
    )
    volumes = np.zeros(12)
    before = state.model.lab(drops_of(here, white=10, green=4))
    for dose in ({"white": 20, "green": 4}, {"white": 5, "green": 3}):
        state = state.add(dose)
        for paint, drops in dose.items():
            strength = 2.0 if paint == "green" else 1.0
            volumes += strength * drops * drops_of(here, **{paint: 1.0}) * here.bench.drop
        state = state.read(read(here.bench, here.bench.reflectance(volumes)))
    belief = state.belief()
    after = belief.model.axis.lab(
        here.model.surface.seen(
            1 / (1 + (r := np.exp(belief.log_ratio(np.zeros(12)))) + np.sqrt(r * (r + 2)))
        )
    )
    true = grid_to_lab(here.bench.reflectance(volumes))
    assert ciede2000(true, after) < 1.0 < ciede2000(true, before)


def test_the_missing_colour_is_near_the_paint_taken_off():
    here, off = place(31), KINDS.index("lemon")
    shares = drops_of(here, white=0.3, lemon=0.7)
    state = steering_without(here, off, here.bench.reflectance(shares))
    book = recipes(state)
    assert book.recipe.de00 > 1.0
    assert book.missing is not None
    masstone = grid_to_lab(here.bench.reflectance(np.eye(12)[off]))
    assert ciede2000(masstone, np.asarray(book.missing.lab_d65_10)) < 15
    assert "yellow" in book.missing.words
    whole = start(here.shelf, state.target, model=here.model)
    assert recipes(whole).recipe.de00 < 1.0


def test_steer_says_unreachable_before_a_bottle_is_opened():
    here = place(31)
    state = steering_without(
        here, KINDS.index("lemon"), here.bench.reflectance(drops_of(here, white=0.3, lemon=0.7))
    )
    advice = advise(state)
    assert advice.done
    assert advice.reason == "unreachable"
    assert advice.add == ()
    assert advice.nearest_de00 is not None
    assert advice.nearest_de00 > 1.0
    assert advice.missing == missing_colour(state.belief(), state.goal, state.limits)


@pytest.mark.parametrize(
    ("lab", "name"),
    [
        ((50.0, 60.0, 35.0), "red"),
        ((80.0, 5.0, 80.0), "yellow"),
        ((40.0, -45.0, 15.0), "green"),
        ((30.0, 20.0, -55.0), "blue"),
        ((95.0, 0.0, 1.0), "white"),
        ((30.0, 20.0, 25.0), "brown"),
    ],
)
def test_hue_names(lab: tuple[float, float, float], name: str):
    assert hue_name(lab) == name


def test_guide_names_the_let_down_that_is_missing():
    here = place()
    paints = tuple(
        Paint(p.name, p.swatches[:1] if p.name == "violet" else p.swatches)
        for p in here.shelf.paints
    )
    shelf = Shelf(paints, "white")
    best = next_swatches(shelf, fit_shelf(shelf))[0]
    assert best.paint == "violet"
    assert best.parts == (("violet", 1), ("white", 10))
    assert best.u95_after_de00 < 0.7 * best.u95_before_de00
    assert "violet" in best.words()


def test_a_film_over_one_card_asks_for_the_other():
    here = place()
    paints = [p for p in here.shelf.paints if p.name in ("white", "violet")]
    violet = next(p for p in paints if p.name == "violet")
    film = here.bench.film(drops_of(here, violet=1), 0.3, np.full(81, 0.02))
    over_black = Swatch((("violet", 1.0),), read(here.bench, film), "black")
    kept = tuple(s for p in paints for s in p.swatches if set(dict(s.parts)) <= {"white", "violet"})
    ours = tuple(s for s in kept if "violet" in dict(s.parts))
    shelf = Shelf(
        (Paint("white", (kept[0],)), dataclasses.replace(violet, swatches=(*ours, over_black))),
        "white",
    )
    model = fit_shelf(shelf)
    missing = dict(lacking(shelf, model, 1))
    assert missing[("violet", 1),] == ("white",)
    advice = [one for one in next_swatches(shelf, model, 9) if one.over and one.paint == "violet"]
    assert [one.what() for one in advice] == ["one thin film of violet over white"]
    assert advice[0].gain_de00 >= 0


def test_the_guided_set_lets_light_paints_down_with_black():
    steps = guided_set("lemon", "black", light=True)
    assert steps[1].parts == (("lemon", 10), ("black", 1))
    assert steps[-1].over == ("black", "white")
    with pytest.raises(BadInput, match="itself"):
        guided_set("white", "white", light=True)


def test_a_light_paint_is_let_down_with_black_and_held_against_white_too():
    nm = tuple(float(v) for v in range(400, 701, 20))
    lemon, white, black = (
        Paint(name, (Swatch(((name, 1.0),), Spectrum(nm, (level,) * len(nm))),))
        for name, level in (("lemon", 0.6), ("white", 0.85), ("black", 0.05))
    )
    shelf = Shelf((lemon, white, black), "white")
    steps = wanted_steps(shelf, fit_shelf(shelf), 0)
    assert [step.parts for step in steps] == [
        (("lemon", 1),),
        (("lemon", 10), ("black", 1)),
        (("lemon", 3), ("black", 1)),
        (("lemon", 1),),
        (("lemon", 1), ("white", 10)),
    ]
    assert [parts for parts, _ in lacking(shelf, fit_shelf(shelf), 0)] == [
        step.parts for step in steps[1:]
    ]


def coat_plan(here: Setting, drops: np.ndarray, base: np.ndarray) -> CoatPlan:
    wanted = grid_to_lab(here.bench.reflectance(drops * here.bench.drop))
    state = start(here.shelf, target_of(here, drops), model=here.model)
    dose = {here.shelf.names[p]: int(drops[p]) for p in np.flatnonzero(drops)}
    state = state.add(dose).read(read(here.bench, here.bench.reflectance(drops * here.bench.drop)))
    lab = (float(wanted[0]), float(wanted[1]), float(wanted[2]))
    return CoatPlan(film_of(state.belief()), read(here.bench, base), lab)


def test_coats_two_to_four_follow_from_coat_one():
    here = place(41)
    drops = drops_of(here, white=12, ochre=6, green=2)
    volumes = drops * here.bench.drop
    base = here.bench.reflectance(drops_of(here, red_oxide=1.0, white=0.3))
    plan = coat_plan(here, drops, base)
    films = [here.bench.film(volumes / volumes.sum(), 0.9 * n, base) for n in range(1, 5)]
    unread = abs(plan.after(4).u95_de00)
    plan = plan.read(1, read(here.bench, films[0]))
    for coats in (2, 3, 4):
        true = grid_to_lab(films[coats - 1])
        assert ciede2000(true, np.asarray(plan.after(coats).lab)) < 2.3
    assert plan.after(4).u95_de00 < unread
    assert "another coat brings you to" in said_after(plan)


def test_a_wrong_mix_is_not_blamed_on_hiding():
    here = place(41)
    drops = drops_of(here, white=12, ochre=6, green=2)
    plan = dataclasses.replace(
        coat_plan(here, drops, here.bench.reflectance(drops)), target_lab=(30.0, 40.0, 20.0)
    )
    plan = plan.read(1, read(here.bench, here.bench.reflectance(drops * here.bench.drop)))
    assert said_after(plan).startswith("the mix is off, not the hiding")


def test_contrast_ratio_as_defined():
    """ISO 6504-3 / ASTM D2805: Y over black by Y over white; 0 thickness gives the card's own."""
    here = place(41)
    film = coat_plan(here, drops_of(here, white=10), here.bench.reflectance(np.eye(12)[1])).film
    assert film.contrast_ratio(1e-9) == pytest.approx(0.02 / 0.80, rel=1e-3)
    assert film.contrast_ratio(1e4) == pytest.approx(1.0)
    rising = [film.contrast_ratio(x) for x in (0.5, 1, 2, 4, 8)]
    assert rising == sorted(rising)
    assert film.contrast_ratio(50.0) > 0.98
    np.testing.assert_allclose(film.over(np.full(16, 0.1), 1e4), film.opaque())


def test_a_step_comes_from_the_film():
    assert step_from_film(36.0, 18.0) == 2.0
    with pytest.raises(BadInput, match="more than 0"):
        step_from_film(0.0)


def test_learning_nothing_changes_nothing():
    here = place()
    belief = learn(here.model, CupHistory())
    drops = drops_of(here, white=5, violet=1)
    np.testing.assert_allclose(
        here.model.axis.lab(
            here.model.surface.seen(
                1 / (1 + (r := np.exp(belief.log_ratio(drops))) + np.sqrt(r * (r + 2)))
            )
        ),
        here.model.lab(drops),
    )
