"""Generated years of booth air for the journal's benchmark; invented, the same for both engines."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sprayout.journal import records as r
from sprayout.journal.batch import BatchWriter, submission_of
from sprayout.journal.ingest import roll_up
from sprayout.journal.recent import HOURS_KEPT, keep_recent
from sprayout.journal.sources import Series, SourceMap, series_by_source
from sprayout.journal.store import connect_reading, connect_writing, prepare_store
from sprayout.journal.strip import Strip

DAY_MS = 86_400_000
DAY_S = 86_400
END_MS = 20_700 * DAY_MS
Cells = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Channel:
    """One channel of the invented air: mean, daily swing, noise, in steps of its last decimal."""

    name: str
    unit: str
    decimals: int
    mean: float
    swing: float
    noise: float


CHANNELS = (
    Channel("air_temperature", "Cel", 2, 20.0, 4.0, 0.02),
    Channel("relative_humidity", "%RH", 2, 55.0, 12.0, 0.08),
    Channel("pressure", "Pa", 0, 101_300.0, 600.0, 2.0),
    Channel("part_temperature", "Cel", 2, 19.0, 3.0, 0.03),
    Channel("air_speed", "m/s", 2, 0.5, 0.1, 0.03),
    Channel("booth_pressure", "Pa", 1, -6.0, 2.0, 0.4),
)


def day_of_values(day: int, source: int = 0) -> NDArray[np.float64]:
    """One day at 1 Hz, shape (86400, 6), each rounded to its channel's decimals."""
    chance = np.random.default_rng([day, source])
    phase = 2 * np.pi * (np.arange(DAY_S) / DAY_S + source / 7)
    columns = [
        np.round(
            c.mean
            + c.swing * np.sin(phase + i)
            + c.swing / 3 * np.sin(2 * np.pi * day / 9 + i)
            + c.noise * chance.standard_normal(DAY_S),
            c.decimals,
        )
        for i, c in enumerate(CHANNELS)
    ]
    return np.stack(columns, axis=1)


def readings_at(values: NDArray[np.float64], at_ms: int, device: str) -> list[r.Reading]:
    """One row of the day as readings."""
    return [
        r.Reading("quay", device, c.name, float(v), c.unit, at_ms)
        for c, v in zip(CHANNELS, values, strict=True)
    ]


@dataclass(frozen=True, slots=True)
class Years:
    """A store of one source: raw at 1 Hz for ``raw_days``, minutes, hours and days for ``days``."""

    path: Path
    days: int
    raw_days: int


def make_years(path: Path, days: int, raw_days: int, measured_days: int, peer: Any) -> Years:
    """Fill a store as years of use leave it; ``peer`` (DuckDB) gets the raw rows of the last year.

    Days before ``measured_days`` repeat those after them, as minutes.
    """
    prepare_store(path)
    connection = connect_writing(path)
    connection.execute("PRAGMA synchronous = OFF")  # filling it is not what is measured
    batch = BatchWriter(connection)
    batch.write([submission_of(readings_at(day_of_values(0)[0], END_MS - days * DAY_MS, "probe"))])
    series = batch.sources.of_source[1]
    connection.execute("DELETE FROM reading_1")
    for day in range(measured_days):
        start_ms = END_MS - (measured_days - day) * DAY_MS
        cells = encoded(day_of_values(day), series)
        if peer is not None:
            add_to_peer(peer, start_ms, cells, series)
        if measured_days - day <= raw_days:
            insert_raw(connection, start_ms, cells)
        insert_minutes(connection, start_ms, cells)
    repeat_minutes(connection, days, measured_days, len(series))
    connection.execute("BEGIN")
    batch.sources.load()
    roll_all(batch.sources, days)
    connection.execute("COMMIT")
    batch.close()
    return Years(path, days, raw_days)


def encoded(values: NDArray[np.float64], series: list[Series]) -> Cells:
    """A day's cells as the store keeps them."""
    columns = [np.rint(values[:, s.slot] * s.scale).astype(np.int64) - s.zero for s in series]
    return np.stack(columns, axis=1)


def insert_raw(connection: sqlite3.Connection, start_ms: int, cells: Cells) -> None:
    at_ms = start_ms + 1000 * np.arange(DAY_S, dtype=np.int64)
    marks = ", ".join("?" * (cells.shape[1] + 1))
    connection.execute("BEGIN")
    connection.executemany(
        f"INSERT INTO reading_1 VALUES ({marks})", np.column_stack((at_ms, cells)).tolist()
    )
    connection.execute("COMMIT")


