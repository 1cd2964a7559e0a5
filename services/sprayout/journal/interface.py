"""What the other rooms use of the journal: another store is one that has these methods.

The SQLite store is right for one club (docs/journal.md gives the figures).  Where more is needed, a
store on PostgreSQL goes behind the same two protocols; no other room knows which one it talks to.
Both are checked against the SQLite classes by ``mypy`` and by a test.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from concurrent.futures import Future
from typing import Any, Protocol, TypeVar

from sprayout.journal import records as r
from sprayout.journal.reader import ChannelOnRecord, CoatOnRecord
from sprayout.journal.retention import Retention
from sprayout.journal.strip import Strip
from sprayout.journal.writer import WriterState

T = TypeVar("T")


class JournalWriter(Protocol):
    """Keeps records.  A future is resolved when its records survive a power cut."""

    @property
    def state(self) -> WriterState: ...

    def submit(
        self, records: Iterable[r.Record], *, urgent: bool = False, patience_s: float = ...
    ) -> Future[None]: ...

    def flush(self, timeout_s: float | None = None) -> None: ...

    def compact(self, now_ms: int, rule: Retention | None = None) -> Future[int]: ...

    def retime(self, bench: str, from_ms: int, to_ms: int, by_ms: int) -> Future[int]: ...

    def close(self, timeout_s: float = 30.0) -> None: ...


class JournalReader(Protocol):
    """Answers questions about records; may be used from any thread."""

    def benches(self) -> tuple[str, ...]: ...

    def get(self, record: type[T], key: str) -> T | None: ...

    def all(
        self, record: type[T], *, limit: int | None = None, newest: bool = False, **equal: object
    ) -> list[T]: ...

    def pick(
        self, record: type[T], fields: Sequence[str], **equal: object
    ) -> list[tuple[Any, ...]]: ...

    def coats(
        self,
        bench: str | None = None,
        *,
        piece: str | None = None,
        from_ms: int | None = None,
        to_ms: int | None = None,
        limit: int | None = None,
    ) -> list[CoatOnRecord]: ...

    def coat(self, key: str) -> CoatOnRecord | None: ...

    def conditions(self, coat_id: str, now_ms: int | None = None) -> r.Conditions | None: ...

    def open_flags(self, bench: str | None = None) -> list[r.Flag]: ...

    def swatches(
        self,
        bench: str | None = None,
        *,
        target: str | None = None,
        batch: str | None = None,
        limit: int | None = None,
    ) -> list[r.Swatch]: ...

    def latest_calibration(self, bench: str, device: str) -> r.Calibration | None: ...

    def channels(self, bench: str | None = None) -> list[ChannelOnRecord]: ...

    def latest(self, bench: str) -> list[r.Reading]: ...

    def readings(
        self,
        bench: str,
        from_ms: int,
        to_ms: int,
        *,
        channels: Sequence[str] | None = None,
        device: str | None = None,
    ) -> list[r.Reading]: ...

    def strip(
        self,
        bench: str,
        channels: Sequence[str] | None,
        from_ms: int,
        to_ms: int,
        *,
        points: int = 720,
        device: str | None = None,
    ) -> Strip: ...

    def close(self) -> None: ...
