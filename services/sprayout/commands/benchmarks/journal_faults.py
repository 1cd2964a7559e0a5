"""Faults made on purpose: kill -9, power cut in the middle of a write, a full disk.

Each function works in a folder given to it and returns what it found; the tests run few rounds, the
benchmark many.  What counts as kept is what the writer acknowledged, nothing less.
"""

from __future__ import annotations

import multiprocessing
import os
import random
import shutil
import signal
import subprocess
from collections.abc import Iterator
from concurrent.futures import Future
from contextlib import closing, contextmanager
from dataclasses import dataclass
from functools import partial
from multiprocessing.connection import Connection
from pathlib import Path

from sprayout.errors import BadInput, StoreError
from sprayout.journal import records as r
from sprayout.journal.batch import BatchWriter, submission_of
from sprayout.journal.reader import Reader
from sprayout.journal.store import connect_reading, connect_writing, prepare_store
from sprayout.journal.writer import Writer

T0 = 1_788_540_000_000
SOURCES = 50
SECTOR = 512
READY = b"ready 0\n"
Ack = tuple[str, int]  # "second" or "note", and its number


@dataclass(frozen=True, slots=True)
class Faults:
    """``rounds`` made, ``acknowledged`` records, how many of them ``lost``, files ``damaged``."""

    rounds: int
    acknowledged: int
    lost: int
    damaged: int


def second_of_readings(number: int) -> list[r.Reading]:
    """One reading of each of 50 sources; the value tells which second it is."""
    at_ms = T0 + number * 1000
    return [
        r.Reading("quay", f"probe{i}", "air_temperature", number / 100, "Cel", at_ms + i)
        for i in range(SOURCES)
    ]


def note(number: int) -> r.Flag:
    """A human record with a number of its own."""
    return r.Flag(
        id=f"n{number}",
        bench="quay",
        key="note",
        level="note",
        words="x" * (number % 900),
        raised_ms=T0 + number * 1000,
    )


def write_until_killed(path: Path, first: int, said: Connection) -> None:
    """What the killed program does: seconds of 50 sources without pause, a note at each fifth.

    Each acknowledgement is written to the pipe before anything else happens.
    """
    to = said.fileno()
    with Writer(path, every_s=0.01) as writer:
        os.write(to, READY)
        number = first
        while True:
            future = writer.submit(second_of_readings(number))
            future.add_done_callback(partial(_say_when_kept, to, number))
            if number % 5 == 0:
                human = writer.submit([note(number)])
                human.result(30)
                os.write(to, f"note {number}\n".encode())
            number += 1


def _say_when_kept(to: int, number: int, future: Future[None]) -> None:
    if future.exception() is None:
        os.write(to, f"second {number}\n".encode())


def kill_rounds(folder: Path, rounds: int, seed: int = 1) -> Faults:
    """Kill the writing program at a random moment, again and again, on one store."""
    path = folder / "killed.db"
    prepare_store(path)
    chance, acknowledged, first, damaged = random.Random(seed), set[Ack](), 0, 0
    for _ in range(rounds):
        acks = _run_and_kill(path, first, chance.uniform(0.0, 0.4))
        acknowledged |= acks
        first = max((n for _, n in acknowledged), default=first) + 1000
        damaged += not _sound(path)
    return Faults(rounds, len(acknowledged), len(acknowledged - _present(path)), damaged)


def _run_and_kill(path: Path, first: int, after_s: float) -> set[Ack]:
    """One program of its own, killed; it is forked off one that has all imported already."""
    programs = multiprocessing.get_context("forkserver")
    programs.set_forkserver_preload([__name__])
    mine, its = programs.Pipe(duplex=False)
    child = programs.Process(target=write_until_killed, args=(path, first, its), daemon=True)
    child.start()
    its.close()
    said = os.fdopen(os.dup(mine.fileno()), "rb")
    mine.close()
    with said:
        ready = said.readline()
        child.join(after_s)
        child.kill()  # SIGKILL
        child.join()
        lines = said.read().decode().splitlines(keepends=True)
    if ready != READY or child.exitcode != -signal.SIGKILL:
        raise StoreError(f"the writing program ended by itself with {child.exitcode}")
    return {_ack(line) for line in lines if line.endswith("\n")}


def _ack(line: str) -> Ack:
    what, number = line.split()
    return what, int(number)


def _sound(path: Path) -> bool:
    with closing(connect_reading(path)) as connection:
        whole = connection.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        return whole and not connection.execute("PRAGMA foreign_key_check").fetchall()


def _present(path: Path) -> set[Ack]:
    """What a store holds: whole seconds of all sources, and notes."""
    with Reader(path) as reader:
        notes = {("note", round((f.raised_ms - T0) / 1000)) for f in reader.all(r.Flag)}
        counts: dict[int, int] = {}
        for x in reader.readings("quay", 0, 2**62):
            number = (x.at_ms - T0) // 1000
            assert x.value == number / 100
            counts[number] = counts.get(number, 0) + 1
    return notes | {("second", n) for n, held in counts.items() if held == SOURCES}


