"""Flags: levels, hysteresis, dwell, and that silence never reads as good."""

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sprayout.climate import flags
from sprayout.climate.flags import BoothInputs, FlagCleared, FlagLevelChanged, FlagRaised, Measured
from sprayout.climate.levels import MARGIN_SCALE, Level, Scale

NOW = 1_000


def fresh(value: float | None) -> Measured:
    return Measured(value, 500)


GOOD = BoothInputs(
    air_c=fresh(21.0),
    rh_pct=fresh(45.0),
    part_c=fresh(20.5),
    fan_state="confirmed",
    calibration_age_days=1.0,
    fan_wanted=True,
    film_margin_k=fresh(5.0),
)


def first_level(inputs: BoothInputs, key: str) -> Level | None:
    state, _ = flags.evaluate(flags.initial_state(), inputs, NOW)
    return state.standing(key).level


def test_a_good_booth_raises_nothing() -> None:
    state, events = flags.evaluate(flags.initial_state(), GOOD, NOW)
    assert events == []
    assert state.raised() == ()


@pytest.mark.parametrize(
    ("key", "change", "level"),
    [
        ("humid_blush_risk", {"film_margin_k": fresh(2.9)}, "caution"),
        ("humid_blush_risk", {"film_margin_k": fresh(-0.1)}, "stop"),
        ("humid_blush_risk", {"film_margin_k": Measured.missing()}, "unknown"),
        ("humid_blush_risk", {"film_margin_k": Measured(9.0, 60_000)}, "unknown"),
        ("humid_blush_risk", {"rh_pct": Measured.missing()}, "unknown"),
        ("humid_blush_risk", {"film_margin_k": None}, "none"),
        ("humid_blush_risk", {"film_margin_k": None, "rh_pct": fresh(60.0)}, "note"),
        ("humid_blush_risk", {"film_margin_k": None, "rh_pct": fresh(86.0)}, "caution"),
        (
            "humid_blush_risk",
            {"film_margin_k": None, "rh_pct": fresh(72.0), "paint_rh_max_pct": 70.0},
            "caution",
        ),
        ("surface_near_dew_point", {"part_c": fresh(11.0)}, "caution"),
        ("surface_near_dew_point", {"part_c": fresh(8.0)}, "stop"),
        ("surface_near_dew_point", {"part_c": Measured.missing()}, "unknown"),
        ("surface_near_dew_point", {"part_c": None}, "note"),
        ("surface_near_dew_point", {"part_c": None, "rh_pct": fresh(90.0)}, "caution"),
        ("surface_near_dew_point", {"air_c": fresh(float("nan"))}, "unknown"),
        ("surface_near_dew_point", {"air_c": fresh(-300.0)}, "unknown"),
        ("probe_silent", {"air_c": Measured(21.0, 15_001)}, "caution"),
        ("probe_silent", {"rh_pct": Measured.missing()}, "caution"),
        ("probe_silent", {"rh_pct": fresh(140.0)}, "caution"),
        ("calibration_due", {"calibration_age_days": 8.0}, "note"),
        ("calibration_due", {"calibration_age_days": 31.0}, "caution"),
        ("calibration_due", {"calibration_age_days": None}, "caution"),
        ("fan_not_confirmed", {"fan_state": "not confirmed"}, "stop"),
        ("fan_not_confirmed", {"fan_state": "unknown"}, "unknown"),
        ("fan_not_confirmed", {"fan_wanted": None, "fan_state": "not confirmed"}, "stop"),
        ("fan_not_confirmed", {"fan_wanted": False, "fan_state": "not confirmed"}, "none"),
    ],
)
def test_level_of_one_moment(key: str, change: dict[str, object], level: str) -> None:
    assert first_level(replace(GOOD, **change), key) == level


def test_every_raised_flag_says_what_it_rests_on_and_what_would_help() -> None:
    nothing = BoothInputs(Measured.missing(), Measured.missing())
    state, events = flags.evaluate(flags.initial_state(), nothing, NOW)
    assert len(events) == len(state.raised()) == 5
    for event in events:
        assert isinstance(event, FlagRaised)
        assert event.level is not Level.NONE
        assert event.words and event.rests_on and event.would_help
        assert "safe" not in f"{event.words} {event.would_help}".lower()


def run(margins: list[float | None], step_ms: int = 1_000) -> list[flags.FlagEvent]:
    """Film margins at equal steps; ``None`` is a missing value.  Events of that flag alone."""
    state, events = flags.initial_state(), []
    for index, margin in enumerate(margins):
        inputs = replace(
            GOOD, film_margin_k=fresh(margin) if margin is not None else Measured.missing()
        )
        state, happened = flags.evaluate(state, inputs, index * step_ms)
        events += [e for e in happened if e.key == "humid_blush_risk"]
    return events


