"""The retention rule: raw readings around every coat for ever, elsewhere for so many days.

Rollups stay for ever.  A raw minute is dropped only when its rollup counts every reading of it, so
nothing that is known gets lost.  The work is cut into steps, each a transaction of its own, that
the writer runs between its commits.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from dataclasses import dataclass

from sprayout.errors import BadInput
from sprayout.journal.ingest import MINUTE_MS
from sprayout.journal.sources import Series, SourceMap

DAY_MS = 86_400_000
STEP_MS = 2 * 3_600_000  # 7,200 rows of 1 Hz at a time
Span = tuple[int, int]


@dataclass(frozen=True, slots=True)
class Retention:
    """How long raw readings are kept away from coats, and what counts as near a coat."""

    raw_days: float = 90.0
    before_coat_min: float = 60.0
    after_coat_min: float = 24 * 60.0

    def __post_init__(self) -> None:
        if min(self.raw_days, self.before_coat_min, self.after_coat_min) < 0:
            raise BadInput("retention: got a negative time, wanted 0 or more")


def thin(sources: SourceMap, rule: Retention, now_ms: int) -> Iterator[int]:
    """Drop raw readings by the rule, one step per ``next``; yields the rows dropped by each step.

    Each step must be run inside a transaction of its own.
    """
    horizon_ms = now_ms - round(rule.raw_days * DAY_MS)
    for source in sorted(sources.of_source):
        bench = sources.of_source[source][0].bench
        kept = _near_coats(sources.connection, bench, rule)
        for span in _outside(kept, _minute_up(horizon_ms)):
            yield from _thin_span(sources, source, span)


def _thin_span(sources: SourceMap, source: int, span: Span) -> Iterator[int]:
    at_ms, end_ms = span
    while True:
        row = sources.connection.execute(
            f"SELECT min(at_ms) FROM reading_{source} WHERE at_ms >= ? AND at_ms < ?",
            (at_ms, end_ms),
        ).fetchone()
        if row[0] is None:
            return
        first_ms = row[0] // MINUTE_MS * MINUTE_MS
        at_ms = min(first_ms + STEP_MS, end_ms)
        yield _drop(sources.connection, source, sources.of_source[source], (first_ms, at_ms))


def _drop(connection: sqlite3.Connection, source: int, series: list[Series], span: Span) -> int:
    counts = ", ".join(f"count(c{s.slot}) AS k{s.slot}" for s in series)
    same = " AND ".join(f"coalesce(m.n{s.slot}, 0) = r.k{s.slot}" for s in series)
    cursor = connection.execute(
        f"DELETE FROM reading_{source} WHERE at_ms >= ? AND at_ms < ? AND at_ms / {MINUTE_MS} IN ("
        f"SELECT m.start FROM minute_{source} m JOIN ("
        f"SELECT at_ms / {MINUTE_MS} AS start, {counts} FROM reading_{source} "
        f"WHERE at_ms >= ? AND at_ms < ? GROUP BY 1) r ON r.start = m.start WHERE {same})",
        (*span, *span),
    )
    return cursor.rowcount


def _near_coats(connection: sqlite3.Connection, bench: str, rule: Retention) -> list[Span]:
    rows = connection.execute(
        "SELECT start_ms, end_ms FROM coat WHERE bench = ? ORDER BY start_ms", (bench,)
    )
    before, after = (round(m * MINUTE_MS) for m in (rule.before_coat_min, rule.after_coat_min))
    return [
        (
            (start - before) // MINUTE_MS * MINUTE_MS,
            _minute_up((start + DAY_MS if end is None else end) + after),
        )
        for start, end in rows
    ]


def _outside(kept: list[Span], end_ms: int) -> Iterator[Span]:
    """The spans from 0 to ``end_ms`` that no kept span touches."""
    at_ms = 0
    for first, last in sorted(kept):
        if first > at_ms:
            yield at_ms, min(first, end_ms)
        at_ms = max(at_ms, last)
        if at_ms >= end_ms:
            return
    if at_ms < end_ms:
        yield at_ms, end_ms


def _minute_up(at_ms: int) -> int:
    return -(-at_ms // MINUTE_MS) * MINUTE_MS
