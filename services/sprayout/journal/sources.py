"""How readings lie in the store: one row per source and millisecond, values as scaled integers.

A *source* is a set of channels of one device that arrive together.  Source N has the tables
``reading_N`` (``at_ms`` and one column ``c<slot>`` per series) and the rollups ``minute_N``,
``hour_N``, ``day_N`` (``n<slot>, low<slot>, high<slot>, total<slot>``).  A value is kept as the
integer ``round(value * 10**decimals) - zero`` where that gives the very same number back, else as a
REAL cell holding the value itself; so every double comes back as it was.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable
from dataclasses import dataclass, field

from sprayout.journal.records import Reading

ROLLUPS = {"minute": 60_000, "hour": 3_600_000, "day": 86_400_000}
MOST_SLOTS = 24
MOST_DECIMALS = 6
MOST_CELL = 2**31  # times 10**6 it is still a whole double, so more decimals can be given later
_SCALE = tuple(10.0**decimals for decimals in range(MOST_DECIMALS + 1))
#: The device under which the station keeps the film margin it works out: no probe, and silent
#: whenever nothing is known of a film.
FILM_MODEL = "film model"
YOUNG_ROWS = 100_000  # below this a series may still be given more decimals

# Decimals to begin with, and the value about which two bytes suffice.  Our choice; a miss costs
# bytes, never digits.
_BEGIN = {
    "Cel": (2, 0.0),
    "%RH": (2, 0.0),
    "K": (2, 0.0),
    "m/s": (2, 0.0),
    "Pa": (0, 0.0),
    "count": (0, 0.0),
}
_ZEROS = {("pressure", "Pa"): 100_000.0}

Cell = int | float | None
Key = tuple[str, str, str, str]  # bench, device, channel, unit


@dataclass(frozen=True, slots=True)
class Series:
    """One channel's column: where it lies and how its cells are read."""

    id: int
    source: int
    slot: int
    bench: str
    device: str
    channel: str
    unit: str
    decimals: int
    zero: int

    @property
    def key(self) -> Key:
        return (self.bench, self.device, self.channel, self.unit)

    @property
    def scale(self) -> float:
        """What a value is multiplied by before it is rounded."""
        return _SCALE[self.decimals]

    def encode(self, value: float) -> int | float:
        """The cell for a value: the scaled integer if exact, else the value itself."""
        scale = _SCALE[self.decimals]
        scaled = value * scale
        if -MOST_CELL < scaled < MOST_CELL:
            whole = round(scaled)
            if whole / scale == value:
                return whole - self.zero
        return value

    def decode(self, cell: int | float) -> float:
        """The value of a cell, the very double that was given to :meth:`encode`."""
        if isinstance(cell, float):
            return cell
        return (cell + self.zero) / _SCALE[self.decimals]

    def scaled_sql(self, column: str) -> str:
        """SQL for a cell in scaled units, whichever way it is kept."""
        return (
            f"CASE typeof({column}) WHEN 'real' THEN {column} * 1e{self.decimals} - {self.zero} "
            f"ELSE {column} END"
        )

    def value_sql(self, column: str) -> str:
        """SQL for the value of a cell."""
        return (
            f"CASE typeof({column}) WHEN 'integer' "
            f"THEN ({column} + {self.zero}) / 1e{self.decimals} ELSE {column} END"
        )


def decimals_of(value: float) -> int:
    """How many decimals the shortest writing of ``value`` has."""
    text = repr(value)
    if "e" in text or "." not in text:
        return 99 if "e-" in text else 0
    decimals = text.partition(".")[2]
    return 0 if decimals == "0" else len(decimals)


def begin_series(channel: str, unit: str, first: float) -> tuple[int, int]:
    """``(decimals, zero)`` of a new series from its unit and its first value."""
    decimals, zero = _BEGIN.get(unit, (0, 0.0))
    needed = decimals_of(first)
    if needed <= MOST_DECIMALS:
        decimals = max(decimals, needed)
    zero = _ZEROS.get((channel, unit), zero)
    return decimals, round(zero * 10**decimals)


