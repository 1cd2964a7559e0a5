"""The steps of a calibration: what is refused, and in which words."""

import numpy as np
import pytest

from sprayout.bench import colour_desk
from sprayout.bench.colour_desk import Setting, Step, step_of
from sprayout.errors import CalibrationRefused
from sprayout.intake.events import ChannelReading, ColourDetail, ReadingsArrived

CHANNELS = ("f1", "f2", "clear")
SETTING = Setting(64.0, 50.04, 18_000.0)


def step(
    counts: tuple[float, ...], ambient: tuple[float, ...] = (0.0, 0.0, 0.0),
    setting: Setting = SETTING, saturated: tuple[str, ...] = (),
) -> Step:  # fmt: skip
    return Step(setting, CHANNELS, np.array([counts]), np.array([ambient]), saturated)


DARK = step((40.0, 60.0, 90.0))
WHITE = step((4_000.0, 9_000.0, 12_000.0))


def test_a_good_dark_and_a_good_white_pass() -> None:
    colour_desk.check_dark(DARK)
    colour_desk.check_white(WHITE, DARK)


@pytest.mark.parametrize(
    ("bad", "words"),
    [
        (step((40.0, 60.0, 2_000.0)), "clear reads 2000 of 18000"),
        (step((40.0, 60.0, 90.0), ambient=(0.0, 200.0, 0.0)), "with the LED off"),
    ],
)
def test_a_dark_that_is_none_is_refused(bad: Step, words: str) -> None:
    with pytest.raises(CalibrationRefused, match=words):
        colour_desk.check_dark(bad)


@pytest.mark.parametrize(
    ("bad", "words"),
    [
        (step((4_000.0, 9_000.0, 18_000.0), saturated=("clear",)), "clear is at the top"),
        (step((400.0, 900.0, 1_200.0)), "a quarter or more"),
        (step((4_000.0, 9_000.0, 12_000.0), ambient=(0.0, 0.0, 500.0)), "light from outside"),
        (
            step((4_000.0, 9_000.0, 12_000.0), setting=Setting(128.0, 50.04, 18_000.0)),
            "measure the dark again",
        ),
    ],
)
def test_a_white_that_cannot_be_used_is_refused(bad: Step, words: str) -> None:
    with pytest.raises(CalibrationRefused, match=words):
        colour_desk.check_white(bad, DARK)


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
