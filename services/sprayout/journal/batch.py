"""One transaction: human records, readings, rollups and the conditions of the coats they touch."""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence

from sprayout.errors import BadInput
from sprayout.journal import records as r
from sprayout.journal.coat_conditions import work_out
from sprayout.journal.ingest import write_readings
from sprayout.journal.sources import SourceMap
from sprayout.journal.tables import (
    ORDER,
    missing_reference,
    refused,
    select_records,
    write_record,
)

Outcome = BadInput | None


class BatchWriter:
    """Writes submissions through one connection; each submission is kept whole or not at all."""

    def __init__(self, connection: sqlite3.Connection) -> None:
        self._connection = connection
        self._sources = SourceMap(connection)
        self._sources.load()
        self._seen = self._data_version()

    def close(self) -> None:
        """Close the connection."""
        self._connection.close()

    def write(self, submissions: Sequence[Sequence[r.Record]]) -> list[Outcome]:
        """One durable transaction; per submission None, or why it was refused.

        An error of SQLite leaves the store as it was and is raised.
        """
        if not any(submissions):
            return [None] * len(submissions)
        self._connection.execute("BEGIN IMMEDIATE")
        try:
            if self._data_version() != self._seen:
                self._sources.load()  # another program wrote: a source may be new
            outcomes = self._write_all(submissions)
            self._connection.execute("COMMIT")
        except BaseException:
            if self._connection.in_transaction:
                self._connection.execute("ROLLBACK")
            self._sources.load()
            raise
        self._seen = self._data_version()
        return outcomes

    def _data_version(self) -> int:
        return int(self._connection.execute("PRAGMA data_version").fetchone()[0])

    def _write_all(self, submissions: Sequence[Sequence[r.Record]]) -> list[Outcome]:
        outcomes: list[Outcome] = []
        readings: list[r.Reading] = []
        human: list[r.Record] = []
        for records in submissions:
            others = [x for x in records if not isinstance(x, r.Reading)]
            outcome = self._write_human(others) if others else None
            outcomes.append(outcome)
            if outcome is None:
                human += others
                readings += [x for x in records if isinstance(x, r.Reading)]
        touched = write_readings(self._sources, readings) if readings else None
        self._keep_conditions_true(human, touched.earliest_ms if touched else {})
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
        since = dict(earliest_ms)
        for x in human:
            if isinstance(x, r.Flag):
                since[x.bench] = min(x.raised_ms, since.get(x.bench, x.raised_ms))
        for bench, from_ms in since.items():
            late = select_records(
                self._connection, r.Coat, "bench = ? AND end_ms >= ?", (bench, from_ms)
            )
            coats |= {coat.id: coat for coat in late}
        given = {x.coat for x in human if isinstance(x, r.Conditions)}
        for coat in (c for c in coats.values() if c.id not in given):
            write_record(self._connection, work_out(self._connection, self._sources, coat))
