"""The judgement on coats made by hand: what is named, what stays open, how sure it may be."""

from __future__ import annotations

import dataclasses
import xml.etree.ElementTree as ElementTree

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sprayout.climate.paint_limits import PaintLimits
from sprayout.commands.benchmarks.review_histories import UNRECORDED
from sprayout.commands.benchmarks.review_runs import run_history
from sprayout.errors import BadInput
from sprayout.review.causes import CAUSES, causes_of
from sprayout.review.columns import Columns, quantile
from sprayout.review.defects import DEFECTS, defect_named, find_defect
from sprayout.review.drawings import drawing
from sprayout.review.judge import SUREST, judge
from sprayout.review.judgement import Judgement
from sprayout.review.quantities import BY_KEY, CoatFacts
from sprayout.review.words import summary
from sprayout.safety.cautions import forbidden_words_in

QUIET = {
    "relative_humidity": (45.0, 4.0),
    "air_temperature": (21.0, 1.0),
    "part_minus_air": (-0.3, 0.2),
    "air_speed": (0.35, 0.04),
    "wet_film_um": (28.0, 3.0),
    "distance_mm": (110.0, 8.0),
    "airbrush_pressure": (150e3, 9e3),
    "efflux_s": (20.0, 1.2),
    "flash_off_min": (15.0, 2.0),
    "reducer_volatility": (2.0, 0.1),
    "wrinkle_depth_h": (-5.0, 0.3),
    "stronger_over_weaker": (0.0, 0.0),
    "film_total_um": (80.0, 9.0),
    "coats_before": (2.0, 0.0),
    "batch_age_h": (2.0, 0.5),
    "base_contrast": (9.0, 3.0),
    "calibration_overdue_h": (-6.0, 2.0),
    "swatch_spread": (0.8, 0.1),
    "cup_excess_de00": (-0.5, 0.2),
    "airbrush_days": (3.0, 1.0),
    "filter_days": (40.0, 15.0),
    "fan_unsure_min": (0.0, 0.0),
    "reducer_parts": (0.6, 0.05),
}


def quiet(i: int, **changed: float) -> CoatFacts:
    chance = np.random.default_rng(i)
    values = {key: float(chance.normal(mean, sd)) for key, (mean, sd) in QUIET.items()}
    return CoatFacts(f"c{i}", f"p{i}", "wet coat", i, "enamel", values=values | changed)


GOOD = [quiet(i) for i in range(1, 41)]


def judged(defect: str, history: list[CoatFacts] | None = None, **changed: float) -> Judgement:
    coat = dataclasses.replace(quiet(99, **changed), findings=(defect,))
    held = GOOD if history is None else history
    return judge(coat, defect_named(defect), [*held, coat])


# Finding, what was far off that evening, and the cause the trade names for it.
NAMED = [
    ("blush", {"relative_humidity": 90.0}, "humid_air"),
    ("blush", {"part_minus_air": -6.0}, "cold_part"),
    ("blush", {"reducer_volatility": 12.0}, "fast_reducer"),
    ("orange_peel", {"efflux_s": 31.0}, "paint_too_thick"),
    ("orange_peel", {"airbrush_pressure": 60e3}, "low_pressure"),
    ("orange_peel", {"distance_mm": 240.0}, "too_far"),
    ("dry_spray", {"air_speed": 1.3}, "strong_draught"),
    ("dry_spray", {"air_temperature": 34.0}, "warm_air"),
    ("run", {"wet_film_um": 70.0}, "heavy_coat"),
    ("run", {"distance_mm": 45.0}, "too_near"),
    ("run", {"efflux_s": 12.0}, "paint_too_thin"),
    ("solvent_pop", {"flash_off_min": 2.0}, "short_flash_off"),
    ("lifting", {"wrinkle_depth_h": 5.0}, "wrinkle_window"),
    ("lifting", {"stronger_over_weaker": 1.0}, "stronger_over_weaker"),
    ("dust_nibs", {"airbrush_days": 30.0}, "airbrush_not_cleaned"),
    ("dust_nibs", {"filter_days": 300.0}, "old_filter"),
    ("poor_hiding", {"film_total_um": 25.0}, "build_too_thin"),
    ("poor_hiding", {"base_contrast": 60.0}, "base_shows"),
    ("colour_off", {"cup_excess_de00": 2.5}, "mix_off"),
    ("colour_off", {"calibration_overdue_h": 60.0}, "calibration_overdue"),
    ("colour_off", {"swatch_spread": 3.0}, "swatch_spread"),
    ("gloss_off", {"air_temperature": 10.0}, "cold_air"),
    ("slow_dry", {"air_speed": 0.02}, "still_air"),
    ("loss_of_detail", {"film_total_um": 260.0}, "build_too_thick"),
]


