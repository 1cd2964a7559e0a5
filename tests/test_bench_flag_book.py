"""Flags on record: raised, acknowledged, cleared, and nothing that stood is overwritten."""

import itertools

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sprayout.bench.flag_book import FlagBook, record_level
from sprayout.climate.flags import FlagCleared, FlagLevelChanged, FlagRaised, Level
from sprayout.errors import BadInput


def book() -> FlagBook:
    numbers = itertools.count(1)
    return FlagBook("bench", lambda prefix: f"{prefix}-{next(numbers)}")


def raised(level: Level = Level.CAUTION, at_ms: int = 1_000) -> FlagRaised:
    return FlagRaised("humid", "humid: blush risk", level, at_ms, "83 %RH", ("rh",), "wait")


def changed(was: Level, level: Level, at_ms: int = 2_000) -> FlagLevelChanged:
    return FlagLevelChanged("humid", "humid", level, was, at_ms, "words", ("rh",), "wait")


def cleared(at_ms: int = 3_000) -> FlagCleared:
    return FlagCleared("humid", "humid", Level.CAUTION, at_ms, "56 %RH")


def test_a_flag_is_raised_with_the_coat_it_falls_into() -> None:
    (flag,) = book().apply([raised()], "coat-1")
    assert (flag.level, flag.raised_ms, flag.coat, flag.cleared_ms) == (
        "caution", 1_000, "coat-1", None,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("level", "on_record"),
    [
        (Level.NOTE, "note"),
        (Level.CAUTION, "caution"),
        (Level.STOP, "stop"),
        (Level.UNKNOWN, "caution"),
    ],
)
def test_unknown_is_kept_as_a_caution(level: Level, on_record: str) -> None:
    assert record_level(level) == on_record


@pytest.mark.parametrize(
    ("was", "level", "still_read"),
    [
        (Level.STOP, Level.CAUTION, True),
        (Level.CAUTION, Level.STOP, False),
        (Level.NOTE, Level.UNKNOWN, False),
    ],
)
def test_an_acknowledgement_follows_to_a_milder_level_only(
    was: Level, level: Level, still_read: bool
) -> None:
    flags = book()
    (first,) = flags.apply([raised(was)], None)
    flags.take_read(flags.acknowledged(first.id, "A. Volunteer", 1_500))
    closed, opened = flags.apply([changed(was, level)], None)
    assert closed.cleared_ms == 2_000 and closed.id == first.id
    assert (opened.acknowledged_by is not None) == still_read


def test_a_flag_that_went_down_unread_stays_to_be_read() -> None:
    flags = book()
    flags.apply([raised()], None)
    (closed,) = flags.apply([cleared()], None)
    assert [f.id for f in flags.shown()] == [closed.id]
    read = flags.acknowledged(closed.id, "A. Volunteer", 4_000)
    assert [f.id for f in flags.shown()] == [closed.id]  # not read until that is on record
    flags.take_read(read)
    assert read.cleared_ms == 3_000 and flags.shown() == []


def test_a_flag_is_acknowledged_once() -> None:
    flags = book()
    with pytest.raises(BadInput, match="wanted one that is up"):
        flags.acknowledged("flag-9", "A. Volunteer", 1)


@settings(deadline=None, max_examples=60)
@given(st.lists(st.sampled_from([Level.NONE, Level.NOTE, Level.UNKNOWN, Level.CAUTION, Level.STOP]),
                max_size=12))  # fmt: skip
def test_at_any_moment_one_record_is_open_for_a_flag_that_is_up(levels: list[Level]) -> None:
    flags, on_record, was = book(), {}, Level.NONE
    for at_ms, level in enumerate(levels, start=1):
        if level is was:
            continue
        if was is Level.NONE:
            event = raised(level, at_ms)
        elif level is Level.NONE:
            event = cleared(at_ms)
        else:
            event = changed(was, level, at_ms)
        for flag in flags.apply([event], None):
            on_record[flag.id] = flag
        was = level
    still_open = [flag for flag in on_record.values() if flag.cleared_ms is None]
    assert len(still_open) == (0 if was is Level.NONE else 1)
    assert all(flag.raised_ms <= (flag.cleared_ms or flag.raised_ms) for flag in on_record.values())
