"""The two clocks of the intake, handed in where a test wants others."""

from __future__ import annotations

import time


def wall_clock_ms() -> int:
    """Unix time, in milliseconds."""
    return time.time_ns() // 1_000_000


def monotonic_ms() -> int:
    """A clock that never runs backwards, in milliseconds."""
    return time.monotonic_ns() // 1_000_000
