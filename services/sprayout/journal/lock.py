"""One writing program per store, held by a lock of the operating system beside the file.

Two benches on one store would each keep its own picture of sources and coats.  The lock lies on
``<store>.lock`` (flock, or locking of one byte on Windows): the kernel lets it go when its process
ends, however it ends, so a killed program keeps nobody out.  Readers take no notice of it.
"""

from __future__ import annotations

import contextlib
import errno
import json
import os
import stat
import sys
from dataclasses import dataclass
from pathlib import Path

from sprayout.errors import BadInput, StoreError

HELD = (errno.EACCES, errno.EAGAIN, errno.EDEADLK)
#: A share that knows no locks; the store's warning of network shares says what that means.
UNKNOWN = (errno.ENOLCK, errno.EOPNOTSUPP, errno.ENOSYS)
BEYOND_THE_TEXT = 4096

if sys.platform == "win32":
    import msvcrt

    def _lock(handle: int) -> None:
        os.lseek(handle, BEYOND_THE_TEXT, os.SEEK_SET)
        msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)

    def _as_the_store(handle: int, store: Path) -> None:
        """Here who may open the store may open what lies beside it."""

else:
    import fcntl

    def _lock(handle: int) -> None:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)

    def _as_the_store(handle: int, store: Path) -> None:
        """Give the lock the store's owner, group and mode, as far as this user may.

        A killed program leaves its lock: whoever may write to the store has to be able to open it.
        """
        with contextlib.suppress(OSError):
            like = store.stat()
            for owner in (like.st_uid, -1):
                with contextlib.suppress(OSError):
                    os.fchown(handle, owner, like.st_gid)
            os.fchmod(handle, stat.S_IMODE(like.st_mode))


@dataclass(slots=True)
class WriteLock:
    """A lock that is held; ``release`` lets it go and takes its file away."""

    _file: Path
    _handle: int

    def release(self) -> None:
        """Let go; a second time does nothing."""
        handle, self._handle = self._handle, -1
        if handle < 0:
            return
        with contextlib.suppress(OSError):  # Windows keeps an open file
            self._file.unlink()
        os.close(handle)

    def __enter__(self) -> WriteLock:
        return self

    def __exit__(self, *_: object) -> None:
        self.release()


def hold(store: Path, what: str) -> WriteLock:
    """Hold a store for writing; ``what`` is said to whoever comes second.

    ``BadInput`` where another program holds it, ``StoreError`` where no lock can be made.
    """
    file = store.resolve().with_name(store.resolve().name + ".lock")
    while True:
        handle = _opened(store, file)
        try:
            _lock(handle)
        except OSError as error:
            if error.errno not in UNKNOWN:
                os.close(handle)
                if error.errno in HELD:
                    raise _refusal(store, file) from error
                raise StoreError(f"store {store}: cannot be locked ({error.strerror})") from error
        if _is_still(file, handle):
            _as_the_store(handle, store)
            _sign(handle, what)
            return WriteLock(file, handle)
        os.close(handle)  # whoever held it took the file away meanwhile


def _opened(store: Path, file: Path) -> int:
    try:
        return os.open(file, os.O_RDWR | os.O_CREAT, 0o644)
    except OSError as error:
        words = _WORDS.get(error.errno or 0, f"{error.strerror}; look at that file")
        raise StoreError(f"store {store}: its lock {file} cannot be opened: {words}") from error


_READ_ONLY = (
    "file or folder is read-only; allow writing, choose another place, or remove a lock that a "
    "killed program left"
)
_WORDS = {
    errno.EACCES: _READ_ONLY,
    errno.EPERM: _READ_ONLY,
    errno.EROFS: _READ_ONLY,
    errno.ENOSPC: "the disk is full; nothing was changed, free some space",
}


def _is_still(file: Path, handle: int) -> bool:
    try:
        return os.path.samestat(file.stat(), os.fstat(handle))
    except FileNotFoundError:
        return False


def _sign(handle: int, what: str) -> None:
    """Say who holds it; on a full disk nobody does."""
    text = json.dumps({"what": what, "process": os.getpid()})
    with contextlib.suppress(OSError):
        os.ftruncate(handle, 0)
        os.lseek(handle, 0, os.SEEK_SET)
        os.write(handle, text.encode())


def _refusal(store: Path, file: Path) -> BadInput:
    try:
        held = json.loads(file.read_text(encoding="utf-8"))
        who = f"{held['what']} (process {held['process']})"
    except (OSError, ValueError, KeyError, TypeError):
        who = "another sprayout"
    return BadInput(
        f"store {store}: {who} writes to it, and only one program may; end that one first or "
        "give another --store; nothing was changed"
    )
