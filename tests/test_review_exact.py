"""Exact tests and intervals against published tables and scipy.stats."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from sprayout.review import exact

TABLES = Path(__file__).parent / "tables"


def rows(name: str) -> list[dict[str, str]]:
    text = (TABLES / name).read_text(encoding="utf-8")
    return list(csv.DictReader(line for line in text.splitlines() if not line.startswith("#")))


@pytest.mark.parametrize("row", rows("review_exact.csv"), ids=lambda row: row["name"])
def test_published_values(row: dict[str, str]) -> None:
    given_ = [float(v) for v in row["given"].split()]
    if row["kind"] == "fisher":
        got = [exact.fisher_p(*(int(v) for v in given_))]
    elif row["kind"] == "interval":
        got = list(exact.clopper_pearson(int(given_[0]), int(given_[1])))
    elif row["kind"] == "bh":
        got = exact.benjamini_hochberg(given_)
    else:
        got = exact.holm(given_)
    wanted = [float(v) for v in row["wanted"].split()]
    assert got == pytest.approx(wanted, abs=float(row["tolerance"]))


cell = st.integers(0, 25)


@settings(deadline=None, max_examples=120)
@given(cell, cell, cell, cell)
def test_fisher_agrees_with_scipy(a: int, b: int, c: int, d: int) -> None:
    wanted = stats.fisher_exact([[a, b], [c, d]])[1]
    assert exact.fisher_p(a, b, c, d) == pytest.approx(float(wanted), abs=1e-9)


@settings(deadline=None, max_examples=60)
@given(st.integers(0, 60), st.integers(0, 60))
def test_intervals_agree_with_scipy(bad: int, good: int) -> None:
    n = bad + good
    if n == 0:
        return
    exact_ci = stats.binomtest(bad, n).proportion_ci(method="exact")
    assert exact.clopper_pearson(bad, n) == pytest.approx(tuple(exact_ci), abs=1e-9)
    rate = exact.beta_rate(bad, n)
    posterior = stats.beta(bad + 0.5, good + 0.5)
    assert rate.rate == pytest.approx(float(posterior.mean()), abs=1e-12)
    assert (rate.low, rate.high) == pytest.approx(tuple(posterior.interval(0.95)), abs=1e-9)


@pytest.mark.parametrize("seed", range(12))
@pytest.mark.parametrize(("n", "m"), [(1, 4), (3, 3), (3, 20), (7, 9), (2, 60)])
def test_rank_sum_is_the_exact_law(seed: int, n: int, m: int) -> None:
    chance = np.random.default_rng(seed)
    one, other = chance.normal(0.4, 1, n), chance.normal(0, 1, m)
    wanted = stats.mannwhitneyu(one, other, method="exact").pvalue
    assert exact.rank_sum_p(one, other) == pytest.approx(float(wanted), abs=1e-9)


def test_rank_sum_with_ties_is_the_permutation_law() -> None:
    one, other = np.array([2.0, 2.0, 3.0]), np.array([1.0, 1.0, 2.0, 2.0, 3.0])

    def rank_sum(x: np.ndarray, y: np.ndarray, axis: int) -> np.ndarray:
        ranks = stats.rankdata(np.concatenate((x, y), axis=axis), axis=axis)
        return ranks[..., : x.shape[axis]].sum(axis=axis)

    seen = rank_sum(one, other, 0)
    wanted = stats.permutation_test(
        (one, other),
        lambda x, y, axis: np.abs(rank_sum(x, y, axis) - 3 * 9 / 2),
        vectorized=True,
        alternative="greater",
        n_resamples=np.inf,
    ).pvalue
    assert seen > 0
    assert exact.rank_sum_p(one, other) == pytest.approx(float(wanted), abs=1e-9)


@pytest.mark.parametrize("seed", range(5))
def test_large_rank_sums_use_the_normal_curve(seed: int) -> None:
    chance = np.random.default_rng(seed)
    one, other = chance.integers(0, 9, 30).astype(float), chance.integers(1, 10, 80).astype(float)
    wanted = stats.mannwhitneyu(one, other, method="asymptotic").pvalue
    assert exact.rank_sum_p(one, other) == pytest.approx(float(wanted), rel=1e-6)


@settings(deadline=None, max_examples=60)
@given(st.lists(st.floats(0, 1), min_size=1, max_size=30))
def test_adjusted_p_agree_with_scipy_and_never_shrink(p: list[float]) -> None:
    got = exact.benjamini_hochberg(p)
    assert got == pytest.approx(list(stats.false_discovery_control(p)), abs=1e-12)
    family = exact.holm(p)
    assert all(h >= b - 1e-12 >= raw - 2e-12 for h, b, raw in zip(family, got, p, strict=True))


def test_no_tests_need_no_adjustment() -> None:
    assert exact.benjamini_hochberg([]) == [] and exact.holm([]) == []


def test_rank_p_cannot_be_surer_than_the_number_of_coats() -> None:
    usual = np.arange(9.0)
    assert exact.rank_p(100.0, usual, "high") == pytest.approx(0.1)
    assert exact.rank_p(100.0, usual, "low") == 1.0
    assert exact.rank_p(7.0, usual, "high") == pytest.approx(0.3)


def test_cliffs_delta_by_hand() -> None:
    one, other = np.array([1.0, 2.0]), np.array([0.0, 2.0])
    assert exact.cliffs_delta(one, other) == pytest.approx((2 - 1) / 4)


def test_the_published_example_rejects_four_and_three() -> None:
    """Benjamini and Hochberg (1995), section 3.2: four at q = 0.05, three family-wise."""
    row = next(row for row in rows("review_exact.csv") if row["kind"] == "bh")
    p = [float(v) for v in row["given"].split()]
    assert sum(v <= 0.05 for v in exact.benjamini_hochberg(p)) == 4
    assert sum(v <= 0.05 for v in exact.holm(p)) == 3
