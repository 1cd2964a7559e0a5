"""When a calibration is due again, and the check tile that says so day by day.

Intervals and limits are settings; the defaults are common practice, no source.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from sprayout.colour.difference import ciede2000
from sprayout.colour.profile import ColourEstimate
from sprayout.colour.tristimulus import Lab
from sprayout.colour.words import words
from sprayout.errors import BadInput


@dataclass(frozen=True, slots=True)
class CalibrationFacts:
    """When, with which chip, at what age of the LED and at what temperature; unknown = None."""

    at_ms: int
    chip: str
    gain: float
    integration_ms: float
    led_hours: float | None = None
    temperature_c: float | None = None


@dataclass(frozen=True, slots=True)
class DueRules:
    """How long a calibration holds."""

    hours: float = 12.0
    led_hours: float = 50.0
    temperature_k: float = 5.0
    check_de00: float = 0.7


def calibration_due(
    made: CalibrationFacts,
    now: CalibrationFacts,
    rules: DueRules | None = None,
    *,
    last_check_de00: float | None = None,
) -> tuple[str, ...]:
    """Reasons why the calibration is due, the weightiest first; empty when it still holds.

    ``last_check_de00`` is the check tile's drift since the calibration, where it was measured.
    """
    rules = rules or DueRules()
    return tuple(
        reason
        for reason in (
            _other_chip(made, now),
            _other_setting(made, now),
            _failed_check(last_check_de00, rules),
            _too_old(made, now, rules),
            _other_temperature(made, now, rules),
            _aged_led(made, now, rules),
        )
        if reason
    )


def _other_chip(made: CalibrationFacts, now: CalibrationFacts) -> str | None:
    if made.chip == now.chip:
        return None
    return f"calibrated with {made.chip}, measuring with {now.chip}; calibrate this chip"


def _other_setting(made: CalibrationFacts, now: CalibrationFacts) -> str | None:
    if made.gain == now.gain and abs(made.integration_ms - now.integration_ms) < 0.01:
        return None
    return (
        f"calibrated at gain {made.gain:g} and {made.integration_ms:g} ms, measuring at "
        f"{now.gain:g} and {now.integration_ms:g} ms; go back to that setting or calibrate again"
    )


def _failed_check(de00: float | None, rules: DueRules) -> str | None:
    if de00 is None or de00 <= rules.check_de00:
        return None
    return f"the check tile moved by {de00:.2f} (allowed {rules.check_de00:g}); calibrate again"


def _too_old(made: CalibrationFacts, now: CalibrationFacts, rules: DueRules) -> str | None:
    hours = (now.at_ms - made.at_ms) / 3.6e6
    if hours < 0.0:
        return "the calibration is dated after now; set the clock or calibrate again"
    if hours <= rules.hours:
        return None
    return f"calibrated {hours:.0f} hours ago (holds {rules.hours:g}); calibrate again"


def _other_temperature(
    made: CalibrationFacts, now: CalibrationFacts, rules: DueRules
) -> str | None:
    if made.temperature_c is None or now.temperature_c is None:
        return None
    change = now.temperature_c - made.temperature_c
    if abs(change) <= rules.temperature_k:
        return None
    return (
        f"{change:+.1f} K since the calibration (allowed {rules.temperature_k:g}); calibrate again"
    )


def _aged_led(made: CalibrationFacts, now: CalibrationFacts, rules: DueRules) -> str | None:
    if made.led_hours is None or now.led_hours is None:
        return None
    hours = now.led_hours - made.led_hours
    if hours <= rules.led_hours:
        return None
    return f"the LED burned {hours:.0f} hours since (allowed {rules.led_hours:g}); calibrate again"


@dataclass(frozen=True, slots=True)
class CheckTile:
    """A green or grey tile kept for daily checks: its colour right after a calibration."""

    name: str
    lab_d65_10: Lab


@dataclass(frozen=True, slots=True)
class CheckResult:
    """Today's look at the check tile against its reference."""

    de00: float
    passed: bool
    words: str


def check_tile(
    tile: CheckTile, measured: ColourEstimate, rules: DueRules | None = None
) -> CheckResult:
    """Whether the check tile still reads as it did; its spread counts, not its true colour."""
    rules = rules or DueRules()
    if measured.clipped:
        raise BadInput(f"check tile {tile.name}: a channel is clipped; measure it again")
    de00 = float(ciede2000(tile.lab_d65_10, measured.lab_d65_10))
    passed = de00 <= rules.check_de00
    said = "holds" if passed else f"{words(tile.lab_d65_10, measured.lab_d65_10).plain}"
    return CheckResult(de00, passed, said)


@dataclass(frozen=True, slots=True)
class CheckTrend:
    """The check tile over time: the last difference, the drift a week, and days to the limit."""

    last_de00: float
    per_week: float
    days_left: float | None


def check_trend(
    at_ms: Sequence[int], de00: Sequence[float], rules: DueRules | None = None
) -> CheckTrend:
    """Straight line through the checks since the calibration (two or more, in time order)."""
    rules = rules or DueRules()
    if len(at_ms) != len(de00) or len(at_ms) < 2:
        raise BadInput(f"check tile: got {len(de00)} checks, wanted 2 or more to see a trend")
    days = (np.asarray(at_ms, dtype=float) - at_ms[0]) / 8.64e7
    if np.ptp(days) == 0.0:
        raise BadInput("check tile: all checks have one time; wanted checks at different times")
    slope = float(np.polyfit(days, np.asarray(de00, dtype=float), 1)[0])
    left = (rules.check_de00 - de00[-1]) / slope if slope > 1e-4 else None
    return CheckTrend(float(de00[-1]), 7.0 * slope, None if left is None else max(left, 0.0))
