"""Opening a store: whose file it is, which version, whether it can be written.

``prepare_store`` is called once at start; it makes a new store under a temporary name and renames
it, so that a half-made one is never found.  Errors of SQLite are translated here and nowhere else.
"""

from __future__ import annotations

import os
import sqlite3
import struct
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

from sqlite_utils import Database

from sprayout.errors import BadInput, SprayoutError, StoreError
from sprayout.journal.lock import WriteLock, hold
from sprayout.journal.schema import APPLICATION_ID, VERSION, migrations

BUSY_S = 5.0
PAGE_BYTES = 2048  # a commit rewrites one page per source: small pages, less wear
NETWORK_KINDS = ("nfs", "cifs", "smb", "afs", "9p", "fuse.sshfs", "fuse.rclone", "davfs", "ceph")


@dataclass(frozen=True, slots=True)
class StoreState:
    """What ``prepare_store`` found: schema version, whether it was made now, what to warn of."""

    path: Path
    version: int
    created: bool
    warnings: tuple[str, ...] = ()


def prepare_store(path: Path, *, create: bool = True) -> StoreState:
    """Make, check or migrate the store at ``path``; a file that is not ours is left as it is."""
    created = not path.exists() or path.stat().st_size == 0
    _refuse_impossible_place(path)
    if created:
        if not create:
            raise BadInput(f"store {path}: there is no such file, wanted a store made by sprayout")
        _make(path)
    else:
        _refuse_foreign(path)
    try:
        version = _migrate(path)
    except sqlite3.Error as error:
        raise translated(error, path) from error
    return StoreState(path, version, created, _warnings(path))


def open_for_writing(path: Path, what: str) -> tuple[StoreState, WriteLock]:
    """The same for a program that goes on to write, alone; ``what`` it is, for the next to come.

    Nothing is touched where another program writes to the store already (``BadInput``).
    """
    _refuse_impossible_place(path)
    if path.exists() and path.stat().st_size:
        _refuse_foreign(path)
    lock = hold(path, what)
    try:
        return prepare_store(path), lock
    except BaseException:
        lock.release()
        raise


def look_at_store(path: Path) -> StoreState:
    """The same for whoever only reads: nothing is written, so a read-only copy will do."""
    _refuse_impossible_place(path)
    if not path.exists():
        raise BadInput(f"store {path}: there is no such file, wanted a store made by sprayout")
    _refuse_foreign(path)
    try:
        with closing(connect_reading(path)) as connection:
            version = int(connection.execute("PRAGMA user_version").fetchone()[0])
    except sqlite3.Error as error:
        raise translated(error, path) from error
    if version > VERSION:
        raise _newer(path, version)
    if version < VERSION:
        raise BadInput(
            f"store {path}: got schema {version} of an older sprayout, wanted {VERSION}; "
            "let `sprayout serve` or `sprayout import` bring it up to date"
        )
    return StoreState(path, version, False, _warnings(path))


def connect_writing(path: Path, busy_s: float = BUSY_S) -> sqlite3.Connection:
    """A connection in autocommit (transactions are begun by hand), durable at each commit."""
    connection = sqlite3.connect(
        path, isolation_level=None, timeout=busy_s, check_same_thread=False, cached_statements=512
    )
    connection.execute("PRAGMA journal_mode = WAL")
    connection.execute("PRAGMA synchronous = FULL")
    connection.execute("PRAGMA foreign_keys = ON")
    connection.execute("PRAGMA journal_size_limit = 16000000")
    return connection


def connect_reading(path: Path) -> sqlite3.Connection:
    """A connection that cannot write; it never waits for the writer.

    It is opened for writing all the same where that is allowed, so that the last one to leave
    tidies the log away.  Where nothing may be written (a disc, a snapshot) and no log is left, the
    file is read as one that does not change.
    """
    if not path.exists():
        raise BadInput(f"store {path}: there is no such file, wanted a store made by sprayout")
    connection = _opened_reading(path, "mode=rw")
    try:
        connection.execute("PRAGMA schema_version").fetchone()
    except sqlite3.Error as error:
        connection.close()
        name = getattr(error, "sqlite_errorname", "") or ""
        if not name.startswith(("SQLITE_CANTOPEN", "SQLITE_READONLY")):
            raise
        _refuse_left_log(path)
        return _opened_reading(path, "mode=ro&immutable=1")
    return connection


def _opened_reading(path: Path, how: str) -> sqlite3.Connection:
    connection = sqlite3.connect(
        f"{path.absolute().as_uri()}?{how}",
        uri=True,
        isolation_level=None,
        timeout=BUSY_S,
        check_same_thread=False,
        cached_statements=512,
    )
    connection.execute("PRAGMA query_only = ON")
    return connection


