"""A paint's own limits, and the clocks of a coat."""

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sprayout.climate.coat_clocks import Elapsed, Pace, Stage, advance, pace, pot_life, read_clock
from sprayout.climate.levels import Level
from sprayout.climate.moist_air import BoothAir
from sprayout.climate.paint_limits import (
    PaintLimits,
    judge_limits,
    paint_limits_to_json,
    parse_paint_limits,
    worst,
)
from sprayout.climate.reducer import parse_reducer
from sprayout.errors import BadInput

# Invented for the demo's quay-crane ochre: an alkyd enamel with an early window of an hour.
ENAMEL = PaintLimits(
    name="quay-crane ochre",
    dries_by="cure",
    air_min_c=10.0,
    air_max_c=30.0,
    surface_min_c=8.0,
    rh_max_pct=80.0,
    flash_off_min=10.0,
    recoat_from_h=0.25,
    wrinkle_from_h=1.0,
    wrinkle_to_h=48.0,
    pot_life_h=6.0,
)
USUAL = Pace(1.0, 1.0)


def after(minutes: float, now: Pace | None = USUAL) -> Elapsed:
    return advance(Elapsed(), ENAMEL, now, minutes)


@pytest.mark.parametrize(
    ("minutes", "stage", "level"),
    [
        (0.0, Stage.WET, "caution"),
        (9.0, Stage.WET, "caution"),
        (12.0, Stage.EARLY, "caution"),
        (20.0, Stage.RECOAT, "none"),
        (61.0, Stage.WRINKLE, "stop"),
        (47.9 * 60.0, Stage.WRINKLE, "stop"),
        (48.1 * 60.0, Stage.HARD, "note"),
    ],
)
def test_stages_of_an_enamel(minutes: float, stage: Stage, level: str) -> None:
    found = read_clock(ENAMEL, after(minutes), USUAL)
    assert (found.stage, found.level) == (stage, level)


def test_what_comes_next_is_told_at_the_present_pace() -> None:
    found = read_clock(ENAMEL, after(20.0), Pace(1.0, 2.0))
    assert found.next_stage is Stage.WRINKLE
    assert found.next_min == pytest.approx(20.0)


def test_ten_kelvin_double_the_cure() -> None:
    warm, cold = (pace(ENAMEL, BoothAir(t, 50.0)) for t in (33.0, 13.0))
    assert warm is not None and cold is not None
    assert (warm.cure, cold.cure) == (2.0, 0.5)


def test_evaporation_follows_the_film_model() -> None:
    thinner = parse_reducer("toluene=60,n-butyl acetate=40")
    usual = pace(ENAMEL, BoothAir(23.0, 50.0), thinner)
    warm = pace(ENAMEL, BoothAir(33.0, 50.0), thinner)
    windy = pace(ENAMEL, BoothAir(23.0, 50.0), thinner, air_speed_ms=1.0)
    assert usual is not None and warm is not None and windy is not None
    assert usual.evaporation == pytest.approx(1.0)
    assert 1.3 < warm.evaporation < 2.0
    assert windy.evaporation > 1.3


def test_humid_air_slows_a_water_borne_paint() -> None:
    acrylic = parse_reducer("water=90,2-butoxyethanol=10")
    dry, damp = (pace(ENAMEL, BoothAir(23.0, rh), acrylic) for rh in (30.0, 85.0))
    assert dry is not None and damp is not None
    assert damp.evaporation < 0.5 * dry.evaporation


def test_no_air_no_pace() -> None:
    assert pace(ENAMEL, None) is None


def test_blind_minutes_leave_it_open_only_while_it_is() -> None:
    assert read_clock(ENAMEL, after(8.0, None), None).stage is Stage.UNKNOWN
    # whatever the air was, an hour and a half in some warmth or cold is not told apart either
    assert read_clock(ENAMEL, after(90.0, None), None).stage is Stage.UNKNOWN
    # ten hours are past the early window in any air
    assert read_clock(ENAMEL, after(600.0, None), None).stage is Stage.WRINKLE


