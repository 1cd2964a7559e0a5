"""``sprayout benchmark mixing``: every figure of the mixing room beside its goal.

The truth (``mixing_truth``) is richer than the model and shares no code with it.  Peers: a policy
of one drop at a time on the same targets, and full enumeration at exactly 20 drops.
"""

from __future__ import annotations

import time
from itertools import combinations
from typing import Any

import numpy as np
import numpy.typing as npt

from sprayout.colour.difference import ciede2000
from sprayout.colour.tristimulus import grid_to_lab
from sprayout.commands.benchmarks.mixing_runs import (
    LETDOWNS,
    Run,
    Setting,
    one_drop_at_a_time,
    random_mixture,
    read,
    setting,
    shelf_of,
    steered,
    steering_without,
)
from sprayout.commands.benchmarks.mixing_truth import KINDS, bench
from sprayout.mixing.axis import model_axis
from sprayout.mixing.belief import CupHistory, Pour, learn
from sprayout.mixing.coats import CoatPlan, film_of
from sprayout.mixing.fit import ShelfModel, fit_shelf
from sprayout.mixing.goal import Goal
from sprayout.mixing.missing import missing_colour
from sprayout.mixing.outlook import lab_spread, radius, sensor_spread
from sprayout.mixing.recipe import recipes
from sprayout.mixing.steer import start
from sprayout.mixing.steering import Limits
from sprayout.mixing.values import Target

Array = npt.NDArray[np.float64]
Figure = dict[str, Any]


def run(quick: bool, first_seed: int = 0) -> dict[str, object]:
    """Measure everything; ``quick`` takes fewer sets of paints: its shares are rough.

    ``first_seed``: where the sets of paints begin; 0 is what is judged, tune on others.
    """
    sets = 10 if quick else 30
    figures = [
        *_predictions(range(first_seed, first_seed + sets), 15 if quick else 30),
        *_steering(range(first_seed + 100, first_seed + 100 + sets), 4 if quick else 10),
        *_missing(range(first_seed + 200, first_seed + 200 + sets), 4 if quick else 6),
        *_coats(range(first_seed + 300, first_seed + 300 + sets), 2 if quick else 3),
        *_speed(quick),
    ]
    return {"figures": figures, "seeds_judged_from": first_seed}


def _figure(name: str, value: float, goal: str | None = None, met: bool | None = None) -> Figure:
    return {"figure": name, "value": float(f"{value:.4g}"), "goal": goal, "met": met}


def _at_most(name: str, value: float, goal: float) -> Figure:
    return _figure(name, value, f"at most {goal:g}", bool(value <= goal))


def _at_least(name: str, value: float, goal: float) -> Figure:
    return _figure(name, value, f"at least {goal:g}", bool(value >= goal))


def _predictions(seeds: range, mixtures: int) -> list[Figure]:
    goals = {"one let-down": (1.2, 3.5), "three-step let-down": (1.1, 3.0)}
    figures = []
    for known, letdowns in LETDOWNS.items():
        miss, held, floor = _unseen(seeds, mixtures, letdowns)
        median, tail = np.quantile(miss, [0.5, 0.9])
        goal = goals.get(known)
        names = (f"unseen mixtures, {known}: median CIEDE2000", f"unseen mixtures, {known}: p90")
        if goal is None:
            figures += [_figure(names[0], median), _figure(names[1], tail)]
        else:
            figures += [_at_most(names[0], median, goal[0]), _at_most(names[1], tail, goal[1])]
        share = 100 * float(np.mean(held))
        inside = bool(87 <= share <= 93)
        figures.append(_figure(f"90 % interval, {known}: held in %", share, "87 to 93", inside))
        if known == "one let-down":
            figures.append(_figure("reading the cup: median (floor)", float(np.median(floor))))
            figures.append(_figure("reading the cup: p90 (floor)", float(np.quantile(floor, 0.9))))
    return figures