def _refuse_left_log(path: Path) -> None:
    """What stands in the log alone would be missed."""
    log = path.with_name(path.name + "-wal")
    if log.exists() and log.stat().st_size:
        raise StoreError(
            f"store {path}: {log.name} beside it holds records too, and cannot be read where "
            "nothing may be written; copy both files into a folder of your own and read that"
        )


def translated(error: sqlite3.Error, path: Path) -> SprayoutError:
    """The one clear line for an error of SQLite: what, got, next step."""
    name = getattr(error, "sqlite_errorname", "") or ""
    for start, words in _WORDS.items():
        if name.startswith(start):
            return StoreError(f"store {path}: {words}")
    return StoreError(f"store {path}: {error} ({name or 'no code'}); run `sprayout check`")


_WORDS = {
    "SQLITE_FULL": "the disk is full; nothing was changed, free some space",
    "SQLITE_IOERR": "the disk refuses to write or read; check its space and health",
    "SQLITE_READONLY": "file or folder is read-only; allow writing or choose another place",
    "SQLITE_BUSY": "another program keeps it locked; close that program and try again",
    "SQLITE_LOCKED": "another program keeps it locked; close that program and try again",
    "SQLITE_CANTOPEN": "cannot be opened; check that folder and file may be read and written",
    "SQLITE_CORRUPT": "the file is damaged; keep it, and restore the last backup",
    "SQLITE_NOTADB": "the file is damaged or not a store; keep it, and restore the last backup",
    "SQLITE_PERM": "no permission; allow reading and writing",
}


def _refuse_impossible_place(path: Path) -> None:
    if path.is_dir():
        raise BadInput(f"store {path}: got a folder, wanted a file; add a file name")
    if not path.parent.is_dir():
        raise BadInput(f"store {path}: the folder {path.parent} is not there; make it first")


def _refuse_foreign(path: Path) -> None:
    """Looks at the file's first bytes only, so that a foreign file is not touched at all."""
    try:
        with path.open("rb") as file:
            head = file.read(100)
    except OSError as error:
        raise StoreError(
            f"store {path}: cannot be read ({error.strerror}); allow reading"
        ) from error
    if len(head) < 100 or not head.startswith(b"SQLite format 3\0"):
        raise BadInput(
            f"store {path}: not a store of sprayout; choose another file, it is unchanged"
        )
    version, application = struct.unpack(">I4xI", head[60:72])
    if application != APPLICATION_ID:
        raise BadInput(
            f"store {path}: got a SQLite file of another program, wanted a store of sprayout; "
            "choose another file, it is unchanged"
        )
    if version > VERSION:
        raise _newer(path, version)


def _newer(path: Path, version: int) -> BadInput:
    return BadInput(
        f"store {path}: got schema {version} of a newer sprayout, wanted {VERSION} or older; "
        "update sprayout, the file is unchanged"
    )


def _make(path: Path) -> None:
    new = path.with_name(path.name + ".new")
    try:
        new.unlink(missing_ok=True)
        connection = sqlite3.connect(new, isolation_level=None)
        try:
            connection.execute(f"PRAGMA page_size = {PAGE_BYTES}")
            connection.execute("PRAGMA synchronous = FULL")
            migrations.apply(Database(connection))
            connection.execute("PRAGMA journal_mode = WAL")
        finally:
            connection.close()
        keep_file(new)
        new.replace(path)
        keep_file(path.parent)
    except sqlite3.Error as error:
        new.unlink(missing_ok=True)
        raise translated(error, path) from error
    except OSError as error:
        raise StoreError(f"store {path}: cannot be made ({error.strerror})") from error


def keep_file(path: Path) -> None:
    """Bring a file, or a folder's names, to the disk: they must survive a power cut."""
    if os.name == "posix":
        handle = os.open(path, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def _migrate(path: Path) -> int:
    connection = connect_writing(path)
    try:
        version = int(connection.execute("PRAGMA user_version").fetchone()[0])
        if version > VERSION:
            raise _newer(path, version)
        if version < VERSION:
            migrations.apply(Database(connection))
        connection.execute("BEGIN IMMEDIATE")  # shows now whether it can be written
        connection.execute("ROLLBACK")
        return VERSION
    finally:
        connection.close()


def _warnings(path: Path) -> tuple[str, ...]:
    kind = filesystem_kind(path, Path("/proc/self/mounts"))
    if kind.startswith(NETWORK_KINDS):
        return (
            f"store {path}: lies on a network share ({kind}); a power cut or a second machine can "
            "damage it there; keep it on a disk of this machine and back it up to the share",
        )
    return ()


def filesystem_kind(path: Path, mounts: Path) -> str:
    """The kind of filesystem under ``path`` by the table of mounts, empty where there is none."""
    if not mounts.exists():
        return ""
    best, found = "", ""
    for line in mounts.read_text().splitlines():
        where, kind = line.split(" ")[1:3]
        where = where.replace("\\040", " ")
        if len(where) >= len(best) and path.resolve().is_relative_to(where):
            best, found = where, kind
    return found
