"""Aiming at the colour a cup dries to, on paints whose drying the model has to be told."""

import dataclasses
from functools import lru_cache

import numpy as np
import pytest

from sprayout.colour.difference import ciede2000
from sprayout.colour.tristimulus import Spectrum, grid_to_lab
from sprayout.commands.benchmarks.mixing_runs import Setting, random_mixture, read, setting
from sprayout.commands.benchmarks.mixing_truth import Bench, TruthCup
from sprayout.mixing.aim import AS_READ, Aim
from sprayout.mixing.shifts import Pair, shift_of
from sprayout.mixing.steer import Steering, advise, start
from sprayout.mixing.values import Target

STEP = 0.16
"""What these paints' ln(K/S) rises on drying."""


@lru_cache
def place() -> Setting:
    return setting(71)


def wet(bench: Bench, volumes: np.ndarray) -> np.ndarray:
    """The true spectrum before drying: less absorption."""
    fresh = dataclasses.replace(bench, k=bench.k * np.exp(-STEP))
    return fresh.reflectance(volumes)


def learned(pairs: int) -> Aim:
    """The shift as it is known from dry cards of other mixtures."""
    here, rng = place(), np.random.default_rng(4)
    seen = []
    for _ in range(pairs):
        shares = random_mixture(rng, 12)
        before = read(here.bench, wet(here.bench, shares))
        seen.append(Pair(before, read(here.bench, here.bench.reflectance(shares))))
    return Aim((shift_of("wet to dry", "acrylic", tuple(seen)),))


def mixed(aim: Aim, shares: np.ndarray) -> tuple[Steering, float]:
    """A cup steered by wet readings; CIEDE2000 of what it dries to from a dry target."""
    here = place()
    wanted = here.bench.reflectance(shares)
    cup, state = TruthCup(here.bench), start(
        here.shelf, Target(read(here.bench, wanted)), model=here.model, aim=aim
    )  # fmt: skip
    for _ in range(12):
        advice = advise(state)
        if advice.done:
            break
        for paint, drops in advice.add:
            cup.add(paint, drops)
        state = state.add(dict(advice.add)).read(read(here.bench, wet(here.bench, cup.volumes)))
    dry = grid_to_lab(here.bench.reflectance(cup.volumes))
    return state, float(ciede2000(grid_to_lab(wanted), dry))


def test_a_learned_shift_brings_the_dry_colour_within_the_tolerance():
    aim, rng = learned(6), np.random.default_rng(8)
    targets = [random_mixture(rng, 12) for _ in range(5)]
    aimed = [mixed(aim, shares) for shares in targets]
    as_read = [mixed(AS_READ, shares)[1] for shares in targets]
    misses = [miss for _, miss in aimed]
    assert np.median(misses) < 1.0 < np.median(as_read)
    for state, miss in aimed:
        look = state.dry_look({})
        assert miss < look.de00 + 1.5 * look.u95_de00
        # Read as it is the cup is off, and that is as it should be.
        assert state.now_de00() == pytest.approx(0.0, abs=1.0)


def test_what_is_not_known_of_the_shift_widens_the_answer_and_not_the_steering():
    assumed, known = Aim((shift_of("wet to dry", "acrylic"),)), learned(6)
    assert assumed.assumed and not known.assumed
    assert known.step == pytest.approx(STEP, abs=0.05) and known.sd < assumed.sd
    assert "an assumption" in assumed.words()[0] and "6 pairs of yours" in known.words()[0]
    shares = random_mixture(np.random.default_rng(3), 12)
    target = Target(read(place().bench, place().bench.reflectance(shares)))
    looks = []
    for aim in (AS_READ, known, assumed):
        state = start(place().shelf, target, model=place().model, aim=aim)
        looks.append(state.dry_look({"white": 20, "ochre": 4}).u95_de00)
    assert looks[0] < looks[1] < looks[2]


def test_no_shift_leaves_the_target_where_it_is():
    target = Target(Spectrum((400.0, 450.0, 500.0, 550.0, 600.0, 650.0, 700.0), (0.4,) * 7))
    assert AS_READ.before(target) is target
    assert (AS_READ.step, AS_READ.sd, AS_READ.assumed, AS_READ.words()) == (0, 0.0, False, ())
