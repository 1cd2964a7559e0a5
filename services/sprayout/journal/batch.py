"""One transaction: human records, readings, rollups and the conditions of the coats they touch."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from math import isfinite

from sprayout.errors import BadInput
from sprayout.journal import records as r
from sprayout.journal.coat_conditions import work_out
from sprayout.journal.ingest import write_readings
from sprayout.journal.records_json import MOST_MS
from sprayout.journal.retime import Move, retime
from sprayout.journal.sources import SourceMap
from sprayout.journal.tables import (
    ORDER,
    missing_reference,
    refused,
    select_records,
    write_record,
)

Outcome = BadInput | None


@dataclass(frozen=True, slots=True)
class Submission:
    """Records that are kept together or not at all."""

    readings: Sequence[r.Reading]
    others: Sequence[r.Record]

    def __len__(self) -> int:
        return len(self.readings) + len(self.others)


def submission_of(records: Iterable[r.Record]) -> Submission:
    """The records as one submission; ``BadInput`` for a reading that no store can keep."""
    readings: list[r.Reading] = []
    others: list[r.Record] = []
    for record in records:
        if isinstance(record, r.Reading):
            if not (isfinite(record.value) and 0 <= record.at_ms <= MOST_MS):
                refuse_unkeepable(record)
            readings.append(record)
        else:
            others.append(record)
    return Submission(readings, others)


def refuse_unkeepable(reading: r.Reading) -> None:
    """``BadInput`` for a value or a time that no store can keep."""
    if not isfinite(reading.value):
        raise BadInput(f"reading {reading.channel}: got {reading.value}, wanted a finite number")
    if not 0 <= reading.at_ms <= MOST_MS:
        raise BadInput(
            f"reading {reading.channel}: got the time {reading.at_ms} ms, wanted 1970 to 9999; "
            "set the clock"
        )


class BatchWriter:
    """Writes submissions through one connection; each submission is kept whole or not at all."""

    def __init__(self, connection: sqlite3.Connection) -> None:
        self._connection = connection
        self.sources = SourceMap(connection)
        self._newest_end_ms: dict[str, int] = {}
        self._seen = self._data_version()  # before loading: what comes after is seen as new
        self._load()

    def _load(self) -> None:
        self.sources.load()
        rows = self._connection.execute("SELECT bench, max(end_ms) FROM coat GROUP BY bench")
        self._newest_end_ms = {bench: end_ms for bench, end_ms in rows if end_ms is not None}

    def close(self) -> None:
        """Close the connection."""
        self._connection.close()

    def write(self, submissions: Sequence[Submission]) -> list[Outcome]:
        """One durable transaction; per submission None, or why it was refused.

        An error of SQLite leaves the store as it was and is raised.
        """
        if not any(s.readings or s.others for s in submissions):
            return [None] * len(submissions)
        with self._transaction():
            return self._write_all(submissions)

    def step(self, steps: Iterator[int]) -> int | None:
        """The next step of a chore in a transaction of its own; None when it is done."""
        with self._transaction():
            return next(steps, None)

    def retime(self, move: Move) -> Iterator[int]:
        """One step (for :meth:`step`): moves a stretch in time, works its coats out again."""
        moved = retime(self.sources, move)
        self._load()
        first_ms = min(move.from_ms, move.from_ms + move.by_ms)
        self._keep_conditions_true([], {move.bench: first_ms})
        yield moved

    @contextmanager
    def _transaction(self) -> Iterator[None]:
        self._connection.execute("BEGIN IMMEDIATE")
        try:
            seen = self._data_version()
            if seen != self._seen:
                self._load()  # another program wrote: a source may be new
                self._seen = seen
            yield
            self._connection.execute("COMMIT")
        except BaseException:
            if self._connection.in_transaction:
                self._connection.execute("ROLLBACK")
            self._load()
            raise

    def _data_version(self) -> int:
        return int(self._connection.execute("PRAGMA data_version").fetchone()[0])

    def _write_all(self, submissions: Sequence[Submission]) -> list[Outcome]:
        outcomes: list[Outcome] = []
        readings: list[r.Reading] = []
        human: list[r.Record] = []
        for submission in submissions:
            outcome = self._write_human(submission.others) if submission.others else None
            outcomes.append(outcome)
            if outcome is None:
                human += submission.others
                readings += submission.readings
        written = write_readings(self.sources, readings)
        self._keep_conditions_true(human, written.earliest_ms)
        return outcomes

    def _write_human(self, records: Sequence[r.Record]) -> Outcome:
        self._connection.execute("SAVEPOINT one")
        outcome = None
        for record in sorted(records, key=lambda x: ORDER[type(x)]):
            try:
                write_record(self._connection, record)
            except sqlite3.IntegrityError as error:
                outcome = refused(self._connection, record, error)
                break
        outcome = outcome or self._deferred_faults(records)
        if outcome is not None:
            self._connection.execute("ROLLBACK TO one")
        self._connection.execute("RELEASE one")
        return outcome

    def _deferred_faults(self, records: Sequence[r.Record]) -> Outcome:
        """A target and its swatch refer to each other, so SQLite looks at that only at the end."""
        for record in records:
            if isinstance(record, (r.Target, r.Swatch)):
                missing = missing_reference(self._connection, record)
                if missing is not None:
                    return refused(self._connection, record, ValueError(missing))
        return None

    def _keep_conditions_true(self, human: list[r.Record], earliest_ms: dict[str, int]) -> None:
        coats = {x.id: x for x in human if isinstance(x, r.Coat) and x.end_ms is not None}
        ended = self._newest_end_ms
        for coat in list(coats.values()):
            coats |= {c.id: c for c in self._next_coat(coat)}
        for coat in coats.values():
            ended[coat.bench] = max(coat.end_ms or 0, ended.get(coat.bench, 0))
        since = {b: ms for b, ms in earliest_ms.items() if ms <= ended.get(b, -1)}
        for x in human:
            if isinstance(x, r.Flag):
                since[x.bench] = min(x.raised_ms, since.get(x.bench, x.raised_ms))
            elif isinstance(x, r.ProbeCheck):  # withdrawn or not, it counts from its own time
                since[x.bench] = min(x.at_ms, since.get(x.bench, x.at_ms))
        for bench, from_ms in since.items():
            late = select_records(
                self._connection, r.Coat, "bench = ? AND end_ms >= ?", (bench, from_ms)
            )
            coats |= {coat.id: coat for coat in late}
        given = {x.coat for x in human if isinstance(x, r.Conditions)}
        for coat in (c for c in coats.values() if c.id not in given):
            write_record(self._connection, work_out(self._connection, self.sources.of_source, coat))

    def _next_coat(self, coat: r.Coat) -> list[r.Coat]:
        """The coat after this one on the same part: its time since the coat before may change."""
        return select_records(
            self._connection,
            r.Coat,
            "piece = ? AND part IS ? AND start_ms >= ? AND end_ms IS NOT NULL AND id <> ?",
            (coat.piece, coat.part, coat.start_ms, coat.id),
            limit=1,
        )
