"""Reading the store: connections that cannot write, one per thread, never in the writer's way."""

from __future__ import annotations

import json
import sqlite3
import threading
from collections.abc import Mapping, Sequence, Set
from dataclasses import dataclass
from pathlib import Path
from types import TracebackType
from typing import Any, TypeVar

from sprayout.errors import BadInput
from sprayout.journal import records as r
from sprayout.journal.coat_conditions import raw_readings, work_out
from sprayout.journal.sources import Series, series_by_source
from sprayout.journal.store import connect_reading, translated
from sprayout.journal.strip import Strip, strip_of
from sprayout.journal.tables import select_records, table_of

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class CoatOnRecord:
    """A coat with its piece and, once it has ended, its conditions."""

    coat: r.Coat
    piece: r.Piece
    conditions: r.Conditions | None


@dataclass(frozen=True, slots=True)
class ChannelOnRecord:
    """A channel the store knows, and the time of its source's first and newest reading."""

    bench: str
    device: str
    channel: str
    unit: str
    first_ms: int | None
    last_ms: int | None


class Reader:
    """All questions to the store.  May be used from any thread."""

    def __init__(self, path: Path) -> None:
        """``BadInput`` if there is no store; open it with ``prepare_store`` first."""
        self._path = path
        self._own = threading.local()
        self._all: list[sqlite3.Connection] = []
        self._lock = threading.Lock()
        self._connection()

    @property
    def path(self) -> Path:
        """The file that is read."""
        return self._path

    def close(self) -> None:
        """Close every connection."""
        with self._lock:
            for connection in self._all:
                connection.close()
            self._all.clear()

    def __enter__(self) -> Reader:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def _connection(self) -> sqlite3.Connection:
        connection: sqlite3.Connection | None = getattr(self._own, "connection", None)
        if connection is None:
            try:
                connection = connect_reading(self._path)
            except sqlite3.Error as error:
                raise translated(error, self._path) from error
            self._own.connection = connection
            with self._lock:
                self._all.append(connection)
        return connection

    def _sources(self) -> dict[int, list[Series]]:
        return series_by_source(self._connection())

    def benches(self) -> tuple[str, ...]:
        """The benches on record, by name."""
        rows = self._connection().execute("SELECT bench FROM bench ORDER BY bench")
        return tuple(row[0] for row in rows)

    def get(self, record: type[T], key: str) -> T | None:
        """The record of that id (conditions: of that coat's id)."""
        found = select_records(self._connection(), record, f"{table_of(record).key} = ?", (key,))
        return found[0] if found else None

    def all(
        self, record: type[T], *, limit: int | None = None, newest: bool = False, **equal: object
    ) -> list[T]:
        """Records whose named fields equal the given values, by time and id.

        None means empty; a list or a set means one of its values.
        """
        where, values = _equal(record, equal)
        return select_records(self._connection(), record, where, values, newest=newest, limit=limit)

    def pick(
        self, record: type[T], fields: Sequence[str], **equal: object
    ) -> list[tuple[Any, ...]]:
        """The named fields alone of the records :meth:`all` would give, as they are kept.

        Lists and objects stay JSON text: for questions to thousands of records.
        """
        table = table_of(record)
        _refuse_unknown(record, set(fields))
        where, values = _equal(record, equal)
        order = ", ".join(c for c in (table.time, table.key) if c)
        return (
            self._connection()
            .execute(
                f"SELECT {', '.join(fields)} FROM {table.name} "
                f"{f'WHERE {where}' if where else ''} ORDER BY {order}",
                values,
            )
            .fetchall()
        )

    def coats(
        self,
        bench: str | None = None,
        *,
        piece: str | None = None,
        from_ms: int | None = None,
        to_ms: int | None = None,
        limit: int | None = None,
    ) -> list[CoatOnRecord]:
        """Coats that started in the span, newest first."""
        asked = {
            "bench = ?": bench,
            "piece = ?": piece,
            "start_ms >= ?": from_ms,
            "start_ms < ?": to_ms,
        }
        asked = {k: v for k, v in asked.items() if v is not None}
        coats = select_records(
            self._connection(),
            r.Coat,
            " AND ".join(asked),
            asked.values(),
            newest=True,
            limit=limit,
        )
        return [self._on_record(coat) for coat in coats]

    def coat(self, key: str) -> CoatOnRecord | None:
        """One coat."""
        coat = self.get(r.Coat, key)
        return None if coat is None else self._on_record(coat)

    def _on_record(self, coat: r.Coat) -> CoatOnRecord:
        piece = self.get(r.Piece, coat.piece)
        assert piece is not None, "the foreign key holds"
        return CoatOnRecord(coat, piece, self.get(r.Conditions, coat.id))

    def conditions(self, coat_id: str, now_ms: int | None = None) -> r.Conditions | None:
        """A coat's conditions worked out afresh; a running coat's up to ``now_ms``."""
        coat = self.get(r.Coat, coat_id)
        if coat is None:
            return None
        return work_out(self._connection(), self._sources(), coat, now_ms)

    def open_flags(self, bench: str | None = None) -> list[r.Flag]:
        """Flags that still stand or that nobody has acknowledged, oldest first."""
        where, values = "(cleared_ms IS NULL OR acknowledged_ms IS NULL)", ()
        if bench is None:
            return select_records(self._connection(), r.Flag, where, values)
        return select_records(self._connection(), r.Flag, f"{where} AND bench = ?", (bench,))

    def flags(
        self,
        bench: str,
        from_ms: int,
        to_ms: int,
        *,
        coat: str | None = None,
        limit: int | None = None,
    ) -> list[r.Flag]:
        """Flags any of whose time lies in ``from_ms <= time < to_ms``, newest first.

        One that still stands has no end: the rule by which an export takes them.
        """
        where = "bench = ? AND coalesce(cleared_ms >= ?, 1) AND raised_ms < ?"
        values: list[object] = [bench, from_ms, to_ms]
        if coat is not None:
            where, values = f"{where} AND coat = ?", [*values, coat]
        return select_records(self._connection(), r.Flag, where, values, newest=True, limit=limit)

    def swatches(
        self,
        bench: str | None = None,
        *,
        target: str | None = None,
        batch: str | None = None,
        limit: int | None = None,
    ) -> list[r.Swatch]:
        """Swatches, newest first."""
        asked = {"bench": bench, "target": target, "batch": batch}
        given = {k: v for k, v in asked.items() if v is not None}
        return self.all(r.Swatch, limit=limit, newest=True, **given)

    def latest_calibration(self, bench: str, device: str) -> r.Calibration | None:
        """The newest calibration of a board."""
        found = self.all(r.Calibration, bench=bench, device=device, newest=True, limit=1)
        return found[0] if found else None

    def channels(self, bench: str | None = None) -> list[ChannelOnRecord]:
        """Every channel on record."""
        connection, found = self._connection(), []
        for source, series in self._sources().items():
            first_ms, last_ms = (
                connection.execute(f"SELECT {end}(at_ms) FROM reading_{source}").fetchone()[0]
                for end in ("min", "max")
            )
            found += [
                ChannelOnRecord(s.bench, s.device, s.channel, s.unit, first_ms, last_ms)
                for s in series
                if bench in (None, s.bench)
            ]
        return sorted(found, key=lambda c: (c.bench, c.device, c.channel, c.unit))

    def latest(self, bench: str) -> list[r.Reading]:
        """The newest reading of every channel of a bench, by device and channel."""
        found = [
            self._latest_of(s)
            for series in self._sources().values()
            for s in series
            if s.bench == bench
        ]
        return sorted((x for x in found if x), key=lambda x: (x.device, x.channel, x.unit))

    def _latest_of(self, s: Series) -> r.Reading | None:
        c = f"c{s.slot}"
        row = (
            self._connection()
            .execute(
                f"SELECT at_ms, {c} FROM reading_{s.source} WHERE {c} IS NOT NULL "
                "ORDER BY at_ms DESC LIMIT 1"
            )
            .fetchone()
        )
        if row is None:
            return None
        return r.Reading(s.bench, s.device, s.channel, s.decode(row[1]), s.unit, row[0])

    def readings(
        self,
        bench: str,
        from_ms: int,
        to_ms: int,
        *,
        channels: Sequence[str] | None = None,
        device: str | None = None,
    ) -> list[r.Reading]:
        """Raw readings, ``from_ms <= at < to_ms``, by time, device and channel."""
        chosen = self._chosen(bench, channels, device)
        found = []
        for source in dict.fromkeys(s.source for s in chosen):
            of_source = [s for s in chosen if s.source == source]
            for c in raw_readings(self._connection(), source, of_source, from_ms, to_ms):
                found += [
                    r.Reading(bench, c.device, c.channel, value, c.unit, at_ms)
                    for at_ms, value in zip(c.at_ms.tolist(), c.value.tolist(), strict=True)
                ]
        return sorted(found, key=lambda x: (x.at_ms, x.device, x.channel, x.unit, x.value))

    def strip(
        self,
        bench: str,
        channels: Sequence[str] | None,
        from_ms: int,
        to_ms: int,
        *,
        points: int = 720,
        device: str | None = None,
    ) -> Strip:
        """Channels of a bench (all when None) over a span in ``points`` buckets."""
        if to_ms <= from_ms or not 1 <= points <= 10_000:
            raise BadInput(
                f"strip: got {from_ms} to {to_ms} in {points} points, wanted an end "
                "after the start and 1 to 10,000 points"
            )
        chosen = self._chosen(bench, channels, device)
        return strip_of(self._connection(), chosen, from_ms, to_ms, points)

    def _chosen(
        self, bench: str, channels: Sequence[str] | None, device: str | None
    ) -> list[Series]:
        return [
            s
            for series in self._sources().values()
            for s in series
            if s.bench == bench
            and (channels is None or s.channel in channels)
            and device in (None, s.device)
        ]


def _refuse_unknown(record: type, fields: Set[str]) -> None:
    unknown = fields - set(table_of(record).columns)
    if unknown:
        raise BadInput(f"{record.__name__} has no field {min(unknown)!r}")


def _equal(record: type, equal: Mapping[str, object]) -> tuple[str, list[object]]:
    """The condition and its values; no bench means every bench."""
    _refuse_unknown(record, equal.keys())
    given = {k: v for k, v in equal.items() if not (k == "bench" and v is None)}
    parts, values = [], list[object]()
    for name, value in given.items():
        if isinstance(value, (list, tuple, set, frozenset)):
            parts.append(f"{name} IN (SELECT value FROM json_each(?))")
            values.append(json.dumps(sorted(value)))
        else:
            parts.append(f"{name} IS ?")
            values.append(value)
    return " AND ".join(parts), values
