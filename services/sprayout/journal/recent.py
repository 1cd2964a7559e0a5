"""The minutes of the last three days once more, an hour a cell: what a chart of a day is read from.

A chart of 24 hours rests on 1,440 minute rows of four cells a channel, and most of its time goes
into handing these to Python one by one.  So each hour that is over is also kept as one BLOB in
``recent_minutes``, made of the rows of ``minute_N`` in the same transaction: 8-byte floats, shape
(4, slots, 60) for n, low, high and total; NaN where the minute has none.  Nothing rests on it:
where an hour lies in no BLOB (older, or written before there were any), the rows are read.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable

import numpy as np
import numpy.typing as npt

from sprayout.journal.sources import Series

HOURS_KEPT = 72
PARTS = ("n", "low", "high", "total")
_KIND = np.dtype("<f8")
Floats = npt.NDArray[np.float64]


def keep_recent(
    connection: sqlite3.Connection, source: int, slots: int, hours: Iterable[int], newest_hour: int
) -> None:
    """Keep the hours that were rolled up, of the last three days; older ones go."""
    oldest = newest_hour - HOURS_KEPT
    connection.executemany(
        "INSERT OR REPLACE INTO recent_minutes VALUES (?, ?, ?)",
        [
            (source, hour, hour_cells(connection, source, slots, hour))
            for hour in hours
            if hour >= oldest
        ],
    )
    connection.execute("DELETE FROM recent_minutes WHERE source = ? AND hour < ?", (source, oldest))


def forget_recent(connection: sqlite3.Connection, source: int) -> None:
    """Drop a source's hours: its minute rows were written anew."""
    connection.execute("DELETE FROM recent_minutes WHERE source = ?", (source,))


def hour_cells(connection: sqlite3.Connection, source: int, slots: int, hour: int) -> bytes:
    """One hour of a source's minute rows as they are kept."""
    columns = ", ".join(f"{part}{slot}" for part in PARTS for slot in range(slots))
    rows = connection.execute(
        f"SELECT start, {columns} FROM minute_{source} WHERE start >= ? AND start < ?",
        (hour * 60, hour * 60 + 60),
    ).fetchall()
    cells = np.full((len(PARTS) * slots, 60), np.nan, _KIND)
    if rows:
        held = np.array(rows, _KIND)
        cells[:, held[:, 0].astype(np.int64) - hour * 60] = held[:, 1:].T
    return cells.tobytes()


def slots_of(cells: bytes) -> int:
    """How many channels an hour was kept of."""
    return len(cells) // (len(PARTS) * 60 * _KIND.itemsize)


def recent_hours(
    connection: sqlite3.Connection, source: int, series: list[Series], first: int, end: int
) -> tuple[list[int], Floats]:
    """The hours kept, ``first <= hour < end``, in order; (4, hours * 60, series) of their cells."""
    rows = connection.execute(
        "SELECT hour, cells FROM recent_minutes WHERE source = ? AND hour >= ? AND hour < ? "
        "ORDER BY hour",
        (source, first, end),
    ).fetchall()
    wanted = [s.slot for s in series]
    if not rows:
        return [], np.empty((len(PARTS), 0, len(wanted)))
    if len({len(cells) for _, cells in rows}) == 1:
        whole = np.frombuffer(b"".join(cells for _, cells in rows), _KIND)
        by_hour = whole.reshape(len(rows), len(PARTS), -1, 60)
    else:
        by_hour = _as_wide_as_the_widest([cells for _, cells in rows])
    chosen = _with_slots(by_hour, max(wanted) + 1)[:, :, wanted]
    return [hour for hour, _ in rows], chosen.transpose(1, 0, 3, 2).reshape(
        len(PARTS), -1, len(wanted)
    )


def _as_wide_as_the_widest(hours: list[bytes]) -> Floats:
    """Hours from before a channel was first heard have fewer slots."""
    width = max(map(slots_of, hours))
    each = [np.frombuffer(cells, _KIND).reshape(1, len(PARTS), -1, 60) for cells in hours]
    return np.concatenate([_with_slots(cells, width) for cells in each])


def _with_slots(by_hour: Floats, slots: int) -> Floats:
    missing = max(0, slots - by_hour.shape[2])
    if not missing:
        return by_hour
    return np.pad(by_hour, ((0, 0), (0, 0), (0, missing), (0, 0)), constant_values=np.nan)