@pytest.mark.parametrize(("defect", "changed", "cause"), NAMED)
def test_what_was_far_off_is_named(defect: str, changed: dict[str, float], cause: str) -> None:
    found = judged(defect, **changed)
    assert found.verdict == "explained"
    assert found.ranked[0].cause.key == cause
    assert found.confidence == pytest.approx(min(found.ranked[0].score, SUREST))


@pytest.mark.parametrize("defect", [d.key for d in DEFECTS])
def test_an_evening_like_all_others_is_unexplained(defect: str) -> None:
    found = judged(defect, **{key: mean for key, (mean, _) in QUIET.items()})
    assert found.verdict == "unexplained"
    assert find_defect(defect) is not None
    assert defect_named(defect).unseen in summary(found)


@pytest.mark.parametrize("defect", [d.key for d in DEFECTS])
def test_nothing_recorded_rules_nothing_out(defect: str) -> None:
    coat = CoatFacts("bare", "p", "wet coat", 50, "enamel", findings=(defect,))
    found = judge(coat, defect_named(defect), [*GOOD, coat])
    assert found.verdict == "no conditions" and found.ranked == () and found.confidence == 0.0
    assert {c.key for c in causes_of(defect)} <= {u.cause.key for u in found.unknown}


def test_a_dropped_channel_moves_its_cause_to_unknown() -> None:
    full = judged("blush", relative_humidity=90.0)
    coat = quiet(99, relative_humidity=90.0)
    values = {k: v for k, v in coat.values.items() if k != "relative_humidity"}
    without = judge(
        dataclasses.replace(coat, values=values, findings=("blush",)), defect_named("blush"), GOOD
    )
    assert full.ranked[0].cause.key == "humid_air"
    (unknown,) = [u for u in without.unknown if u.cause.key == "humid_air"]
    assert unknown.score > 0.1 and "relative_humidity" in unknown.why


def test_what_does_not_apply_is_neither_ranked_nor_unknown() -> None:
    coat = quiet(99)
    values = {k: v for k, v in coat.values.items() if k != "flash_off_min"}
    first = dataclasses.replace(
        coat, values=values, beside_point=frozenset({"flash_off_min"}), findings=("run",)
    )
    found = judge(first, defect_named("run"), GOOD)
    assert "short_flash_off" in {c.key for c in found.beside_point}
    assert "short_flash_off" not in {u.cause.key for u in found.unknown}


def test_a_film_well_above_the_dew_point_speaks_against_humidity() -> None:
    plain = judged("blush", relative_humidity=82.0)
    warm = judged("blush", relative_humidity=82.0, film_margin=9.0)
    cold = judged("blush", relative_humidity=82.0, film_margin=-2.0)
    share = [next(r.score for r in j.ranked if r.cause.key == "humid_air")
             for j in (warm, plain, cold)]  # fmt: skip
    assert share[0] < share[1] - 0.1
    assert share[2] == pytest.approx(share[1], abs=0.02)


def test_one_bad_coat_among_four_is_little_evidence() -> None:
    found = judged("blush", GOOD[:3], relative_humidity=90.0)
    assert found.verdict == "little evidence"
    assert found.confidence <= 0.5
    assert "little evidence, only 3 good coats" in summary(found)


def test_owners_own_record_overrules_the_table() -> None:
    """At 82 %RH the table suspects humidity; an owner with 30 clean coats at 82 need not."""
    damp = [quiet(200 + i, relative_humidity=80.0 + i % 5) for i in range(30)]
    table = judged("blush", relative_humidity=82.0)
    owner = judged("blush", [*GOOD, *damp], relative_humidity=82.0)
    assert table.ranked[0].cause.key == "humid_air" and table.confidence > 0.5
    humid = next(r for r in owner.ranked if r.cause.key == "humid_air")
    assert owner.verdict == "unexplained" and humid.score < 0.6 * table.ranked[0].score
    assert humid.track is not None and humid.track.exposed.bad == 0


def test_the_data_sheet_comes_before_the_table() -> None:
    sheet = PaintLimits("hull blue", "cure", rh_max_pct=60.0)
    stated = [dataclasses.replace(c, sheet=sheet) for c in GOOD]
    coat = dataclasses.replace(
        quiet(99, relative_humidity=66.0), findings=("slow_dry",), sheet=sheet
    )
    found = judge(coat, defect_named("slow_dry"), [*stated, coat])
    humid = next(r for r in found.ranked if r.cause.key == "humid_air")
    assert (humid.evidence[0].limit, humid.evidence[0].beyond_limit) == (60.0, True)
    without = judged("slow_dry", relative_humidity=66.0)
    plain = next(r for r in without.ranked if r.cause.key == "humid_air")
    assert humid.score > plain.score


