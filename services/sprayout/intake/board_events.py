"""What a board said by itself, as events of the intake.  Pure."""

from __future__ import annotations

from collections.abc import Iterable

from sprayout.intake.events import (
    ButtonPressed,
    Event,
    FaultReported,
    InputRejected,
    LinkCounters,
    ReadingsMissing,
)
from sprayout.intake.packs import Parsed, from_board
from sprayout.link import session as link


def said_by_board(bench: str, device: str, said: link.Said, now_ms: int) -> list[Event]:
    """The events to deliver; a pack may hold values that are refused, each with its line."""
    match said:
        case link.PackReceived(pack):
            return events_of(bench, device, from_board(bench, device, pack, now_ms), now_ms)
        case link.ButtonSeen(button):
            return [ButtonPressed(bench, device, now_ms, button.count, button.sequence)]
        case link.FaultSeen(fault):
            return [
                FaultReported(
                    bench, device, now_ms, fault.part, fault.words, fault.count, fault.sequence
                )
            ]
        case link.SequenceGap(missing):
            return [ReadingsMissing(bench, device, now_ms, missing)]
        case link.NotUnderstood(words):
            return [rejected(bench, device, words, now_ms)]


def events_of(bench: str, device: str, parsed: Parsed, now_ms: int) -> list[Event]:
    """The arrivals, after one line for each value refused."""
    return [*refused(bench, device, parsed.refusals, now_ms), *parsed.arrivals]


def refused(bench: str, device: str, lines: Iterable[str], now_ms: int) -> list[Event]:
    """One event for each line."""
    return [rejected(bench, device, words, now_ms) for words in lines]


def rejected(bench: str, device: str, words: str, now_ms: int) -> InputRejected:
    """Something of this device was refused."""
    return InputRejected(f"{bench}/{device}", words, now_ms)


def counted(bench: str, device: str, count: link.LinkCount, now_ms: int) -> LinkCounters:
    """What the cable did so far."""
    return LinkCounters(
        bench,
        device,
        now_ms,
        count.good,
        count.failed_checks,
        count.overlong,
        count.missing,
        count.unexpected,
    )


def is_worse(now: link.LinkCount, before: link.LinkCount) -> bool:
    """Something bad was counted in between."""
    return (now.failed_checks, now.overlong, now.missing, now.unexpected) != (
        before.failed_checks,
        before.overlong,
        before.missing,
        before.unexpected,
    )