def test_a_level_must_hold_before_it_rises() -> None:
    assert run([5.0, 2.0, 2.0, 5.0, 5.0, 2.0, 2.0, 5.0]) == []
    (raised,) = run([5.0] + [2.0] * 5)
    assert isinstance(raised, FlagRaised)
    assert raised.at_ms == 4_000  # first below 3 K at 1 s, held for 3 s


def test_a_spike_to_stop_gives_only_what_held() -> None:
    (raised,) = run([5.0, 2.0, -1.0, 2.0, 2.0, 2.0])
    assert isinstance(raised, FlagRaised)
    assert raised.level is Level.CAUTION


def test_it_clears_only_beyond_hysteresis_and_after_its_dwell() -> None:
    inside = run([2.0] * 5 + [3.3] * 500)
    assert [type(e) for e in inside] == [FlagRaised]
    beyond = run([2.0] * 5 + [3.6] * 500)
    assert [type(e) for e in beyond] == [FlagRaised, FlagCleared]
    assert beyond[1].at_ms == 5_000 + 120_000


def test_caution_goes_to_stop_and_back() -> None:
    events = run([2.0] * 5 + [-1.0] * 10 + [1.0] * 130 + [4.0] * 130)
    assert [type(e) for e in events] == [
        FlagRaised,
        FlagLevelChanged,
        FlagLevelChanged,
        FlagCleared,
    ]


def test_silence_turns_a_stop_into_unknown_and_remembers_it() -> None:
    events = run([-1.0] * 3 + [None] * 20)
    assert isinstance(events[1], FlagLevelChanged)
    assert events[1].level is Level.UNKNOWN
    assert "stood at stop before" in events[1].words


def test_silence_is_no_short_cut_to_none() -> None:
    events = run([-1.0] * 3 + [None] * 3 + [9.0] * 100)
    assert [e.level for e in events if not isinstance(e, FlagCleared)][-1] is Level.UNKNOWN
    assert not any(isinstance(e, FlagCleared) for e in events)


def test_a_clock_set_back_does_not_break_the_dwell() -> None:
    state, _ = flags.evaluate(flags.initial_state(), GOOD, 100_000)
    bad = replace(GOOD, film_margin_k=fresh(1.0))
    state, events = flags.evaluate(state, bad, 101_000)
    state, events = flags.evaluate(state, bad, 50_000)
    assert events == []
    state, events = flags.evaluate(state, bad, 53_000)
    assert [type(e) for e in events] == [FlagRaised]


@settings(deadline=None, max_examples=100)
@given(st.lists(st.one_of(st.none(), st.floats(-5.0, 8.0)), min_size=1, max_size=60))
def test_events_tell_the_whole_story(margins: list[float | None]) -> None:
    level = Level.NONE
    for event in run(margins, step_ms=30_000):
        if isinstance(event, FlagRaised):
            assert level is Level.NONE
        else:
            assert event.was is level
        level = Level.NONE if isinstance(event, FlagCleared) else event.level
    if margins[-1] is None:
        assert level is Level.UNKNOWN


@settings(deadline=None, max_examples=100)
@given(st.floats(-10.0, 10.0), st.sampled_from(list(Level)))
def test_hysteresis_only_ever_keeps_a_graver_level(value: float, standing: Level) -> None:
    assert MARGIN_SCALE.level(value, standing).rank >= MARGIN_SCALE.level(value).rank


def test_scale_counts_upwards_too() -> None:
    scale = Scale(hysteresis=2.0, note=50.0, caution=85.0)
    assert [scale.level(v) for v in (50.0, 51.0, 86.0)] == ["none", "note", "caution"]
    assert scale.level(84.0, Level.CAUTION) is Level.CAUTION


def test_a_flag_that_stands_although_it_is_better_says_why() -> None:
    """A word like "no probe is suspect" beside a raised flag would contradict itself."""
    suspect = replace(GOOD, probe_words=("door: stuck",))
    state, _ = flags.evaluate(flags.initial_state(), suspect, NOW)
    state, _ = flags.evaluate(state, GOOD, NOW + 1_000)
    standing = state.standing("probe_suspect")
    assert standing.level is Level.CAUTION
    assert "better now, it stays at caution until that has lasted 10 min" in standing.words
    state, events = flags.evaluate(state, GOOD, NOW + 1_000 + 600_000)
    assert state.standing("probe_suspect").level is Level.NONE
    assert "better now" not in state.standing("probe_suspect").words
    assert any(isinstance(event, FlagCleared) for event in events)
