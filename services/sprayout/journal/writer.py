"""The one writer: a queue, a thread, a connection and a lock of its own; a future per submission.

Readings are committed once a second, human records at once; a future is resolved after the commit
has reached the disk.  When the disk is full or the file locked, the queue is kept, ``state`` says
so, and the writer tries again every second.
"""

from __future__ import annotations

import sqlite3
import threading
import time
from collections import deque
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import Future
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from types import TracebackType

from sprayout.errors import SprayoutError, StoreError
from sprayout.journal.batch import BatchWriter, Submission, submission_of
from sprayout.journal.lock import WriteLock, hold
from sprayout.journal.records import Record
from sprayout.journal.retention import Retention, thin
from sprayout.journal.retime import Move
from sprayout.journal.store import connect_writing, translated

FOR_EVER_S = float("inf")


@dataclass(frozen=True, slots=True)
class _Queued:
    submission: Submission
    future: Future[None]
    until_s: float  # of the monotonic clock: given up by the first commit that fails after it


@dataclass(frozen=True, slots=True)
class WriterState:
    """Whether records reach the disk, how many wait, and the one line of what is wrong."""

    writable: bool
    waiting: int
    words: str = ""


@dataclass(slots=True)
class _Chore:
    """Work for between the commits: each ``next`` is a short transaction."""

    steps: Iterator[int]
    total: int = 0


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
        lock: WriteLock | None = None,
    ) -> None:
        """Opens the store and starts the thread; the store must be prepared.

        ``lock`` is that of ``open_for_writing``, let go with the writer; without it one is taken
        here.  ``BadInput`` where another writer holds the store.
        """
        self._path, self._every_s, self._limit = path, every_s, limit
        self._on_trouble = on_trouble
        self._queue: list[_Queued] = []
        self._waiting = 0
        self._words = ""
        self._urgent = self._closing = False
        self._due_s = 0.0
        self._chores: deque[tuple[_Chore, Future[int]]] = deque()
        self._changed = threading.Condition()
        self._lock = lock or hold(path, "another writer")
        try:
            self._batch = BatchWriter(connect_writing(path, busy_s))
        except sqlite3.Error as error:
            self._lock.release()
            raise translated(error, path) from error
        self._thread = threading.Thread(target=self._run, name="journal-writer", daemon=True)
        self._thread.start()

    @property
    def state(self) -> WriterState:
        """The state now."""
        return WriterState(not self._words, self._waiting, self._words)

    def submit(
        self, records: Iterable[Record], *, urgent: bool = False, patience_s: float = FOR_EVER_S
    ) -> Future[None]:
        """Queue records as one unit: all are kept or none; the future is resolved after the commit.

        A wrong record (a reference to nothing, say) sets ``BadInput`` on the future.  A full queue
        or a closed writer raises ``StoreError``, and nothing was queued.  Where somebody waits for
        the answer, ``patience_s`` is how long: after it a store that cannot be written sets
        ``StoreError``, and the unit is not kept.
        """
        submission = submission_of(records)
        urgent = urgent or bool(submission.others)
        future: Future[None] = Future()
        with self._changed:
            self._refuse_when_full(len(submission))
            until_s = time.monotonic() + patience_s
            self._queue.append(_Queued(submission, future, until_s))
            self._waiting += len(submission)
            if len(self._queue) == 1:
                self._due_s = time.monotonic() + self._every_s
            if urgent or len(self._queue) == 1:
                self._urgent |= urgent
                self._changed.notify_all()
        return future

    def compact(self, now_ms: int, rule: Retention | None = None) -> Future[int]:
        """Apply the retention rule between commits, in short steps; gives the rows dropped."""
        return self._add_chore(thin(self._batch.sources, rule or Retention(), now_ms))

    def retime(self, bench: str, from_ms: int, to_ms: int, by_ms: int) -> Future[int]:
        """Move what a bench recorded in a stretch by so many ms; gives the readings moved.

        For a clock that was set after boot; submit the ``ClockStep`` that says so beside it.  What
        was submitted before is committed first.
        """
        return self._add_chore(self._batch.retime(Move(bench, from_ms, to_ms, by_ms)))

    def _add_chore(self, steps: Iterator[int]) -> Future[int]:
        future: Future[int] = Future()
        with self._changed:
            if self._closing:
                raise StoreError(f"store {self._path}: the writer is closed; open it again")
            self._chores.append((_Chore(steps), future))
            self._urgent |= bool(self._queue)
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
        for queued in left:
            queued.future.cancel()
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
            while (work := self._next_work()) is not None:
                if not work() and self._closing:
                    break
        finally:
            for _, future in self._chores:
                future.cancel()
            self._batch.close()
            self._lock.release()

    def _next_work(self) -> Callable[[], bool] | None:
        """A commit when one is due, else a step of a chore, else wait; None when closing."""
        with self._changed:
            while True:
                left = self._due_s - time.monotonic()
                now = left <= 0 or self._closing or (self._urgent and not self._words)
                if self._queue and now:
                    self._urgent = False
                    return self._commit_queue
                if self._closing:
                    return None
                if self._chores:
                    return self._do_chore
                self._changed.wait(left if self._queue else None)

    def _do_chore(self) -> bool:
        """One short transaction of the oldest chore."""
        chore, future = self._chores[0]
        try:
            step = self._batch.step(chore.steps)
        except Exception as error:
            self._chores.popleft()
            future.set_exception(self._ours(error))
            return True
        if step is None:
            self._chores.popleft()
            future.set_result(chore.total)
        else:
            chore.total += step
        return True

    def _commit_queue(self) -> bool:
        """One transaction for all that waits; False when the store could not be written."""
        with self._changed:
            taken = self._queue[:]
        outcomes: list[SprayoutError | None]
        try:
            outcomes = [*self._batch.write([queued.submission for queued in taken])]
        except (sqlite3.Error, SprayoutError) as error:
            self._report(error)
            self._give_up()
            self._due_s = time.monotonic() + self._every_s
            return False
        except Exception as error:  # a fault of ours: tell whoever waits, keep the thread alive
            outcomes = [StoreError(f"store {self._path}: {error!r}") for _ in taken]
        with self._changed:
            del self._queue[: len(taken)]
            self._waiting -= sum(len(queued.submission) for queued in taken)
            self._words = ""
        for queued, outcome in zip(taken, outcomes, strict=True):
            if queued.future.set_running_or_notify_cancel():
                if outcome is None:
                    queued.future.set_result(None)
                else:
                    queued.future.set_exception(outcome)
        return True

    def _give_up(self) -> None:
        """Tell those whose patience is over that their units are not kept."""
        now_s = time.monotonic()
        with self._changed:
            over = [queued for queued in self._queue if queued.until_s <= now_s]
            self._queue = [queued for queued in self._queue if queued.until_s > now_s]
            self._waiting -= sum(len(queued.submission) for queued in over)
        for queued in over:
            if queued.future.set_running_or_notify_cancel():
                words = f"{self._words}; this was not kept, do it again when that is mended"
                queued.future.set_exception(StoreError(words))

    def _ours(self, error: Exception) -> Exception:
        return translated(error, self._path) if isinstance(error, sqlite3.Error) else error

    def _report(self, error: Exception) -> None:
        line = str(self._ours(error))
        new = line != self._words
        self._words = line
        if new and self._on_trouble is not None:
            with suppress(Exception):  # whoever listens must not stop the writer
                self._on_trouble(self.state)
