"""``sprayout benchmark journal``: what the store costs and what it withstands.

Peers: ``executemany`` of sqlite3 into a plain table with the same durability, and DuckDB over the
same raw rows (``pip install duckdb``).  Both sides run in this process, turn about; figures are
medians.  Invented data of ``journal_data``.
"""

from __future__ import annotations

import os
import resource
import sqlite3
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from contextlib import closing
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

from sprayout.commands.benchmarks import journal_data as data
from sprayout.commands.benchmarks.journal_faults import full_disk, kill_rounds, power_cut_rounds
from sprayout.errors import BadInput
from sprayout.journal import records as r
from sprayout.journal.batch import BatchWriter, submission_of
from sprayout.journal.importing import import_file
from sprayout.journal.interchange import Range, export_lines
from sprayout.journal.reader import Reader
from sprayout.journal.store import connect_reading, connect_writing, prepare_store
from sprayout.journal.strip import Strip
from sprayout.journal.writer import Writer

Figure = dict[str, object]
YEAR_MS = 365 * data.DAY_MS
POINTS = 720


def run(quick: bool) -> dict[str, object]:
    """All figures; ``quick`` makes fewer rounds and smaller stores."""
    with tempfile.TemporaryDirectory(prefix="sprayout-") as name:
        folder = Path(name)
        figures = [
            *ingest_figures(folder, rounds=3 if quick else 9, seconds=100 if quick else 150),
            *size_figures(folder, hours=2 if quick else 24),
            *year_figures(folder, quick),
            *fault_figures(folder, 10 if quick else 300, 10 if quick else 100),
        ]
    return {"quick": quick, "sqlite": sqlite3.sqlite_version, "figures": figures}


def figure(words: str, value: object, goal: str | None = None, met: bool | None = None) -> Figure:
    return {"figure": words, "value": value, "goal": goal, "met": met}


def seconds_of(work: Callable[[], object]) -> float:
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def fresh(folder: Path, name: str) -> Path:
    for left in folder.glob(f"{name}*"):
        left.unlink()
    path = folder / name
    prepare_store(path)
    return path


# --- ingest ---------------------------------------------------------------------------------------


def ingest_figures(folder: Path, rounds: int, seconds: int) -> list[Figure]:
    """Readings a second, in commits of one second of 10 and of 50 sources with six channels."""
    found = []
    for sources in (10, 50):
        batches = list(data.ticks(sources, seconds))
        count = sum(len(b) for b in batches[1:])
        ours, plain, keyed = [], [], []
        for _ in range(rounds):
            ours.append(count / _write_ours(folder, batches))
            plain.append(count / _write_plain(folder, batches, keyed=False))
            keyed.append(count / _write_plain(folder, batches, keyed=True))
        words = f"{sources} sources x 6 channels a commit"
        ratio = statistics.median(a / b for a, b in zip(ours, plain, strict=True))
        ratio_keyed = statistics.median(a / b for a, b in zip(ours, keyed, strict=True))
        found += [
            figure(f"ingest, {words}: readings/s", round(statistics.median(ours))),
            figure(
                f"ingest, {words}: ratio to executemany into a plain table",
                round(ratio, 2),
                ">= 0.60",
                ratio >= 0.60,
            ),
            figure(
                f"ingest, {words}: ratio to executemany into a table that refuses repeats",
                round(ratio_keyed, 2),
            ),
        ]
    return [*found, *_written_figures(folder)]


def _write_ours(folder: Path, batches: list[list[r.Reading]]) -> float:
    batch = BatchWriter(connect_writing(fresh(folder, "ours.db")))
    batch.write([submission_of(batches[0])])  # tables are made once a source, as the plain one is
    taken = seconds_of(lambda: [batch.write([submission_of(b)]) for b in batches[1:]])
    batch.close()
    return taken