def test_a_tack_coat_is_compared_with_tack_coats() -> None:
    tack = [dataclasses.replace(quiet(i, wet_film_um=12.0 + i % 3), kind="tack coat")
            for i in range(300, 312)]  # fmt: skip
    coat = dataclasses.replace(
        quiet(99, wet_film_um=13.0), kind="tack coat", findings=("poor_hiding",)
    )
    found = judge(coat, defect_named("poor_hiding"), [*GOOD, *tack, coat])
    thin = next(r for r in found.ranked if r.cause.key == "thin_coat")
    assert thin.evidence[0].usual_high is not None and thin.evidence[0].usual_high < 20.0


def test_a_recorded_oddity_that_no_cause_names_is_still_shown() -> None:
    odd = [dataclasses.replace(c, other={"cup_tilt": 1.0 + 0.01 * i}) for i, c in enumerate(GOOD)]
    coat = dataclasses.replace(quiet(99), other={"cup_tilt": 9.0}, findings=("fisheye",))
    found = judge(coat, defect_named("fisheye"), [*odd, coat])
    assert "cup_tilt" in {e.quantity for e in found.different}


@settings(deadline=None, max_examples=25)
@given(
    st.sampled_from([d.key for d in DEFECTS]),
    st.dictionaries(st.sampled_from(sorted(QUIET)), st.floats(-1e6, 1e6), max_size=6),
)
def test_scores_are_shares_whatever_the_record_says(defect: str, changed: dict[str, float]) -> None:
    found = judged(defect, **changed)
    shares = [*(r.score for r in found.ranked), *(u.score for u in found.unknown)]
    assert all(0.0 <= s <= 1.0 for s in shares)
    assert sum(shares) + found.unexplained == pytest.approx(1.0)
    assert [r.score for r in found.ranked] == sorted((r.score for r in found.ranked), reverse=True)
    assert forbidden_words_in(summary(found)) == ()


@pytest.mark.parametrize("defect", DEFECTS, ids=lambda d: d.key)
def test_every_finding_has_causes_a_drawing_and_a_description(defect: object) -> None:
    key = defect.key  # type: ignore[attr-defined]
    assert len(causes_of(key)) >= 2
    root = ElementTree.fromstring(drawing(key))
    assert root.tag.endswith("svg") and len(root) > 1
    assert len(defect_named(key).description) > 40


def test_every_cause_rests_on_a_known_quantity_and_names_its_source() -> None:
    assert {cause.defect for cause in CAUSES} == {defect.key for defect in DEFECTS}
    for cause in CAUSES:
        asked = [cause.quantity, *cause.shown, *(way[0] for way in cause.instead)]
        assert set(asked) <= set(BY_KEY), cause.key
        assert cause.source and cause.change and forbidden_words_in(cause.change) == ()


@pytest.mark.parametrize(
    ("said", "key"),
    [
        ("Run", "run"),
        ("sags", "run"),
        ("Orange Peel", "orange_peel"),
        ("wrinkling", "lifting"),
        ("dust nib", "dust_nibs"),
        ("colour_off", "colour_off"),
        ("color off", "colour_off"),
    ],
)
def test_trade_names_are_understood(said: str, key: str) -> None:
    assert defect_named(said).key == key


def test_an_unknown_name_is_refused_with_the_list() -> None:
    with pytest.raises(BadInput, match="wanted one of blush, orange peel"):
        defect_named("zebra")


@settings(deadline=None, max_examples=50)
@given(st.lists(st.floats(-1e5, 1e5), min_size=1, max_size=40), st.floats(0, 1))
def test_quantiles_are_numpys(values: list[float], share: float) -> None:
    rising = np.sort(np.array(values))
    assert quantile(rising, share) == pytest.approx(float(np.quantile(rising, share)), abs=1e-6)


def test_the_judged_coat_is_not_its_own_yardstick() -> None:
    columns = Columns([quiet(99, efflux_s=99.0), *GOOD])
    assert 99.0 not in columns.usual("efflux_s", "wet coat")


def test_invented_benches_are_mostly_understood() -> None:
    """A small run of ``sprayout benchmark review``, on seeds of its own."""
    runs = [done for seed in range(9000, 9040) if (done := run_history(seed))]
    known = [done for done in runs if done.is_recorded]
    assert np.mean([done.place == 1 for done in known]) >= 0.75
    none = [done for done in runs if done.truth.cause == UNRECORDED]
    assert np.mean([done.judgement.verdict == "unexplained" for done in none]) >= 0.7
