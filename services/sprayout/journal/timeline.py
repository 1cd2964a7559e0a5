"""Times for the record that never run backwards, whatever the wall clock does.

Between two looks the monotonic clock says how much time passed.  While the wall clock agrees, small
differences are taken up gently; a jump forward is followed at once and noted; a jump back is noted
and not followed, so that the order of what happened stays in the times: the next start of the
program takes the corrected clock.  All in UTC, so daylight saving does nothing.  Pure: the station
hands in both clocks.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

JUMP_MS = 2_000
SLEW = 0.05  # of the time passed: half a second of difference is gone in ten seconds

WRITTEN_MS = 1_735_689_600_000  # 2025-01-01T00:00Z, before this program was written
DOUBT_MS = 86_400_000

Reason = Literal[
    "the clock was set forward",
    "the clock was set back",
    "no clock battery",
    "a record is dated in the future",
]


@dataclass(frozen=True, slots=True)
class Jump:
    """The record's time said ``before_ms`` where the wall clock says ``after_ms``."""

    before_ms: int
    after_ms: int
    reason: Reason


@dataclass(frozen=True, slots=True)
class Timeline:
    """Where the record's time stands: ``at_ms`` when the monotonic clock read ``monotonic_ms``."""

    at_ms: int
    monotonic_ms: int
    wall_ms: int


def begin(wall_ms: int, monotonic_ms: int, newest_ms: int | None) -> tuple[Timeline, Jump | None]:
    """Start at the wall clock, unless it is behind the newest record on file.

    A clock from before this program was written, or less than a day behind, has lost its time: the
    record goes on from its newest time, so that nothing is dated before what came first.  A newest
    record further ahead is itself in doubt, and the clock is believed.
    """
    if newest_ms is None or wall_ms >= newest_ms - JUMP_MS:
        start_ms = max(wall_ms, newest_ms or wall_ms)
        return Timeline(start_ms, monotonic_ms, wall_ms), None
    lost = wall_ms < WRITTEN_MS or newest_ms - wall_ms < DOUBT_MS
    reason: Reason = "no clock battery" if lost else "a record is dated in the future"
    timeline = Timeline(newest_ms if lost else wall_ms, monotonic_ms, wall_ms)
    return timeline, Jump(newest_ms, wall_ms, reason)


def advance(line: Timeline, wall_ms: int, monotonic_ms: int) -> tuple[Timeline, Jump | None]:
    """The timeline at a new look at both clocks, and the jump if the wall clock made one."""
    passed_ms = max(0, monotonic_ms - line.monotonic_ms)
    going_ms = line.at_ms + passed_ms
    moved = replace(line, monotonic_ms=line.monotonic_ms + passed_ms, wall_ms=wall_ms)
    stepped_ms = wall_ms - line.wall_ms - passed_ms
    if abs(stepped_ms) > JUMP_MS:
        forward = wall_ms > going_ms
        at_ms = wall_ms if forward else going_ms
        reason: Reason = "the clock was set forward" if stepped_ms > 0 else "the clock was set back"
        return replace(moved, at_ms=at_ms), Jump(going_ms, wall_ms, reason)
    return replace(moved, at_ms=going_ms + _taken_up(wall_ms - going_ms, passed_ms)), None


def _taken_up(behind_ms: int, passed_ms: int) -> int:
    """How much of a small difference to take up now; a large one (after a jump back) stays."""
    if abs(behind_ms) > JUMP_MS:
        return max(0, behind_ms)
    most = round(SLEW * passed_ms)
    return max(-most, min(most, behind_ms))
