"""Measurements become steps, steps a unit; what does not belong together is refused."""

import pytest

from sprayout.bench.colour_desk import ColourDesk, step_of, together, unit_of
from sprayout.colour.unit import Patch
from sprayout.errors import CalibrationRefused
from sprayout.intake.events import ChannelReading, ColourDetail, ReadingsArrived

CHANNELS = ("f1", "f2", "clear")


def arrived(gain: float = 64.0, channels: tuple[str, ...] = CHANNELS) -> ReadingsArrived:
    detail = ColourDetail(gain, 50.04, 18_000.0, ("f2",), (1.0, 2.0, 3.0), "on")
    readings = tuple(ChannelReading(name, 100.0, "count", 0) for name in channels)
    return ReadingsArrived("bench", "board", 0, readings, detail, 1)


def test_repeats_become_one_step_with_the_ambient_light_apart() -> None:
    found = step_of([arrived(), arrived()], CHANNELS)
    assert found.counts.shape == (2, 3) and found.saturated == ("f2",)
    assert found.without_ambient() == (99.0, 98.0, 97.0)


def test_repeats_at_two_gains_are_refused() -> None:
    with pytest.raises(CalibrationRefused, match="changed between repeats"):
        step_of([arrived(64.0), arrived(128.0)], CHANNELS)


def test_a_channel_that_is_missing_is_named() -> None:
    with pytest.raises(CalibrationRefused, match="f2 missing"):
        step_of([arrived(channels=("f1", "clear"))], CHANNELS)


def test_placements_become_one_step() -> None:
    both = together([step_of([arrived()], CHANNELS), step_of([arrived(), arrived()], CHANNELS)])
    assert both.counts.shape == (3, 3) and both.saturated == ("f2",)


def test_the_unit_holds_dark_and_tile_without_ambient_light() -> None:
    desk = ColourDesk("board", "rgb", ("red", "green", "blue"))
    dark = step_of([arrived(channels=desk.channels)], desk.channels)
    unit = unit_of(desk, dark, Patch("white tile", (900.0, 900.0, 900.0), None, None))
    assert unit.dark == (99.0, 98.0, 97.0) and unit.full_scale == 18_000.0


def test_the_desk_says_what_to_do_next() -> None:
    desk = ColourDesk("board", "spectral-8", CHANNELS)
    assert "light trap" in desk.words()
    desk.start_with(step_of([arrived()], CHANNELS))
    assert "white tile" in desk.words()