def _write_plain(folder: Path, batches: list[list[r.Reading]], keyed: bool) -> float:
    """The plain way with the same durability; the rows are made inside the measured time too."""
    with closing(connect_writing(fresh(folder, "plain.db"))) as connection:
        key = ", PRIMARY KEY (bench, device, channel, at_ms)) WITHOUT ROWID" if keyed else ")"
        connection.execute(
            f"CREATE TABLE plain (bench TEXT, device TEXT, channel TEXT, unit TEXT, value REAL, "
            f"at_ms INTEGER{key}"
        )

        def write() -> None:
            for b in batches[1:]:
                rows = [(x.bench, x.device, x.channel, x.unit, x.value, x.at_ms) for x in b]
                connection.execute("BEGIN IMMEDIATE")
                connection.executemany("INSERT INTO plain VALUES (?, ?, ?, ?, ?, ?)", rows)
                connection.execute("COMMIT")

        return seconds_of(write)


def _written_figures(folder: Path) -> list[Figure]:
    """Bytes a second that reach the log at one commit a second."""
    found = []
    for sources in (1, 50):
        path = fresh(folder, "log.db")
        connection = connect_writing(path)
        connection.execute("PRAGMA wal_autocheckpoint = 0")
        batch = BatchWriter(connection)
        for b in data.ticks(sources, 240):
            batch.write([submission_of(b)])
        kib = path.with_name(path.name + "-wal").stat().st_size / 240 / 1024
        batch.close()
        found.append(figure(f"written to the log, {sources} sources at 1 Hz: KiB/s", round(kib, 1)))
    return found


# --- size -----------------------------------------------------------------------------------------


def size_figures(folder: Path, hours: int) -> list[Figure]:
    """Bytes per value while hot, without and with all else in the file (rollups, schema)."""
    path, sources = fresh(folder, "size.db"), 2
    with Writer(path, limit=10**9) as writer:
        for b in data.ticks(sources, hours * 3600):
            writer.submit(b)
    values = sources * hours * 3600 * len(data.CHANNELS)
    with closing(connect_writing(path)) as connection:
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        hot = _table_bytes(connection, "reading_%") / values
        tables = ("minute_%", "hour_%", "day_%", "recent_minutes")
        rolled = sum(_table_bytes(connection, like) for like in tables) / values
    return [
        figure("bytes per value, raw rows as written", round(hot, 2), "<= 5", hot <= 5),
        figure(
            "bytes per value, rollups included", round(hot + rolled, 2), "<= 7", hot + rolled <= 7
        ),
    ]


def _table_bytes(connection: sqlite3.Connection, like: str) -> int:
    """Bytes of all pages of the tables; SQLite's ``dbstat`` must be built in."""
    try:
        row = connection.execute("SELECT sum(pgsize) FROM dbstat WHERE name LIKE ?", (like,))
        return int(row.fetchone()[0])
    except sqlite3.OperationalError as error:
        raise BadInput(f"benchmark journal: this SQLite has no dbstat ({error})") from error


# --- years ----------------------------------------------------------------------------------------


def year_figures(folder: Path, quick: bool) -> list[Figure]:
    """Charts, conditions, opening and memory on a store of ten years; one year with DuckDB."""
    peer = _duckdb(folder)
    data.peer_schema(peer)
    days, raw_days, measured = (730, 3, 30) if quick else (3650, 90, 365)
    years = data.make_years(folder / "years.db", days, raw_days, measured, peer)
    with Reader(years.path) as reader:
        found = [
            *_chart_figures(reader, peer, years, measured),
            *_conditions_figures(folder, years),
        ]
    peer.close()
    opening = statistics.median(seconds_of(lambda: _open(years.path)) for _ in range(5))
    memory = _memory_mib(years.path)
    whole_mib = years.path.stat().st_size / 2**20
    return [
        *found,
        figure(f"opening a store of {days} days: s", round(opening, 3), "<= 0.5", opening <= 0.5),
        figure(
            "memory at its highest, writing 50 sources, charts, conditions, export: MiB",
            round(memory, 1),
            "<= 150",
            memory <= 150,
        ),
        figure(f"file of {days} days, raw for {raw_days}, 6 channels: MiB", round(whole_mib)),
        *_round_trip_figures(folder, years),
    ]


def _duckdb(folder: Path) -> Any:
    try:
        import duckdb
    except ImportError as error:
        raise BadInput(
            "benchmark journal: needs duckdb to compare with; pip install duckdb"
        ) from error
    return duckdb.connect(str(folder / "peer.duckdb"))