def insert_minutes(connection: sqlite3.Connection, start_ms: int, cells: Cells) -> None:
    """The minute rows as ``journal.ingest`` rolls them, worked out by numpy."""
    by_minute = cells.reshape(DAY_S // 60, 60, -1)
    columns = [start_ms // 60_000 + np.arange(DAY_S // 60)]
    for i in range(cells.shape[1]):
        x = by_minute[:, :, i]
        columns += [np.full(len(x), 60), x.min(1), x.max(1), x.sum(1)]
    marks = ", ".join("?" * len(columns))
    connection.execute("BEGIN")
    connection.executemany(
        f"INSERT INTO minute_1 VALUES ({marks})", np.column_stack(columns).tolist()
    )
    connection.execute("COMMIT")


def repeat_minutes(
    connection: sqlite3.Connection, days: int, measured_days: int, width: int
) -> None:
    """Earlier years as copies of the measured one, oldest first as use would have written them."""
    parts = ", ".join(f"{p}{i}" for i in range(width) for p in ("n", "low", "high", "total"))
    oldest = (END_MS - days * DAY_MS) // 60_000
    length = measured_days * 1440
    for back in range(-(-days // measured_days) - 1, 0, -1):
        connection.execute(
            f"INSERT INTO minute_1 SELECT start - ?, {parts} FROM minute_1 "
            "WHERE start >= ? AND start - ? >= ? ORDER BY start",
            (back * length, END_MS // 60_000 - length, back * length, oldest),
        )


def roll_all(sources: SourceMap, days: int) -> None:
    first = END_MS // DAY_MS - days
    roll_up(sources, 1, "hour", "minute", first * 24, END_MS // 3_600_000)
    roll_up(sources, 1, "day", "hour", first, END_MS // DAY_MS)
    newest = END_MS // 3_600_000
    hours = range(newest - HOURS_KEPT, newest)
    keep_recent(sources.connection, 1, len(sources.of_source[1]), hours, newest)


def add_to_peer(peer: Any, start_ms: int, cells: Cells, series: list[Series]) -> None:
    """The same raw rows for DuckDB: 64-bit time, 32-bit cells."""
    chunk = {"at_ms": start_ms + 1000 * np.arange(DAY_S, dtype=np.int64)}
    chunk |= {f"c{s.slot}": cells[:, s.slot].astype(np.int32) for s in series}
    peer.register("chunk", chunk)
    peer.execute("INSERT INTO raw SELECT * FROM chunk")
    peer.unregister("chunk")


def peer_schema(peer: Any) -> None:
    columns = ", ".join(f"c{i} INTEGER" for i in range(len(CHANNELS)))
    peer.execute(f"CREATE TABLE raw (at_ms BIGINT, {columns})")


PeerRows = list[tuple[float, ...]]


def peer_chart(peer: Any, from_ms: int, to_ms: int, points: int) -> PeerRows:
    """Mean, low and high of all channels in buckets, as DuckDB works them out of raw rows."""
    picks = ", ".join(f"avg(c{i}), min(c{i}), max(c{i})" for i in range(len(CHANNELS)))
    rows: PeerRows = peer.execute(
        f"SELECT (at_ms - {from_ms}) * {points} // {to_ms - from_ms} AS bucket, {picks} FROM raw "
        f"WHERE at_ms >= {from_ms} AND at_ms < {to_ms} GROUP BY 1 ORDER BY 1"
    ).fetchall()
    return rows


def same_chart(path: Path, ours: Strip, theirs: PeerRows) -> bool:
    """Whether both charts say the same: lows and highs as they are, means to twelve digits."""
    with closing(connect_reading(path)) as connection:
        series = series_by_source(connection)[1]
    rows = np.array(theirs, np.float64)[:, 1:]
    for s, channel in zip(series, ours.channels, strict=True):
        mean, low, high = (rows[:, 3 * s.slot : 3 * s.slot + 3].T + s.zero) / s.scale
        if not (np.array_equal(low, channel.low) and np.array_equal(high, channel.high)):  # type: ignore[arg-type]
            return False
        if not np.allclose(mean, channel.mean, rtol=1e-12, atol=0.0):  # type: ignore[arg-type]
            return False
    return True


def ticks(sources: int, seconds: int) -> Iterator[list[r.Reading]]:
    """Seconds of many sources, one list of readings each."""
    days = [day_of_values(0, s)[:seconds].copy() for s in range(sources)]
    for second in range(seconds):
        at_ms = END_MS + second * 1000
        yield [
            x
            for s in range(sources)
            for x in readings_at(days[s][second], at_ms + 17 * s, f"probe{s}")
        ]
