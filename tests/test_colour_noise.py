"""Noise learnt from repeats; and what it is worth where a chip is more restless than assumed.

Outside check: the sums of squares are judged against the chi-square law (scipy.stats).
"""

import numpy as np
import pytest
from scipy.stats import chi2

from sprayout.colour.difference import ciede2000
from sprayout.colour.noise import USUAL, NoiseModel, learnt
from sprayout.colour.profile import build_profile
from sprayout.colour.samples import SampleTable, convert
from sprayout.colour.unit_json import parse_unit, unit_to_json
from sprayout.commands.benchmarks import colour_truth as truth
from sprayout.commands.benchmarks.colour_surfaces import load_surfaces, true_lab
from sprayout.errors import BadInput

LEVELS = np.geomspace(20.0, 40_000.0, 8)


def repeats(noise: NoiseModel, groups: int, rows: int, common: float = 0.0) -> list[np.ndarray]:
    rng = np.random.default_rng(5)
    made = []
    for _ in range(groups):
        mean = LEVELS * rng.uniform(0.05, 1.0, 8)
        level = 1.0 + common * rng.standard_normal((rows, 1))
        made.append(mean * level + noise.sd(mean) * rng.standard_normal((rows, 8)))
    return made


@pytest.mark.parametrize(
    "noise",
    [
        USUAL,
        NoiseModel(0.002, 0.25, 12.0),
        NoiseModel(0.01, 0.25, 1.2),
        NoiseModel(0.002, 1.5, 1.2),
    ],
)
def test_many_repeats_show_the_noise_at_every_level(noise: NoiseModel) -> None:
    """The brightest channel is left out: its own noise cannot be told from the lamp's."""
    found = learnt(repeats(noise, 60, 4))
    assert (found.sd(LEVELS) / noise.sd(LEVELS))[:-1] == pytest.approx(1.0, abs=0.2)


@pytest.mark.parametrize("common", [0.01, 0.03])
def test_what_moves_all_channels_together_is_no_noise(common: float) -> None:
    found = learnt(repeats(USUAL, 60, 4, common))
    assert not found.differs(USUAL, LEVELS)


def test_the_normed_squares_follow_the_chi_square_law() -> None:
    noise = NoiseModel(0.004, 0.5, 6.0)
    found = learnt(repeats(noise, 80, 4))
    fresh = np.random.default_rng(9).standard_normal((500, 8)) * noise.sd(LEVELS)
    squares = ((fresh / found.sd(LEVELS)) ** 2).sum(axis=1)
    inside = np.mean(squares < chi2.ppf(0.95, 8))
    assert 0.90 <= inside <= 0.98


def test_without_repeats_the_usual_noise_is_assumed() -> None:
    assert learnt([]) == USUAL
    assert learnt(repeats(NoiseModel(0.002, 0.25, 12.0), 40, 1)) == USUAL


def test_two_repeats_of_one_surface_do_not_overturn_it() -> None:
    rng = np.random.default_rng(2)
    pair = [LEVELS + USUAL.sd(LEVELS) * rng.standard_normal((2, 8))]
    assert not learnt(pair).differs(USUAL, LEVELS)


def test_a_restless_converter_widens_what_is_said_and_is_trusted_less() -> None:
    surfaces = load_surfaces(list(range(0, 24, 2)))
    unseen = surfaces.unseen[::9]
    wanted = true_lab(unseen, "d65-10")
    gaps, inside, told = [], [], []
    for seed in (1, 2):
        rng = np.random.default_rng(70_000 + seed)
        condition = truth.Condition("restless converter")
        unit = truth.draw_unit(condition, rng)

        def restless(spectra: np.ndarray, readings: int, unit=unit, rng=rng) -> np.ndarray:
            clean = np.repeat(unit.mean_counts(spectra), readings, axis=0)
            return np.rint(clean + USUAL.sd(clean) * rng.standard_normal(clean.shape)
                           + 30.0 * rng.standard_normal(clean.shape)).clip(0.0)  # fmt: skip

        given = truth.unit_json(unit, condition, surfaces.chart[::2], surfaces.chart[::2], rng)
        rows = restless(unseen, 4)
        names = tuple(f"s{i}" for i in range(len(unseen)) for _ in range(4))
        profile = build_profile(parse_unit(given))
        found = convert(profile, SampleTable(names, rows)).colours
        plain = profile.lab(rows.reshape(-1, 4, rows.shape[1]).mean(axis=1))
        gap = ciede2000(wanted, found.lab)
        gaps.append([np.quantile(gap, 0.95), np.quantile(ciede2000(wanted, plain.lab), 0.95)])
        inside.append(np.mean(gap <= found.u95_de00))
        told.append(np.mean(ciede2000(wanted, plain.lab) <= plain.u95_de00))
    learnt_p95, plain_p95 = np.mean(gaps, axis=0)
    assert np.mean(inside) >= 0.90 > np.mean(told) + 0.1
    assert learnt_p95 < plain_p95


def test_the_noise_of_a_unit_goes_with_its_file() -> None:
    surfaces = load_surfaces(list(range(0, 24, 2)))
    rng = np.random.default_rng(1)
    condition = truth.Condition("any", patches=0)
    unit = truth.draw_unit(condition, rng)
    given = truth.unit_json(unit, condition, surfaces.chart[::2], surfaces.chart[::2], rng)
    given["noise"] = {"share": 0.003, "root": 0.3, "floor": 8.0}
    assert unit_to_json(parse_unit(given))["noise"] == given["noise"]
    with pytest.raises(BadInput, match=r"unit, noise, floor: got -1, wanted a number above 0"):
        parse_unit(given | {"noise": {"share": 0.003, "root": 0.3, "floor": -1}})