def _chart_figures(reader: Reader, peer: Any, years: data.Years, measured: int) -> list[Figure]:
    """Our charts rest on rollups, DuckDB's on the raw rows; what comes out is the same."""
    end = data.END_MS

    def ours(length_ms: int, points: int = POINTS) -> Strip:
        return reader.strip("quay", None, end - length_ms, end, points=points)

    def theirs(length_ms: int, points: int = POINTS) -> data.PeerRows:
        return data.peer_chart(peer, end - length_ms, end, points)

    same = data.same_chart(years.path, ours(data.DAY_MS), theirs(data.DAY_MS))
    day = _turn_about(lambda: ours(data.DAY_MS), lambda: theirs(data.DAY_MS), 41)
    wide = _turn_about(lambda: ours(data.DAY_MS, 1000), lambda: theirs(data.DAY_MS, 1000), 41)
    close = _turn_about(lambda: ours(3_600_000), lambda: theirs(3_600_000))
    length = measured * data.DAY_MS
    year = _turn_about(lambda: ours(length), lambda: theirs(length))
    whole = _turn_about(lambda: ours(years.days * data.DAY_MS), lambda: None)
    words = f"chart of 6 channels in {POINTS} points"
    tenth = year.ratio <= 0.1 if measured >= 365 else None
    return [
        figure(f"24 h {words} (from minutes): ms", round(day.ours_ms, 2)),
        figure("24 h chart, DuckDB over the same raw rows: ms", round(day.theirs_ms, 2)),
        figure("24 h chart: our time / DuckDB's", round(day.ratio, 2), "<= 1", day.ratio <= 1),
        figure("24 h chart: means, lows and highs are DuckDB's", same, "true", same),
        figure("24 h chart in 1000 points: our time / DuckDB's", round(wide.ratio, 2)),
        figure("1 h chart, raw rows on both sides: our time / DuckDB's", round(close.ratio, 2)),
        figure(f"{measured} days {words} (a rollup): ms", round(year.ours_ms, 2)),
        figure(f"{measured} days chart, DuckDB over raw rows: ms", round(year.theirs_ms, 2)),
        figure(
            f"{measured} days chart: our rollup's time / DuckDB's over raw",
            round(year.ratio, 3),
            "<= 0.1" if measured >= 365 else None,
            tenth,
        ),
        figure(
            f"{years.days} days {words}: ms", round(whole.ours_ms, 2), "<= 50", whole.ours_ms <= 50
        ),
    ]


@dataclass(frozen=True, slots=True)
class TurnAbout:
    """Medians of two ways measured in turn, and the median of the ratios of the pairs."""

    ours_ms: float
    theirs_ms: float
    ratio: float


def _turn_about(
    ours: Callable[[], object], theirs: Callable[[], object], rounds: int = 9
) -> TurnAbout:
    """Both, one after the other, after one unmeasured run of each."""
    pairs = [(seconds_of(ours) * 1000, seconds_of(theirs) * 1000) for _ in range(rounds + 1)][1:]
    return TurnAbout(
        statistics.median(a for a, _ in pairs),
        statistics.median(b for _, b in pairs),
        statistics.median(a / b for a, b in pairs),
    )


def _conditions_figures(folder: Path, years: data.Years) -> list[Figure]:
    """A coat of ten minutes at 1 Hz: in the long store, and on a bench with 50 sources."""
    found = []
    long_coat = _coat(data.END_MS - data.DAY_MS)
    with Writer(years.path) as writer:
        writer.submit([_PIECE, long_coat]).result(30)
    path = fresh(folder, "coat.db")
    with Writer(path, limit=10**9) as writer:
        for b in data.ticks(50, 900):
            writer.submit(b)
        coat = _coat(data.END_MS + 60_000)
        writer.submit([_PIECE, coat]).result(60)
    for words, store in (("6 channels", years.path), ("50 sources x 6 channels", path)):
        with Reader(store) as reader:
            again = partial(reader.conditions, "coat")
            taken = _turn_about(again, lambda: None).ours_ms
        goal = "<= 10" if words == "6 channels" else None
        met = taken <= 10 if goal else None
        found.append(
            figure(f"conditions of a 10 min coat, {words}: ms", round(taken, 2), goal, met)
        )
    return found


