"""The host's side of the talk with one board, without I/O: bytes in, events out.

Commands return bytes to write; :meth:`HostSession.receive` and :meth:`HostSession.expire` return
what happened.  Times are milliseconds of any clock that never runs backwards, given by the
caller.  A sequence number that skips means lost packs: the gap is an event and is counted.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import singledispatchmethod

from sprayout.errors import BadInput, BoardFault
from sprayout.link.frames import LineDecoder, encode_line
from sprayout.link.messages import (
    METHODS,
    PROTOCOL,
    SEQUENCE_MODULUS,
    Answer,
    Button,
    ClimatePack,
    ColourPack,
    Configure,
    FailureMessage,
    Fault,
    Hello,
    HelloAnswer,
    Measure,
    Notification,
    NotificationMessage,
    Pack,
    Request,
    RequestMessage,
    ResultMessage,
    SelfTest,
    Stream,
)
from sprayout.link.rpc import parse_answer, parse_message, request_json

FIRMWARE_SERIES = "0.1"
"""The board program that goes with this host; its third number may differ."""

TIMEOUT_MS: dict[type[Request], int] = {
    Hello: 1500,
    Configure: 15_000,  # automatic gain measures several times
    Measure: 5_000,
    Stream: 2_000,
    SelfTest: 20_000,
}
_INSTALL = "put the board program of this release on it: sprayout board install"


@dataclass(frozen=True, slots=True)
class Answered:
    """A request was answered."""

    request_id: int
    request: Request
    answer: Answer


@dataclass(frozen=True, slots=True)
class RequestFailed:
    """The board refused a request or could not do it; ``code`` as in JSON-RPC."""

    request_id: int
    request: Request
    code: int
    words: str


@dataclass(frozen=True, slots=True)
class RequestTimedOut:
    """No answer came in time."""

    request_id: int
    request: Request
    words: str


@dataclass(frozen=True, slots=True)
class PackReceived:
    """A pack the board streamed."""

    pack: Pack


@dataclass(frozen=True, slots=True)
class ButtonSeen:
    """The push button was pressed."""

    button: Button


@dataclass(frozen=True, slots=True)
class FaultSeen:
    """The board says that a part of it failed."""

    fault: Fault


@dataclass(frozen=True, slots=True)
class SequenceGap:
    """So many packs or notifications never arrived."""

    missing: int


@dataclass(frozen=True, slots=True)
class NotUnderstood:
    """A line passed its check and still is no message we know."""

    words: str


Ended = Answered | RequestFailed | RequestTimedOut
"""What a request comes to, each request once."""

Said = PackReceived | ButtonSeen | FaultSeen | SequenceGap | NotUnderstood
"""What the board says by itself, or the cable does."""

Event = Ended | Said


@dataclass(frozen=True, slots=True)
class Sent:
    """A request to write to the port."""

    request_id: int
    data: bytes


@dataclass(frozen=True, slots=True)
class LinkCount:
    """Lines good and bad, packs missing, messages not understood, since the session began."""

    good: int
    failed_checks: int
    overlong: int
    missing: int
    unexpected: int


@dataclass(frozen=True, slots=True)
class _Pending:
    request: Request
    asked_ms: int
    due_ms: int


def check_hello(hello: HelloAnswer) -> None:
    """:class:`BoardFault` where the board speaks another protocol or runs another program."""
    if hello.protocol != PROTOCOL:
        raise BoardFault(
            f"{hello.device} speaks protocol {hello.protocol}, wanted {PROTOCOL}; {_INSTALL}"
        )
    if hello.firmware.rsplit(".", 1)[0] != FIRMWARE_SERIES:
        raise BoardFault(
            f"{hello.device} runs firmware {hello.firmware}, wanted {FIRMWARE_SERIES}.x; {_INSTALL}"
        )


class HostSession:
    """One board at the other end of a cable."""

    def __init__(self) -> None:
        self._decoder = LineDecoder()
        self._pending: dict[int, _Pending] = {}
        self._next_id = 1
        self._sequence: int | None = None
        self._missing = self._unexpected = 0

    @property
    def counters(self) -> LinkCount:
        """Since the session began, over all re-plugs."""
        seen = self._decoder.counters
        return LinkCount(
            seen.good, seen.failed_checks, seen.overlong, self._missing, self._unexpected
        )

    def request(self, request: Request, now_ms: int, timeout_ms: int | None = None) -> Sent:
        """Note the request as asked now; the bytes are the caller's to write."""
        request_id, self._next_id = self._next_id, self._next_id % (2**30 - 1) + 1
        allowed_ms = TIMEOUT_MS[type(request)] if timeout_ms is None else timeout_ms
        sent = Sent(request_id, encode_line(request_json(request_id, request)))
        self._pending[request_id] = _Pending(request, now_ms, now_ms + allowed_ms)
        return sent

    def receive(self, data: bytes) -> list[Event]:
        """What the board said in these bytes, in its order."""
        events: list[Event] = []
        for message in self._decoder.receive(data):
            events.extend(self._understand(message))
        return events

    def expire(self, now_ms: int) -> list[RequestTimedOut]:
        """The requests whose time ran out."""
        due = {key: asked for key, asked in self._pending.items() if now_ms >= asked.due_ms}
        for request_id in due:
            del self._pending[request_id]
        return [self._timed_out(key, asked, now_ms) for key, asked in due.items()]

    def reset(self) -> list[RequestTimedOut]:
        """The cable was pulled: forget half a line, the sequence and what was asked."""
        self._decoder.receive(b"\n")
        self._sequence = None
        lost = self._pending
        self._pending = {}
        words = "the board went away before it answered"
        return [RequestTimedOut(key, asked.request, words) for key, asked in lost.items()]

    def _understand(self, message: dict[str, object]) -> list[Event]:
        try:
            return self._take(parse_message(message))
        except BadInput as fault:
            return self._not_understood(str(fault))

    def _not_understood(self, words: str) -> list[Event]:
        self._unexpected += 1
        return [NotUnderstood(words)]

    @singledispatchmethod
    def _take(self, message: object) -> list[Event]:
        raise TypeError(message)

    @_take.register
    def _(self, message: RequestMessage) -> list[Event]:
        return self._not_understood(
            f"the other end asks {METHODS[type(message.request)]}: two hosts on one cable?"
        )

    @_take.register
    def _(self, message: ResultMessage) -> list[Event]:
        asked = self._pending.pop(message.id, None)
        if asked is None:
            return self._not_understood(f"an answer to request {message.id}, which is not open")
        try:
            answer = parse_answer(asked.request, message.result)
        except BadInput as fault:
            failed = RequestFailed(message.id, asked.request, 0, str(fault))
            return [failed, *self._not_understood(str(fault))]
        gap = self._follow(answer.sequence) if isinstance(answer, ColourPack | ClimatePack) else []
        return [*gap, Answered(message.id, asked.request, answer)]

    @_take.register
    def _(self, message: FailureMessage) -> list[Event]:
        asked = None if message.id is None else self._pending.pop(message.id, None)
        if asked is None or message.id is None:
            return self._not_understood(f"the board says: {message.words} ({message.code})")
        return [RequestFailed(message.id, asked.request, message.code, message.words)]

    @_take.register
    def _(self, message: NotificationMessage) -> list[Event]:
        said = message.notification
        return [*self._follow(said.sequence), _event_of(said)]

    def _follow(self, sequence: int) -> list[Event]:
        """The gap before this sequence number, if there is one."""
        before, self._sequence = self._sequence, sequence
        if before is None:
            return []
        missing = (sequence - before - 1) % SEQUENCE_MODULUS
        if missing == 0 or missing > SEQUENCE_MODULUS // 2:
            return []  # in order, or a counter that began anew
        self._missing += missing
        return [SequenceGap(missing)]

    def _timed_out(self, request_id: int, asked: _Pending, now_ms: int) -> RequestTimedOut:
        waited_s = (now_ms - asked.asked_ms) / 1000
        words = f"no answer to {METHODS[type(asked.request)]} within {waited_s:.1f} s"
        return RequestTimedOut(request_id, asked.request, words)


def _event_of(said: Notification) -> Event:
    match said:
        case Button():
            return ButtonSeen(said)
        case Fault():
            return FaultSeen(said)
        case _:
            return PackReceived(said)