def load_series(connection: sqlite3.Connection) -> list[Series]:
    """Every series of the store, in order of source and slot."""
    rows = connection.execute(
        "SELECT series.id, source, slot, bench, device, channel, unit, decimals, zero "
        "FROM series JOIN source ON source.id = series.source ORDER BY source, slot"
    )
    return [Series(*row) for row in rows]


def series_by_source(connection: sqlite3.Connection) -> dict[int, list[Series]]:
    """Every source's series in order of slot."""
    found: dict[int, list[Series]] = {}
    for series in load_series(connection):
        found.setdefault(series.source, []).append(series)
    return found


@dataclass(slots=True)
class SourceMap:
    """The writer's picture of all sources; ``load`` again after a rollback or a foreign write."""

    connection: sqlite3.Connection
    series: dict[Key, Series] = field(default_factory=dict)
    of_source: dict[int, list[Series]] = field(default_factory=dict)
    newest_ms: dict[int, int] = field(default_factory=dict)
    tabled: dict[int, int] = field(default_factory=dict)
    grown: set[int] = field(default_factory=set)

    def load(self) -> None:
        """Read the map from the store."""
        self.of_source = series_by_source(self.connection)
        self.series = {s.key: s for all_of in self.of_source.values() for s in all_of}
        self.tabled = {source: len(all_of) for source, all_of in self.of_source.items()}
        self.newest_ms = {source: self._newest(source) for source in self.of_source}

    def _newest(self, source: int) -> int:
        row = self.connection.execute(f"SELECT max(at_ms) FROM reading_{source}").fetchone()
        return -1 if row[0] is None else int(row[0])

    def _add(self, series: Series) -> None:
        self.series[series.key] = series
        self.of_source.setdefault(series.source, []).append(series)

    def new_series(self, reading: Reading, previous: Reading | None, source: int) -> Series:
        """A series for a channel not heard so far.

        It joins the ``source`` of the ``previous`` reading if that came from the same device at the
        same time: what arrives together lies in one row.
        """
        together = previous is not None and (
            (previous.bench, previous.device, previous.at_ms)
            == (reading.bench, reading.device, reading.at_ms)
        )
        if not together or len(self.of_source[source]) >= MOST_SLOTS:
            source = self._new_source(reading)
        slot = len(self.of_source.get(source, ()))
        decimals, zero = begin_series(reading.channel, reading.unit, reading.value)
        cursor = self.connection.execute(
            "INSERT INTO series (source, slot, channel, unit, decimals, zero) "
            "VALUES (?, ?, ?, ?, ?, ?)",
            (source, slot, reading.channel, reading.unit, decimals, zero),
        )
        where = (reading.bench, reading.device, reading.channel, reading.unit)
        series = Series(int(cursor.lastrowid or 0), source, slot, *where, decimals, zero)
        self._add(series)
        return series

    def _new_source(self, reading: Reading) -> int:
        self.connection.execute("INSERT OR IGNORE INTO bench VALUES (?)", (reading.bench,))
        cursor = self.connection.execute(
            "INSERT INTO source (bench, device) VALUES (?, ?)", (reading.bench, reading.device)
        )
        source = int(cursor.lastrowid or 0)
        self.tabled[source], self.newest_ms[source] = 0, -1
        return source

    def make_tables(self) -> None:
        """Tables and columns for all series that have none yet; the plain view made anew."""
        for source, all_of in self.of_source.items():
            new = all_of[self.tabled[source] :]
            if new:
                for statement in table_statements(source, all_of, new):
                    self.connection.execute(statement)
                self.tabled[source] = len(all_of)

    def widen(self, series: Series, value: float) -> Series:
        """More decimals for a young series whose values need them; its cells are written anew."""
        needed = decimals_of(value)
        if not series.decimals < needed <= MOST_DECIMALS or self._is_grown(series.source):
            return series
        wider = Series(
            series.id,
            series.source,
            series.slot,
            *series.key,
            needed,
            series.zero * 10 ** (needed - series.decimals),
        )
        self.connection.execute(
            "UPDATE series SET decimals = ?, zero = ? WHERE id = ?", (needed, wider.zero, series.id)
        )
        self.series[series.key] = wider
        self.of_source[series.source][series.slot] = wider
        if series.slot < self.tabled[series.source]:
            self._rescale(series, wider)
        return wider

    def _is_grown(self, source: int) -> bool:
        """Whether a source has too many rows to write anew; once it has, it is not asked again."""
        if source in self.grown or not self.tabled[source]:
            return source in self.grown
        sql = f"SELECT count(*) FROM (SELECT 1 FROM reading_{source} LIMIT {YOUNG_ROWS + 1})"
        if self.connection.execute(sql).fetchone()[0] > YOUNG_ROWS:
            self.grown.add(source)
        return source in self.grown

    def _rescale(self, old: Series, new: Series) -> None:
        times = 10 ** (new.decimals - old.decimals)
        c = f"c{old.slot}"
        cells = self.connection.execute(
            f"SELECT {c}, at_ms FROM reading_{old.source} WHERE typeof({c}) = 'real'"
        ).fetchall()
        self.connection.execute(
            f"UPDATE reading_{old.source} SET {c} = {c} * {times} WHERE typeof({c}) = 'integer'"
        )
        self.connection.executemany(
            f"UPDATE reading_{old.source} SET {c} = ? WHERE at_ms = ?",
            [(new.encode(value), at_ms) for value, at_ms in cells],
        )
        for level in ROLLUPS:
            sets = ", ".join(f"{p}{old.slot} = {p}{old.slot} * {times}" for p in _SCALED)
            self.connection.execute(f"UPDATE {level}_{old.source} SET {sets}")
        self.connection.execute("DELETE FROM recent_minutes WHERE source = ?", (old.source,))
        for statement in view_statements(old.source, self.of_source[old.source]):
            self.connection.execute(statement)