def _unseen(seeds: range, mixtures: int, letdowns: tuple[int, ...]) -> tuple[Array, Array, Array]:
    """CIEDE2000 of predictions, whether the 90 % radius held, and CIEDE2000 of a reading."""
    miss, held, floor = [], [], []
    for seed in seeds:
        place = setting(seed, letdowns)
        belief = learn(place.model, CupHistory())
        for _ in range(mixtures):
            drops = np.round(40 * random_mixture(place.rng, len(place.shelf.names)))
            spectrum = place.bench.reflectance(place.bench.poured(drops))
            ratio = belief.log_ratio(drops)
            lab, spread = lab_spread(belief, model_axis(), ratio, belief.covariance(drops))
            true = grid_to_lab(spectrum)
            apart = float(ciede2000(lab, true))
            miss.append(apart)
            held.append(apart <= radius(lab, spread + sensor_spread(belief, lab, ratio), 0.9))
            sight = place.model.filters
            assert sight is not None
            seen = sight.axis.lab(np.asarray(read(place.bench, spectrum).reflectance))
            floor.append(float(ciede2000(seen, true)))
    return np.array(miss), np.array(held), np.array(floor)


def _steering(seeds: range, targets: int) -> list[Figure]:
    ours: list[Run] = []
    drop: list[Run] = []
    for seed in seeds:
        place = setting(seed)
        for _ in range(targets):
            shares = random_mixture(place.rng, len(place.shelf.names))
            spectrum = place.bench.reflectance(shares)
            ours.append(steered(place, spectrum))
            drop.append(one_drop_at_a_time(place, spectrum))
    success = 100 * float(np.mean([r.success for r in ours]))
    other = 100 * float(np.mean([r.success for r in drop]))
    readings = np.array([len(r.true_de00) for r in ours])
    others = np.array([len(r.true_de00) for r in drop])
    drops = np.array([r.drops for r in ours])
    steps = np.array([s for r in ours for s in r.step_s])
    return [
        _figure("targets steered to", float(len(ours))),
        _at_least("steering: truly within 1.0 in %", success, 95),
        _at_most("steering: readings, median", float(np.median(readings)), 2),
        _at_most("steering: readings, p90", float(np.quantile(readings, 0.9)), 4),
        _at_most("steering: overshoot in %", 100 * float(np.mean([r.overshot for r in ours])), 2),
        _figure("steering: drops, median", float(np.median(drops))),
        _at_most("steering: drops, p90", float(np.quantile(drops, 0.9)), 65),
        _figure("one drop at a time: truly within 1.0 in %", other),
        _figure("one drop at a time: readings, median", float(np.median(others))),
        _figure(
            "one drop at a time: overshoot in %", 100 * float(np.mean([r.overshot for r in drop]))
        ),
        _at_least("steering: more successes than one drop at a time, points", success - other, 20),
        _at_most("steering: readings as a part of theirs", readings.mean() / others.mean(), 0.2),
        _at_most("one steering step: median ms", 1e3 * float(np.median(steps)), 50),
    ]


def _missing(seeds: range, tries: int) -> list[Figure]:
    near, back = [], []
    for seed in seeds:
        place = setting(seed)
        for _ in range(tries):
            found = _taken_off(place)
            if found is not None:
                near.append(found[0])
                back.append(found[1])
    return [
        _figure("targets out of reach with one paint off the shelf", float(len(near))),
        _at_least("missing colour within 15 of the paint in %", 100 * float(np.mean(near)), 80),
        _at_least("that paint put back: recipe within 1.0 in %", 100 * float(np.mean(back)), 95),
    ]


def _taken_off(place: Setting) -> tuple[bool, bool] | None:
    """Whether the named colour is near the paint taken off, and whether the paint mends it."""
    count = len(place.shelf.names)
    off = int(place.rng.integers(1, count))
    others = place.rng.choice([i for i in range(count) if i != off], 2, replace=False)
    shares = np.zeros(count)
    shares[off] = place.rng.uniform(0.25, 1.0)
    shares[others] = place.rng.dirichlet(np.ones(2)) * (1 - shares[off])
    spectrum = place.bench.reflectance(shares)
    state = steering_without(place, off, spectrum)
    if recipes(state).recipe.de00 <= 1.5:
        return None
    missing = missing_colour(state.belief(), state.goal, state.limits)
    masstone = grid_to_lab(place.bench.reflectance(np.eye(count)[off]))
    apart = float(ciede2000(masstone, np.asarray(missing.lab_d65_10)))
    whole = start(place.shelf, state.target, model=place.model)
    return apart <= 15.0, recipes(whole).recipe.de00 <= 1.0


