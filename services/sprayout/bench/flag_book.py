"""Flags on record: what the flag rules say becomes records that are raised, acknowledged, cleared.

A change of level closes one record and opens the next, so nothing that stood is overwritten.  An
acknowledgement follows a flag to a milder level, never to a graver one.
"""

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field, replace

from sprayout.climate.flags import FlagCleared, FlagEvent, FlagLevelChanged, Level
from sprayout.errors import BadInput
from sprayout.journal.records import Flag
from sprayout.journal.records import Level as RecordLevel


def record_level(level: Level) -> RecordLevel:
    """Return the level on record; *unknown* is kept as a caution, for it is no good sign."""
    if level is Level.STOP:
        return "stop"
    return "note" if level is Level.NOTE else "caution"


@dataclass(slots=True)
class FlagBook:
    """The flags of one bench that are up, and the last of each that came down unread."""

    bench: str
    new_id: Callable[[str], str]
    up: dict[str, Flag] = field(default_factory=dict)
    unread: dict[str, Flag] = field(default_factory=dict)

    def apply(self, events: Iterable[FlagEvent], coat: str | None) -> list[Flag]:
        """Return the records that these events make or change."""
        changed: list[Flag] = []
        for event in events:
            before = self.up.pop(event.key, None)
            if before is not None:
                closed = replace(before, cleared_ms=event.at_ms)
                changed.append(closed)
                if closed.acknowledged_ms is None:
                    self.unread[closed.key] = closed
            if not isinstance(event, FlagCleared):
                opened = self._opened(event, before, coat)
                self.up[event.key] = opened
                self.unread.pop(event.key, None)
                changed.append(opened)
        return changed

    def _opened(self, event: FlagEvent, before: Flag | None, coat: str | None) -> Flag:
        assert not isinstance(event, FlagCleared)
        flag = Flag(
            id=self.new_id("flag"),
            bench=self.bench,
            key=event.key,
            level=record_level(event.level),
            title=event.title,
            words=event.words,
            raised_ms=event.at_ms,
            coat=coat,
        )
        milder = isinstance(event, FlagLevelChanged) and event.level.rank < event.was.rank
        if before is None or not milder:
            return flag
        return replace(
            flag,
            acknowledged_ms=before.acknowledged_ms,
            acknowledged_by=before.acknowledged_by,
        )

    def acknowledged(self, flag_id: str, person: str, at_ms: int) -> Flag:
        """Return the record a person has read; `take_read` it once that is on disk.

        Raises BadInput for a flag that is neither up nor waiting to be read.
        """
        for flag in self.shown():
            if flag.id == flag_id:
                return replace(flag, acknowledged_ms=at_ms, acknowledged_by=person)
        raise BadInput(
            f"flag: got {flag_id!r}, wanted one that is up; it may have been acknowledged on "
            "another screen; look at the list of flags"
        )

    def take_read(self, read: Flag) -> Flag:
        """Take a flag as read, which is on disk now; return the record as it stands by now.

        It may have come down while the disk was written: then the two must be put together again.
        """
        now = next((flag for flag in self.shown() if flag.id == read.id), read)
        together = replace(
            now, acknowledged_ms=read.acknowledged_ms, acknowledged_by=read.acknowledged_by
        )
        if now.cleared_ms is None and read.key in self.up:
            self.up[read.key] = together
        elif now is not read:
            del self.unread[read.key]
        return together

    def close_all(self, flags: Iterable[Flag], at_ms: int) -> list[Flag]:
        """Return flags of an earlier run, closed: what still holds will be raised again."""
        return [replace(flag, cleared_ms=at_ms) for flag in flags if flag.cleared_ms is None]

    def shown(self) -> list[Flag]:
        """Return what a person should see: flags that are up, then cleared ones not yet read."""
        return [*self.up.values(), *self.unread.values()]