_SCALED = ("low", "high", "total")
_PARTS = ("n", *_SCALED)


def table_statements(source: int, series: list[Series], new: list[Series]) -> list[str]:
    """DDL for new series: whole tables for a new source, more columns for an old one."""
    if len(new) == len(series):
        cells = ", ".join(f"c{s.slot} ANY" for s in series)
        parts = ", ".join(f"{p}{s.slot} ANY" for s in series for p in _PARTS)
        made = [f"CREATE TABLE reading_{source} (at_ms INTEGER PRIMARY KEY, {cells}) STRICT"]
        made += [
            f"CREATE TABLE {level}_{source} (start INTEGER PRIMARY KEY, {parts}) STRICT"
            for level in ROLLUPS
        ]
    else:
        made = [f"ALTER TABLE reading_{source} ADD COLUMN c{s.slot} ANY" for s in new]
        made += [
            f"ALTER TABLE {level}_{source} ADD COLUMN {p}{s.slot} ANY"
            for level in ROLLUPS
            for s in new
            for p in _PARTS
        ]
    return made + view_statements(source, series)


def view_statements(source: int, series: Iterable[Series]) -> list[str]:
    """The view ``plain_N``: real times, real names, real values, for any SQLite tool."""
    columns = ", ".join(
        f"{s.value_sql(f'c{s.slot}')} AS {_quoted(f'{s.channel} ({s.unit})')}" for s in series
    )
    at = (
        "strftime('%Y-%m-%dT%H:%M:%S', at_ms / 1000, 'unixepoch') || printf('.%03dZ', at_ms % 1000)"
    )
    return [
        f"DROP VIEW IF EXISTS plain_{source}",
        f"CREATE VIEW plain_{source} AS SELECT {at} AS at, {columns} FROM reading_{source}",
    ]


def _quoted(name: str) -> str:
    doubled = name.replace('"', '""')
    return f'"{doubled}"'
