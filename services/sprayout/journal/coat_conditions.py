"""A coat's conditions from the store: gathers what ``journal.conditions`` needs and asks it."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable

import numpy as np

from sprayout.journal.conditions import ChannelReadings, conditions_of, is_of_the_booth
from sprayout.journal.probe_corrections import corrections_of
from sprayout.journal.records import Batch, Coat, Conditions, Flag
from sprayout.journal.sources import Series
from sprayout.journal.tables import select_records

LONGEST_MS = 86_400_000
EXPECTED_MS = 3_600_000  # a channel heard in the hour before a coat is expected during it


def work_out(
    connection: sqlite3.Connection,
    sources: dict[int, list[Series]],
    coat: Coat,
    now_ms: int | None = None,
) -> Conditions:
    """The conditions of a coat up to its end, or up to ``now_ms`` while it runs.

    A coat longer than a day is one that nobody ended: its first day is taken, as ``to_ms`` says.
    """
    end_ms = coat.end_ms if coat.end_ms is not None else now_ms
    end_ms = max(coat.start_ms, coat.start_ms if end_ms is None else end_ms)
    end_ms = min(end_ms, coat.start_ms + LONGEST_MS)
    span = (coat.start_ms, end_ms)
    readings = [
        c
        for source, all_of in sources.items()
        if (series := [s for s in all_of if s.bench == coat.bench and is_of_the_booth(s.channel)])
        for c in _expected(connection, source, series, span)
    ]
    flags = select_records(
        connection,
        Flag,
        "bench = ? AND raised_ms <= ? AND (cleared_ms IS NULL OR cleared_ms >= ?)",
        (coat.bench, end_ms, coat.start_ms),
    )
    return conditions_of(
        coat,
        end_ms,
        sorted(readings, key=lambda c: (c.device, c.channel, c.unit)),
        flags,
        previous_end_ms=_previous_end_ms(connection, coat),
        batch_made_ms=_batch_made_ms(connection, coat),
        corrections=corrections_of(connection, coat.bench),
    )


def _expected(
    connection: sqlite3.Connection, source: int, series: list[Series], span: tuple[int, int]
) -> list[ChannelReadings]:
    from_ms, to_ms = span
    held = raw_readings(connection, source, series, from_ms, to_ms + 1)
    silent = [c for c in held if not len(c.at_ms)]
    if not silent:
        return held
    before = raw_readings(connection, source, series, from_ms - EXPECTED_MS, from_ms)
    heard = {(c.channel, c.unit) for c in before if len(c.at_ms)}
    return [c for c in held if len(c.at_ms) or (c.channel, c.unit) in heard]


def raw_readings(
    connection: sqlite3.Connection,
    source: int,
    series: Iterable[Series],
    from_ms: int,
    to_ms: int,
) -> list[ChannelReadings]:
    """The raw readings of one source's series, ``from_ms <= at < to_ms``."""
    series = list(series)
    columns = ", ".join(f"c{s.slot}" for s in series)
    rows = connection.execute(
        f"SELECT at_ms, {columns} FROM reading_{source} WHERE at_ms >= ? AND at_ms < ? "
        "ORDER BY at_ms",
        (from_ms, to_ms),
    ).fetchall()
    if not rows:
        nothing = (np.empty(0, np.int64), np.empty(0, np.float64))
        return [ChannelReadings(s.device, s.channel, s.unit, *nothing) for s in series]
    at_ms, *cells = zip(*rows, strict=True)
    times = np.array(at_ms, np.int64)
    read = [_decoded(s, times, column) for s, column in zip(series, cells, strict=True)]
    return [
        _with_repeats(connection, s, c, from_ms, to_ms) for s, c in zip(series, read, strict=True)
    ]


def _with_repeats(
    connection: sqlite3.Connection, s: Series, c: ChannelReadings, from_ms: int, to_ms: int
) -> ChannelReadings:
    """With the readings that differ from another of the very same time."""
    more = connection.execute(
        "SELECT at_ms, value FROM repeat WHERE series = ? AND at_ms >= ? AND at_ms < ?",
        (s.id, from_ms, to_ms),
    ).fetchall()
    if not more:
        return c
    at_ms = np.concatenate((c.at_ms, np.array([m[0] for m in more], np.int64)))
    value = np.concatenate((c.value, np.array([m[1] for m in more], np.float64)))
    order = np.lexsort((value, at_ms))
    return ChannelReadings(c.device, c.channel, c.unit, at_ms[order], value[order])


def _decoded(
    s: Series, times: np.ndarray[tuple[int], np.dtype[np.int64]], cells: tuple[object, ...]
) -> ChannelReadings:
    kinds = set(map(type, cells))
    if kinds == {int}:  # the usual case, by the very arithmetic of Series.decode
        values = (np.array(cells, np.float64) + s.zero) / s.scale
        return ChannelReadings(s.device, s.channel, s.unit, times, values)
    held = np.array([c is not None for c in cells])
    values = np.array([s.decode(c) for c in cells if isinstance(c, (int, float))], np.float64)
    return ChannelReadings(s.device, s.channel, s.unit, times[held], values)


def _previous_end_ms(connection: sqlite3.Connection, coat: Coat) -> int | None:
    row = connection.execute(
        "SELECT max(end_ms) FROM coat WHERE piece = ? AND part IS ? AND id <> ? AND end_ms <= ?",
        (coat.piece, coat.part, coat.id, coat.start_ms),
    ).fetchone()
    return None if row[0] is None else int(row[0])


def _batch_made_ms(connection: sqlite3.Connection, coat: Coat) -> int | None:
    if coat.batch is None:
        return None
    made = select_records(connection, Batch, "id = ?", (coat.batch,))
    return made[0].made_ms if made else None
