"""The one writer: a queue, a thread, a connection of its own; a future per submission.

Readings are committed once a second, human records at once; a future is resolved after the commit
has reached the disk.  When the disk is full or the file locked, the queue is kept, ``state`` says
so, and the writer tries again every second.
"""

from __future__ import annotations

import sqlite3
import threading
import time
from collections.abc import Callable, Iterable
from concurrent.futures import Future
from dataclasses import dataclass
from pathlib import Path
from types import TracebackType

from sprayout.errors import SprayoutError, StoreError
from sprayout.journal.batch import BatchWriter, Submission, submission_of
from sprayout.journal.records import Record
from sprayout.journal.store import connect_writing, translated

Queued = tuple[Submission, "Future[None]"]


@dataclass(frozen=True, slots=True)
class WriterState:
    """Whether records reach the disk, how many wait, and the one line of what is wrong."""

    writable: bool
    waiting: int
    words: str = ""


class Writer:
    """Queues records and commits them in a thread of its own; see the module."""

    def __init__(
        self,
        path: Path,
        *,
        every_s: float = 1.0,
        limit: int = 200_000,
        busy_s: float = 5.0,
        on_trouble: Callable[[WriterState], None] | None = None,
    ) -> None:
        """Opens the store and starts the thread; the store must be prepared."""
        self._path, self._every_s, self._limit = path, every_s, limit
        self._on_trouble = on_trouble
        self._queue: list[Queued] = []
        self._waiting = 0
        self._words = ""
        self._urgent = self._closing = False
        self._changed = threading.Condition()
        try:
            self._batch = BatchWriter(connect_writing(path, busy_s))
        except sqlite3.Error as error:
            raise translated(error, path) from error
        self._thread = threading.Thread(target=self._run, name="journal-writer", daemon=True)
        self._thread.start()

    @property
    def state(self) -> WriterState:
        """The state now."""
        return WriterState(not self._words, self._waiting, self._words)

    def submit(self, records: Iterable[Record], *, urgent: bool = False) -> Future[None]:
        """Queue records as one unit: all are kept or none; the future is resolved after the commit.

        A wrong record (a reference to nothing, say) sets ``BadInput`` on the future.  A full queue
        or a closed writer raises ``StoreError``, and nothing was queued.
        """
        submission = submission_of(records)
        urgent = urgent or bool(submission.others)
        future: Future[None] = Future()
        with self._changed:
            self._refuse_when_full(len(submission))
            self._queue.append((submission, future))
            self._waiting += len(submission)
            if urgent and not self._urgent:
                self._urgent = True
                self._changed.notify_all()
            elif len(self._queue) == 1:
                self._changed.notify_all()
        return future

    def flush(self, timeout_s: float | None = None) -> None:
        """Return when all submitted so far is on disk; ``StoreError`` when that fails in time."""
        try:
            self.submit([], urgent=True).result(timeout_s)
        except TimeoutError as error:
            words = self._words or f"store {self._path}: the writer needs longer than {timeout_s} s"
            raise StoreError(words) from error

    def close(self, timeout_s: float = 30.0) -> None:
        """Commit what waits and end the thread; ``StoreError`` if something could not be kept."""
        with self._changed:
            self._closing = True
            self._changed.notify_all()
        self._thread.join(timeout_s)
        left = self._queue
        for _, future in left:
            future.cancel()
        if left or self._thread.is_alive():
            raise StoreError(
                f"{self._words or f'store {self._path}: closing took too long'}; "
                f"{self._waiting} records were not kept"
            )

    def __enter__(self) -> Writer:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def _refuse_when_full(self, more: int) -> None:
        if self._closing:
            raise StoreError(f"store {self._path}: the writer is closed; open it again")
        if self._waiting + more > self._limit:
            why = self._words or f"store {self._path}: the disk does not keep up"
            raise StoreError(f"{why}; {self._waiting} records wait, this one was not taken")

    def _run(self) -> None:
        try:
            while self._wait_for_work():
                if not self._commit_queue() and self._closing:
                    break
        finally:
            self._batch.close()

    def _wait_for_work(self) -> bool:
        """False when closing and nothing is left to do (or nothing can be done)."""
        with self._changed:
            while not self._queue and not self._closing:
                self._changed.wait()
            due = time.monotonic() + self._every_s
            while not (self._urgent and not self._words) and not self._closing:
                left = due - time.monotonic()
                if left <= 0:
                    break
                self._changed.wait(left)
            self._urgent = False
            return bool(self._queue)

    def _commit_queue(self) -> bool:
        """One transaction for all that waits; False when the store could not be written."""
        with self._changed:
            taken = self._queue[:]
        outcomes: list[SprayoutError | None]
        try:
            outcomes = [*self._batch.write([submission for submission, _ in taken])]
        except (sqlite3.Error, SprayoutError) as error:
            self._report(error)
            return False
        except Exception as error:  # a fault of ours: tell whoever waits, keep the thread alive
            outcomes = [StoreError(f"store {self._path}: {error!r}") for _ in taken]
        with self._changed:
            del self._queue[: len(taken)]
            self._waiting -= sum(len(submission) for submission, _ in taken)
            self._words = ""
        for (_, future), outcome in zip(taken, outcomes, strict=True):
            if future.set_running_or_notify_cancel():
                if outcome is None:
                    future.set_result(None)
                else:
                    future.set_exception(outcome)
        return True

    def _report(self, error: Exception) -> None:
        line = translated(error, self._path) if isinstance(error, sqlite3.Error) else error
        new = str(line) != self._words
        self._words = str(line)
        if new and self._on_trouble is not None:
            self._on_trouble(self.state)
