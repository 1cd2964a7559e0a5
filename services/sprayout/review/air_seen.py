"""A coat's conditions as far as the review reads them.

Kept conditions hold a dozen figures a channel and every gap; the review compares hundreds of coats
by a few of these, so only the few are made into values.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import Any

from sprayout.journal.records import FlagMinutes

#: The columns of ``conditions`` that :func:`air_seen` is made of, after the coat's id.
COLUMNS = (
    "from_ms", "to_ms", "channels", "flags", "since_previous_coat_min", "batch_age_min",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class ChannelSeen:
    """What the review reads of a channel; named as in ``records.ChannelConditions``."""

    channel: str
    n: int
    mean: float | None
    worst_minute: float | None
    gap_s: float


@dataclass(frozen=True, slots=True)
class AirSeen:
    """What the review reads of ``records.Conditions``, by the same names."""

    from_ms: int
    to_ms: int
    channels: tuple[ChannelSeen, ...]
    flags: tuple[FlagMinutes, ...]
    since_previous_coat_min: float | None
    batch_age_min: float | None


def air_seen(cells: tuple[Any, ...]) -> AirSeen:
    """From the cells of a row, :data:`COLUMNS` in order; lists are the JSON text that is kept."""
    from_ms, to_ms, channels, flags, since_min, age_min = cells
    return AirSeen(
        from_ms,
        to_ms,
        tuple(
            ChannelSeen(c["channel"], c["n"], c["mean"], c["worst_minute"], c["gap_s"])
            for c in json.loads(channels)
        ),
        tuple(FlagMinutes(**flag) for flag in json.loads(flags)) if flags != "[]" else (),
        since_min,
        age_min,
    )
