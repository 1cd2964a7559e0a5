"""A coat's conditions, equipment and findings as far as the review reads them.

Kept conditions hold a dozen figures a channel and every gap; the review compares hundreds of coats
by a few of these, so only the few are made into values, and the text of all coats is parsed at
once.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from operator import itemgetter
from typing import Any, NamedTuple

from sprayout.journal.records import FlagMinutes

#: The columns of ``conditions`` that :func:`airs_seen` is made of.
COLUMNS = (
    "coat", "from_ms", "to_ms", "channels", "flags", "since_previous_coat_min", "batch_age_min",
)  # fmt: skip


class ChannelSeen(NamedTuple):
    """What the review reads of a channel; named as in ``records.ChannelConditions``."""

    channel: str
    n: int
    mean: float | None
    worst_minute: float | None
    gap_s: float


class AirbrushSeen(NamedTuple):
    """What the review reads of ``records.Airbrush``."""

    pressure_pa: float | None
    distance_mm: float | None
    cleaned_ms: int | None


class BoothSeen(NamedTuple):
    """What the review reads of ``records.Booth``."""

    filter_changed_ms: int | None


class FindingSeen(NamedTuple):
    """What the review of a coat reads of the ``records.Finding`` of the others."""

    coat: str | None
    piece: str
    defect: str


@dataclass(frozen=True, slots=True)
class AirSeen:
    """What the review reads of ``records.Conditions``, by the same names."""

    from_ms: int
    to_ms: int
    channels: tuple[ChannelSeen, ...]
    flags: tuple[FlagMinutes, ...]
    since_previous_coat_min: float | None
    batch_age_min: float | None


_wanted = itemgetter(*ChannelSeen._fields)


def airs_seen(rows: Sequence[tuple[Any, ...]]) -> dict[str, AirSeen]:
    """By coat, from rows of :data:`COLUMNS`; lists are the JSON text that is kept."""
    texts = ",".join(f"[{row[3]},{row[4]}]" for row in rows)
    return {
        coat: AirSeen(
            from_ms,
            to_ms,
            tuple([ChannelSeen._make(_wanted(c)) for c in channels]),
            tuple([FlagMinutes(**flag) for flag in flags]),
            since_min,
            age_min,
        )
        for (coat, from_ms, to_ms, _, _, since_min, age_min), (channels, flags) in zip(
            rows, json.loads(f"[{texts}]"), strict=True
        )
    }
