"""Booth, fan and fire against the published figures.

Face velocities: OSHA 29 CFR 1910.94(c)(6)(i) Table G-10, read in the identical WAC 296-62-11019
Table 14; fire rule 1910.107(b)(5)(i).  LEL: NIOSH Pocket Guide, NFPA 497, IEC 60079-20-1.
"""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sprayout.errors import BadInput
from sprayout.safety import booth, fan, fire
from sprayout.safety.assessment import Level
from sprayout.safety.substances import find
from sprayout.safety.tables import rows


@pytest.mark.parametrize(
    ("operation", "crossdraft", "size", "design", "low", "high"),
    [
        ("automatic", 0, "large", 50, 50, 75),
        ("automatic", 0, "small", 100, 75, 125),
        ("air gun", 50, "large", 100, 75, 125),
        ("air gun", 50, "small", 150, 125, 175),
        ("air gun", 100, "large", 150, 125, 175),
        ("air gun", 100, "small", 200, 150, 250),
    ],
)
def test_table_g_10(
    operation: str, crossdraft: int, size: str, design: int, low: int, high: int
) -> None:
    wanted = [operation, str(crossdraft), size, str(design), str(low), str(high)]
    assert wanted in [list(row.values()) for row in rows("booth_velocities")]


@pytest.mark.parametrize(
    ("fpm", "m_s"), [(100, 0.508), (125, 0.635), (150, 0.762), (175, 0.889), (250, 1.27)]
)
def test_feet_per_minute(fpm: float, m_s: float) -> None:
    assert fpm * booth.FPM_M_S == pytest.approx(m_s)


@pytest.mark.parametrize(
    ("fpm", "crossdraft_fpm", "level"),
    [
        (None, None, Level.CANNOT_ASSESS),
        (0, 0, Level.STOP),
        (99, 0, Level.STOP),
        (110, 0, Level.CAUTION),
        (126, 0, Level.NOTHING_FOUND),
        (126, None, Level.CAUTION),
        (160, None, Level.NOTHING_FOUND),
        (180, 0, Level.CAUTION),
        (180, 80, Level.NOTHING_FOUND),
        (180, 120, Level.STOP),
    ],
)
def test_face_velocity_beside_what_rules_ask(
    fpm: float | None, crossdraft_fpm: float | None, level: Level
) -> None:
    speed = None if fpm is None else fpm * booth.FPM_M_S
    stray = None if crossdraft_fpm is None else crossdraft_fpm * booth.FPM_M_S
    found = booth.judge_face(speed, stray)
    assert found.level is level
    assert found.sources
    if speed and level is not Level.STOP:
        assert "workplace rules ask" in found.words


@pytest.mark.parametrize(
    ("exhaust", "level"),
    [
        ("ducted", Level.NOTHING_FOUND),
        ("recirculating", Level.STOP),
        (None, Level.CANNOT_ASSESS),
    ],
)
def test_where_the_air_goes(exhaust: booth.Exhaust | None, level: Level) -> None:
    assert booth.judge_exhaust(exhaust).level is level
    assert "not solvent vapour" in booth.judge_exhaust("recirculating").words


CURVE = fan.FanCurve(((0.0, 200.0), (200.0, 150.0), (500.0, 0.0)))


def test_fan_meets_its_resistance() -> None:
    # At 200 m³/h the curve gives 150 Pa; a loss of 150 Pa there is met exactly.
    assert fan.delivered_m3h(CURVE, fan.Resistance(200.0, 100.0, 50.0)) == pytest.approx(200.0)
    assert fan.delivered_m3h(CURVE, fan.Resistance(200.0, 0.0, 0.0)) == pytest.approx(500.0)


@settings(deadline=None, max_examples=50)
@given(st.floats(0.0, 300.0), st.floats(0.1, 300.0), st.floats(1.0, 10.0))
def test_a_loaded_filter_never_gives_more_air(duct: float, clean: float, loading: float) -> None:
    new = fan.delivered_m3h(CURVE, fan.Resistance(300.0, duct, clean))
    old = fan.delivered_m3h(CURVE, fan.Resistance(300.0, duct, clean, loading))
    assert old <= new + 1e-5


@pytest.mark.parametrize(
    ("points", "says"),
    [
        (((0.0, 100.0),), "two or more"),
        (((0.0, 100.0), (50.0, 20.0)), "free air"),
        (((0.0, 100.0), (80.0, 120.0), (90.0, 0.0)), "out of order"),
    ],
)
def test_a_curve_that_is_none_is_refused(points: tuple[fan.Point, ...], says: str) -> None:
    with pytest.raises(BadInput, match=says):
        fan.FanCurve(points)


def test_a_filter_cleaner_than_clean_is_refused() -> None:
    with pytest.raises(BadInput, match="filter loading"):
        fan.delivered_m3h(CURVE, fan.Resistance(200.0, 10.0, 10.0, 0.5))


def test_a_rating_is_cut() -> None:
    assert fan.from_rating_m3h(400.0) == 200.0


@pytest.mark.parametrize(
    ("name", "lowest"),
    [("n-butyl acetate", 1.2), ("toluene", 1.0), ("ethanol", 3.1), ("xylene", 0.9), ("MEK", 1.4)],
)
def test_where_sources_disagree_the_lowest_explosive_limit_counts(name: str, lowest: float) -> None:
    found = find(name).lowest_lel_pct
    assert found is not None
    assert found.value == lowest


def test_le_chatelier() -> None:
    assert fire.mixture_lel_pct([(0.5, 1.0), (0.5, 3.0)]) == pytest.approx(1.5)
    assert fire.mixture_lel_pct([(2.0, 1.4)]) == pytest.approx(1.4)
    with pytest.raises(BadInput, match="no parts"):
        fire.mixture_lel_pct([])


@pytest.mark.parametrize(
    ("percent", "level"),
    [
        (4.9, Level.NOTHING_FOUND),
        (5.1, Level.CAUTION),
        (10.1, Level.STOP),
        (25.0, Level.STOP),
        (25.1, Level.REFUSE),
    ],
)
def test_steps_under_the_25_percent_rule(percent: float, level: Level) -> None:
    assert fire.level_of(percent) is level


def test_dpgme_cannot_reach_its_explosive_limit_as_vapour() -> None:
    dpgme = find("DPGME")
    assert dpgme.saturation_ppm == pytest.approx(660.0, rel=0.01)
    assert dpgme.lowest_lel_pct is not None
    assert fire.percent_of_lel(dpgme.saturation_ppm or 0.0, dpgme.lowest_lel_pct.value) < 10.0