def _coats(seeds: range, pieces: int) -> list[Figure]:
    miss, held = [], []
    for seed in seeds:
        place = setting(seed)
        for _ in range(pieces):
            for apart, inside in _coated(place):
                miss.append(apart)
                held.append(inside)
    median, tail = np.quantile(miss, [0.5, 0.9])
    return [
        _at_most("coats 2-4 after coat 1 was read: median CIEDE2000", float(median), 0.9),
        _at_most("coats 2-4 after coat 1 was read: p90", float(tail), 2.3),
        _figure("coats 2-4: 95 % radius held in %", 100 * float(np.mean(held))),
    ]


def _coated(place: Setting) -> list[tuple[float, bool]]:
    """Coats two to four of one mixture over a random old paint, coats scattering by 10 %."""
    rng, count = place.rng, len(place.shelf.names)
    drops = np.round(30 * random_mixture(rng, count))
    volumes = place.bench.poured(drops)
    cup = read(place.bench, place.bench.reflectance(volumes))
    pours = tuple(Pour(int(p), float(drops[p]), 0) for p in np.flatnonzero(drops))
    belief = learn(place.model, CupHistory(pours, ((0, cup),)))
    base = place.bench.reflectance(rng.dirichlet(np.full(count, 0.3)))
    first = float(np.exp(rng.uniform(np.log(0.6), np.log(2.5))))
    thickness = np.cumsum(first * (1 + 0.1 * rng.normal(size=4)))
    films = [place.bench.film(volumes / volumes.sum(), float(x), base) for x in thickness]
    plan = CoatPlan(film_of(belief), read(place.bench, base), (50.0, 0.0, 0.0))
    plan = plan.read(1, read(place.bench, films[0]))
    found = []
    for coat in (2, 3, 4):
        look = plan.after(coat)
        apart = float(ciede2000(np.asarray(look.lab), grid_to_lab(films[coat - 1])))
        found.append((apart, apart <= look.u95_de00))
    return found


def _speed(quick: bool) -> list[Figure]:
    drawn = bench(7, KINDS * 2)
    shelf = shelf_of(drawn, (10,))
    searches, worst = [], []
    model = fit_shelf(shelf)
    fits = [_seconds(lambda: fit_shelf(shelf)) for _ in range(3)]
    rng = np.random.default_rng(11)
    full = 0.0
    for trial in range(2 if quick else 4):
        shares = random_mixture(rng, len(drawn.names))
        target = Target(read(drawn, drawn.reflectance(shares)))
        state = start(shelf, target, model=model)
        searches.append(_seconds(lambda state=state: recipes(state)))
        if trial < (1 if quick else 2):
            twenty = start(shelf, target, Limits(20, 4), model)
            began = time.perf_counter()
            least = _enumerated(model, twenty.goal, len(drawn.names))
            full = time.perf_counter() - began
            worst.append(_closest(twenty) - least)
    return [
        _at_most("fitting 24 paints: s", float(np.median(fits)), 3),
        _at_most(
            "recipes among 24 paints, up to 4, to 200 drops: s", float(np.median(searches)), 0.5
        ),
        _figure("full enumeration of 24 paints at exactly 20 drops: s", full),
        _at_most("closest recipe up to 20 drops above enumeration: CIEDE2000", max(worst), 0.05),
    ]


def _closest(state: Any) -> float:
    book = recipes(state)
    return min(recipe.de00 for recipe in (book.recipe, *book.alternatives))


def _seconds(work: Any) -> float:
    began = time.perf_counter()
    work()
    return time.perf_counter() - began


def _enumerated(model: ShelfModel, goal: Goal, paints: int) -> float:
    """Least CIEDE2000 over every recipe of exactly 20 drops of up to four of these paints."""
    best = np.inf
    for size in range(1, 5):
        cuts = np.array(list(combinations(range(1, 20), size - 1)), dtype=int)
        edges = np.hstack(
            [
                np.zeros((len(cuts), 1)),
                cuts.reshape(len(cuts), size - 1),
                np.full((len(cuts), 1), 20),
            ]
        )
        parts = np.diff(edges, axis=1)
        for subset in combinations(range(paints), size):
            k, s = parts @ model.k[list(subset)], parts @ model.s[list(subset)]
            ratio = k / s
            inside = 1 / (1 + ratio + np.sqrt(ratio * (ratio + 2)))
            lab = goal.axis.lab(model.surface.seen(inside))
            near = lab[np.argsort(np.linalg.norm((lab - goal.lab) @ goal.root.T, axis=1))[:3]]
            best = min(best, float(goal.de00(near).min()))
    return best
