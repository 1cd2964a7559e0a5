"""Backup while the bench runs (SQLite's online backup) and a restore that is checked first."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

from sprayout.errors import BadInput, StoreError
from sprayout.journal.store import connect_reading, keep_file, prepare_store, translated


@dataclass(frozen=True, slots=True)
class Copied:
    """A finished copy: where it lies and how large it is."""

    path: Path
    bytes: int


def back_up(store: Path, to: Path) -> Copied:
    """Copy a store that may be in use; the copy is checked before it gets its name."""
    if to.exists():
        raise BadInput(f"backup {to}: there is a file of that name; choose another name")
    if not to.parent.is_dir():
        raise BadInput(f"backup {to}: the folder {to.parent} is not there; make it first")
    new = to.with_name(to.name + ".new")
    try:
        with closing(connect_reading(store)) as source, closing(sqlite3.connect(new)) as copy:
            source.backup(copy)  # in one step: a write in between would start it again
            copy.execute("PRAGMA journal_mode = DELETE")
            refuse_damaged(copy, to)
        keep_file(new)
        new.replace(to)
        keep_file(to.parent)
    except sqlite3.Error as error:
        raise translated(error, to) from error
    except OSError as error:
        raise StoreError(f"backup {to}: cannot be written ({error.strerror})") from error
    finally:
        new.unlink(missing_ok=True)
    return Copied(to, to.stat().st_size)


def restore(backup: Path, store: Path) -> Copied:
    """Make a new store from a backup after checking it; an existing file is never overwritten."""
    if store.exists():
        raise BadInput(
            f"restore {store}: there is a file of that name; move it away first, it is unchanged"
        )
    copied = back_up(backup, store)
    prepare_store(store, create=False)
    return copied


def refuse_damaged(connection: sqlite3.Connection, path: Path) -> None:
    """``StoreError`` unless SQLite finds the file whole and every reference kept."""
    words = [row[0] for row in connection.execute("PRAGMA integrity_check(3)")]
    if words != ["ok"]:
        raise StoreError(f"{path}: the copy is damaged ({words[0]}); run `sprayout check`")
    if connection.execute("PRAGMA foreign_key_check").fetchone() is not None:
        raise StoreError(f"{path}: a record refers to nothing; run `sprayout check`")