_PIECE = r.Piece(id="van", bench="quay", name="ice van", made_ms=data.END_MS)


def _coat(start_ms: int) -> r.Coat:
    return r.Coat(
        id="coat",
        bench="quay",
        piece="van",
        kind="wet coat",
        start_ms=start_ms,
        end_ms=start_ms + 600_000,
    )


def _open(path: Path) -> None:
    prepare_store(path, create=False)
    with Writer(path), Reader(path) as reader:
        reader.coats("quay", limit=20)
        reader.latest("quay")


def _memory_mib(path: Path) -> float:
    """Highest resident memory of a fresh process that does all of the journal's work."""
    code = (
        "import sys; from pathlib import Path; "
        "from sprayout.commands.benchmarks.journal import work_and_measure; "
        "print(work_and_measure(Path(sys.argv[1])))"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, str(path)],
        capture_output=True,
        text=True,
        check=True,
        env={**os.environ, "PYTHONPATH": os.pathsep.join(filter(None, sys.path))},
    )
    return float(done.stdout)


def work_and_measure(path: Path) -> float:
    """Write, chart, work out and export on a store; returns the highest resident memory in MiB."""
    with Writer(path) as writer, Reader(path) as reader:
        for b in data.ticks(50, 120):
            writer.submit(b, urgent=True).result(30)
        for length_ms in (data.DAY_MS, YEAR_MS, 10 * YEAR_MS):
            reader.strip("quay", None, data.END_MS - length_ms, data.END_MS, points=POINTS)
        reader.conditions("coat")
    with closing(connect_reading(path)) as connection:
        chosen = Range(data.END_MS - data.DAY_MS, data.END_MS)
        for _ in export_lines(connection, chosen):
            pass
    return highest_memory_mib()


def highest_memory_mib() -> float:
    """Highest resident memory of this process, without that of the process it was started from."""
    status = Path("/proc/self/status")
    if status.exists():
        line = next(x for x in status.read_text().splitlines() if x.startswith("VmHWM"))
        return int(line.split()[1]) / 1024
    unit = 1 if sys.platform == "darwin" else 1024
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * unit / 2**20


def _round_trip_figures(folder: Path, years: data.Years) -> list[Figure]:
    """Export of the last hour and the coat's hour, import into an empty store, export again."""
    first, again = folder / "first.jsonl", folder / "again.jsonl"
    taken = seconds_of(lambda: _export(years.path, first, Range(data.END_MS - 2 * data.DAY_MS)))
    lines = sum(1 for _ in first.open("rb"))
    back = seconds_of(lambda: import_file(folder / "again.db", first))
    _export(folder / "again.db", again, Range())
    same = first.read_bytes() == again.read_bytes()
    return [
        figure("export, import, export gives the same bytes", same, "true", same),
        figure("export: lines/s", round(lines / taken)),
        figure("import, checked first: lines/s", round(lines / back)),
    ]


def _export(path: Path, to: Path, chosen: Range) -> None:
    with closing(connect_reading(path)) as connection, to.open("w", encoding="utf-8") as out:
        out.writelines(export_lines(connection, chosen))


# --- faults ---------------------------------------------------------------------------------------


def fault_figures(folder: Path, kills: int, cuts: int) -> list[Figure]:
    """Records lost and files damaged by faults made on purpose."""
    found = []
    for words, faults in (
        ("kill -9", kill_rounds(folder, kills)),
        ("power cut", power_cut_rounds(folder, cuts)),
    ):
        value = {
            "rounds": faults.rounds,
            "acknowledged": faults.acknowledged,
            "lost": faults.lost,
            "damaged": faults.damaged,
        }
        met = faults.lost == 0 and faults.damaged == 0
        found.append(figure(f"{words}: acknowledged records lost", value, "0 lost, 0 damaged", met))
    try:
        full = full_disk(folder)
    except BadInput as error:
        return [*found, figure("full disk", f"not tried: {error}")]
    met = full.lost == 0 and full.damaged == 0
    return [*found, figure("full disk: records lost after space came back", full.lost, "0", met)]