def power_cut_rounds(folder: Path, rounds: int, seed: int = 1) -> Faults:
    """Cut the power while the log is written, and while it is copied into the store.

    A commit returns after its log has reached the disk; of what came later any sector may be new,
    old or rubbish.  Every cut is made on copies of one store with a long log.
    """
    path, chance = folder / "cut.db", random.Random(seed)
    log_ends, acknowledged = _long_log(path)
    with closing(connect_writing(folder / "cut.db")) as connection:
        old, log = path.read_bytes(), _log(path).read_bytes()
        connection.execute("PRAGMA wal_checkpoint(PASSIVE)")
        new = path.read_bytes()
    lost = damaged = total = 0
    for number in range(rounds):
        kept = chance.randrange(1, len(log_ends))
        copy = folder / f"cut{number}.db"
        if number % 2:
            tail = _torn_log(log[log_ends[kept - 1] :], chance)
            copy.write_bytes(old)
            _log(copy).write_bytes(log[: log_ends[kept - 1]] + tail)
        else:
            kept = len(log_ends)
            copy.write_bytes(_torn_store(old, new, chance))
            _log(copy).write_bytes(log)
        prepare_store(copy, create=False)
        damaged += not _sound(copy)
        wanted = set(acknowledged[:kept])
        lost += len(wanted - _present(copy))
        total += len(wanted)
        for left in folder.glob(f"{copy.name}*"):
            left.unlink()
    return Faults(rounds, total, lost, damaged)


def _log(path: Path) -> Path:
    return path.with_name(path.name + "-wal")


def _long_log(path: Path, commits: int = 40) -> tuple[list[int], list[Ack]]:
    """A store with a log of ``commits``; the log's length after each, and what each kept."""
    prepare_store(path)
    connection = connect_writing(path)
    connection.execute("PRAGMA wal_autocheckpoint = 0")
    batch = BatchWriter(connection)
    ends: list[int] = []
    acknowledged: list[Ack] = []
    for number in range(commits):
        record = [note(number)] if number % 2 else second_of_readings(number)
        batch.write([submission_of(record)])
        acknowledged.append(("note" if number % 2 else "second", number))
        ends.append(_log(path).stat().st_size)
    keep = shutil.copy(_log(path), path.with_name("kept-log"))
    main = path.read_bytes()
    batch.close()
    path.write_bytes(main)  # closing copied the log into the store: take it back
    shutil.copy(keep, _log(path))
    return ends, acknowledged


def _torn_log(tail: bytes, chance: random.Random) -> bytes:
    """A log's tail after a cut: it ends anywhere, each sector is written, empty or rubbish."""
    end = chance.randrange(0, len(tail) + 1)
    sectors = [tail[i : min(i + SECTOR, end)] for i in range(0, end, SECTOR)]
    return b"".join(chance.choice((s, s, bytes(len(s)), chance.randbytes(len(s)))) for s in sectors)


def _torn_store(old: bytes, new: bytes, chance: random.Random) -> bytes:
    """A store while the log was copied into it: each changed sector is old, new or rubbish.

    The first sector is old or new: SQLite knows its file by it and relies on disks writing one
    sector whole or not at all.
    """
    made = bytearray()
    for start in range(0, len(new), SECTOR):
        after = new[start : start + SECTOR]
        before = old[start : start + SECTOR].ljust(len(after), b"\0")
        rubbish = chance.randbytes(len(after)) if start and before != after else after
        made += chance.choice((after, before, rubbish))
    return bytes(made)


def full_disk(folder: Path, size_kib: int = 3072) -> Faults:
    """Fill a small disk, see the writer say so and keep its queue, free space, see it recover."""
    with small_disk(folder, size_kib) as disk:
        path, ballast = disk / "full.db", disk / "ballast"
        prepare_store(path)
        told: list[str] = []
        with Writer(path, every_s=0.01, on_trouble=lambda s: told.append(s.words)) as writer:
            writer.submit(second_of_readings(0), urgent=True).result(30)
            ballast.write_bytes(bytes(shutil.disk_usage(disk).free - 100_000))
            futures = [writer.submit([note(n), *second_of_readings(n)]) for n in range(1, 200)]
            while not told:
                futures[-1].exception(0.2) if futures[-1].done() else writer.state
                if all(f.done() for f in futures):
                    raise StoreError("the disk did not fill; make it smaller")
            held_back = sum(not f.done() for f in futures)
            ballast.unlink()
            for future in futures:
                future.result(60)
        expected = {("second", n) for n in range(200)} | {("note", n) for n in range(1, 200)}
        lost = len(expected - _present(path))
        sound = _sound(path)
    if "disk is full" not in told[0]:
        raise StoreError(f"the full disk was called: {told[0]}")
    return Faults(held_back, len(expected), lost, int(not sound))


@contextmanager
def small_disk(folder: Path, size_kib: int) -> Iterator[Path]:
    """A small file system in memory; ``BadInput`` where mounting is not allowed."""
    disk = folder / "disk"
    disk.mkdir()
    mount = ["mount", "-t", "tmpfs", "-o", f"size={size_kib}k", "none", str(disk)]
    try:
        done = subprocess.run(mount, capture_output=True, text=True, check=False)
    except FileNotFoundError as error:
        raise BadInput("small disk: there is no `mount` here; run it on Linux") from error
    if done.returncode:
        raise BadInput(f"small disk: {done.stderr.strip()}; run it as root on Linux")
    try:
        yield disk
    finally:
        subprocess.run(["umount", str(disk)], check=True)