@settings(deadline=None, max_examples=50)
@given(st.floats(5.0, 35.0), st.floats(0.0, 4_000.0))
def test_a_blind_clock_never_claims_what_a_seeing_one_denies(air_c: float, minutes: float) -> None:
    seeing_pace = pace(ENAMEL, BoothAir(air_c, 50.0))
    blind = read_clock(ENAMEL, after(minutes, None), None)
    seeing = read_clock(ENAMEL, after(minutes, seeing_pace), seeing_pace)
    assert blind.stage in (Stage.UNKNOWN, seeing.stage)


def test_unstated_times_are_unknown() -> None:
    for change in ({"flash_off_min": None}, {"recoat_from_h": None}):
        found = read_clock(replace(ENAMEL, **change), after(30.0), USUAL)
        assert (found.stage, found.level) == (Stage.UNKNOWN, "unknown")
    assert pot_life(replace(ENAMEL, pot_life_h=None), after(30.0), USUAL).level == "unknown"


def test_pot_life_runs_faster_in_warmth() -> None:
    cool = pot_life(ENAMEL, after(60.0), USUAL)
    warm = pot_life(ENAMEL, after(60.0, Pace(1.0, 2.0)), Pace(1.0, 2.0))
    assert cool.next_min == pytest.approx(300.0)
    assert warm.next_min == pytest.approx(120.0)
    assert pot_life(ENAMEL, after(400.0), USUAL).level == "stop"
    assert pot_life(ENAMEL, after(340.0), USUAL).level == "caution"
    assert pot_life(ENAMEL, after(10.0), None).level == "unknown"


def test_a_clock_does_not_run_backwards() -> None:
    with pytest.raises(ValueError, match="backwards"):
        after(-1.0)


def levels(**read: float | None) -> dict[str, Level]:
    usual = {"air_c": 20.0, "rh_pct": 50.0, "surface_c": 19.0, "dew_point_c": 9.0}
    return {f.limit: f.level for f in judge_limits(ENAMEL, **{**usual, **read})}


def test_limits_are_judged_one_by_one() -> None:
    assert set(levels().values()) == {Level.NONE}
    assert levels(air_c=8.0)["air temperature"] == "caution"
    assert levels(air_c=31.0)["air temperature"] == "caution"
    assert levels(rh_pct=81.0)["relative humidity"] == "caution"
    assert levels(surface_c=11.0)["part above dew point"] == "caution"
    assert levels(rh_pct=None)["relative humidity"] == "unknown"
    assert levels(air_c=float("nan"))["air temperature"] == "unknown"


def test_an_unstated_limit_is_said_and_never_reads_as_kept() -> None:
    mute = PaintLimits("ice-van white", "evaporation")
    found = judge_limits(mute, 20.0, 50.0, 19.0, 9.0)
    assert [f.level for f in found] == ["note", "note", "note", "none"]
    assert worst(found).words.endswith("the data sheet states no limit")


def test_limits_round_trip_as_json() -> None:
    assert parse_paint_limits(paint_limits_to_json(ENAMEL)) == ENAMEL


@pytest.mark.parametrize(
    ("change", "named"),
    [
        ({"air_min_c": 40.0}, "air_min_c: got 40, wanted below 30"),
        ({"rh_max_pct": 180.0}, "rh_max_pct: got 180"),
        ({"wrinkle_to_h": None}, "wrinkle window: got one end"),
        ({"wrinkle_from_h": 50.0}, "wrinkle_from_h: got 50, wanted below 48"),
        ({"flash_off_min": -1.0}, "flash_off_min: got -1"),
        ({"pot_life_h": "long"}, "pot_life_h: got 'long'"),
        ({"name": ""}, "name is missing"),
        ({"dries_by": "magic"}, "dries_by: got 'magic'"),
        ({"colour": "red"}, "unknown field 'colour'"),
    ],
)
def test_bad_limits_are_refused_by_name(change: dict[str, object], named: str) -> None:
    with pytest.raises(BadInput, match=named):
        parse_paint_limits({**paint_limits_to_json(ENAMEL), **change})
