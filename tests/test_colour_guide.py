"""The guided calibration: what is refused, and with which words; when it is due again."""

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from sprayout.colour.due import (
    CalibrationFacts,
    CheckTile,
    DueRules,
    calibration_due,
    check_tile,
    check_trend,
)
from sprayout.colour.guide import Setting, check_dark, check_patch, check_white
from sprayout.colour.profile import ColourEstimate
from sprayout.errors import BadInput, CalibrationRefused

CHANNELS = ("f1", "f2", "f3", "f4", "f5", "f6", "f7", "f8", "clear", "nir")
SETTING = Setting("spectral-8", CHANNELS, 18000.0)
DARK = np.array([12.0, 60, 40, 90, 150, 140, 90, 40, 300, 10])
WHITE = np.array([500.0, 6000, 3500, 8000, 14000, 12000, 7000, 3000, 17000, 200])
RED = np.array([60.0, 500, 300, 700, 2500, 8000, 6500, 2900, 8000, 190])


def readings(level: Any, count: int = 8, noise: float = 0.001, seed: int = 1) -> Any:
    rng = np.random.default_rng(seed)
    return np.rint(level * (1 + noise * rng.standard_normal((count, len(level)))))


def test_good_steps_pass_without_a_word() -> None:
    assert check_dark(readings(DARK), SETTING, tile_level=WHITE).ok
    white = check_white(readings(WHITE), DARK, SETTING, np.full(10, 4.0), last_levels=WHITE - DARK)
    assert (white.ok, white.notes) == (True, ())
    assert check_patch("red", readings(RED), DARK, WHITE, SETTING).ok


def with_channel(level: Any, channel: str, value: float) -> Any:
    changed = level.copy()
    changed[CHANNELS.index(channel)] = value
    return changed


DRIFTING = WHITE * np.linspace(1.0, 0.93, 8)[:, None]


@pytest.mark.parametrize(
    ("found", "words"),
    [
        (check_white(readings(with_channel(WHITE, "f5", 18000.0), noise=0), DARK, SETTING),
         "f5 reads 18000, the top of its range"),
        (check_white(DRIFTING, DARK, SETTING), "drifted by"),
        (check_white(readings(WHITE, noise=0.08), DARK, SETTING), "scatters by|drifted by"),
        (check_white(readings(WHITE), DARK, SETTING, np.full(10, 900.0)), "room light reaches"),
        (check_white(readings(WHITE), DARK, SETTING, with_channel(np.zeros(10), "nir", 800.0)),
         "nir reads 800 with the LED off"),
        (check_white(readings(DARK), DARK, SETTING), "counts above dark, wanted at least 20"),
        (check_white(readings(0.4 * WHITE), DARK, SETTING, last_levels=WHITE - DARK),
         "this is another tile"),
        (check_white(readings(with_channel(WHITE, "f2", 3500.0)), DARK, SETTING,
                     last_levels=WHITE - DARK), "this is another tile or another LED"),
        (check_dark(readings(WHITE), SETTING, tile_level=WHITE), "too much for a light trap"),
        (check_patch("blue", readings(RED), DARK, WHITE, SETTING, others=[("red", RED)]),
         "reads the same as patch red"),
        (check_patch("blue", readings(1.2 * WHITE), DARK, WHITE,
                     replace(SETTING, full_scale=65535)), "lighter than the white tile"),
    ],
)  # fmt: skip
def test_bad_steps_are_refused_by_name(found: Any, words: str) -> None:
    assert not found.ok
    with pytest.raises(CalibrationRefused, match=words):
        found.require()


def test_a_slightly_dirty_tile_is_a_note_not_a_refusal() -> None:
    found = check_white(readings(0.95 * WHITE), DARK, SETTING, last_levels=WHITE - DARK)
    assert found.ok
    assert "wipe tile and window" in found.notes[0]


def test_wrong_number_of_counts_and_negative_counts() -> None:
    with pytest.raises(BadInput, match="dark: got 9 counts, wanted 10"):
        check_dark(readings(DARK[:9]), SETTING)
    with pytest.raises(BadInput, match="white tile: f1 reads -1, negative"):
        check_white(readings(with_channel(WHITE, "f1", -1.0), noise=0), DARK, SETTING)


MADE = CalibrationFacts(0, "chip-1", 64, 50.04, led_hours=10.0, temperature_c=20.0)
HOUR = 3_600_000


@pytest.mark.parametrize(
    ("now", "reason"),
    [
        (replace(MADE, at_ms=11 * HOUR), None),
        (replace(MADE, at_ms=13 * HOUR), "calibrated 13 hours ago"),
        (replace(MADE, temperature_c=26.0), r"\+6.0 K since the calibration"),
        (replace(MADE, temperature_c=None), None),
        (replace(MADE, led_hours=70.0), "the LED burned 60 hours"),
        (replace(MADE, gain=128), "calibrated at gain 64"),
        (replace(MADE, chip="chip-2"), "calibrate this chip"),
        (replace(MADE, at_ms=-HOUR), "dated after now"),
    ],
)
def test_when_a_calibration_is_due(now: CalibrationFacts, reason: str | None) -> None:
    found = calibration_due(MADE, now)
    assert bool(found) == (reason is not None)
    if reason:
        with pytest.raises(AssertionError, match=reason):
            raise AssertionError(found[0])


def test_a_failed_check_tile_makes_it_due() -> None:
    assert calibration_due(MADE, MADE, last_check_de00=0.3) == ()
    assert "check tile moved by 1.20" in calibration_due(MADE, MADE, last_check_de00=1.2)[0]


def estimate(lab: tuple[float, float, float], clipped: bool = False) -> ColourEstimate:
    return ColourEstimate((0.3,) * 31, lab, lab, 0.5, clipped)


def test_check_tile_passes_or_says_how_it_moved() -> None:
    tile = CheckTile("green", (50.0, -30.0, 10.0))
    assert check_tile(tile, estimate((50.1, -30.0, 10.0))).passed
    failed = check_tile(tile, estimate((47.0, -30.0, 10.0)))
    assert (failed.passed, failed.words) == (False, "too dark")
    with pytest.raises(BadInput, match="a channel is clipped"):
        check_tile(tile, estimate((50.0, -30.0, 10.0), clipped=True))


def test_check_tile_over_time() -> None:
    day = 24 * HOUR
    trend = check_trend([0, day, 2 * day, 3 * day], [0.1, 0.2, 0.3, 0.4], DueRules())
    assert trend.per_week == pytest.approx(0.7)
    assert trend.days_left == pytest.approx(3.0)
    assert check_trend([0, day], [0.2, 0.2]).days_left is None
    with pytest.raises(BadInput, match="wanted 2 or more"):
        check_trend([0], [0.1])
