"""Requests to one board from any thread, each with a future for its answer.

The session is shared between the port's thread, which hears, and the threads that ask.  What is
no answer to a request of ours is handed back as an event.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from concurrent.futures import Future
from dataclasses import dataclass
from typing import Any

from sprayout.errors import BadInput, BoardFault, LinkError, SprayoutError
from sprayout.intake.clock import monotonic_ms
from sprayout.link import session as link
from sprayout.link.messages import WRONG_PARAMS, Answer, Request

Read = Callable[[Answer], object]


@dataclass(slots=True)
class _Asked:
    future: Future[Any]
    read: Read


class Conversation:
    """One board's session; ``send`` writes to its port or raises :class:`LinkError`."""

    def __init__(self, send: Callable[[bytes], None]) -> None:
        self._send = send
        self._session = link.HostSession()
        self._lock = threading.Lock()
        self._asked: dict[int, _Asked] = {}

    @property
    def counters(self) -> link.LinkCount:
        """What the cable did since the start."""
        return self._session.counters

    @property
    def waiting(self) -> bool:
        """Somebody waits for an answer."""
        return bool(self._asked)

    def ask(self, request: Request, read: Read, timeout_ms: int | None = None) -> Future[Any]:
        """Send a request; the future holds what ``read`` makes of the answer, or fails."""
        future: Future[Any] = Future()
        future.set_running_or_notify_cancel()  # what was asked of a board cannot be taken back
        try:
            with self._lock:
                sent = self._session.request(request, monotonic_ms(), timeout_ms)
                self._asked[sent.request_id] = _Asked(future, read)
        except BadInput as fault:
            future.set_exception(fault)
            return future
        try:
            self._send(sent.data)
        except LinkError as fault:
            self._fail(sent.request_id, fault)
        return future

    def receive(self, data: bytes, device: str) -> tuple[list[link.Said], bool]:
        """What the board said by itself, and whether it said anything at all."""
        with self._lock:
            events = self._session.receive(data)
        said: list[link.Said] = []
        for event in events:
            if isinstance(event, link.Ended):
                self._end(event, device)
            else:
                said.append(event)
        return said, bool(events)

    def expire(self, device: str) -> None:
        """Fail the requests whose time ran out."""
        with self._lock:
            events = self._session.expire(monotonic_ms())
        for event in events:
            self._end(event, device)

    def break_off(self, device: str) -> None:
        """The cable was pulled: fail all that was asked, forget half a line."""
        with self._lock:
            events = self._session.reset()
        for event in events:
            self._end(event, device)

    def _end(self, event: link.Ended, device: str) -> None:
        match event:
            case link.Answered(request_id, _, answer):
                self._answer(request_id, answer)
            case link.RequestFailed(request_id, _, code, words):
                kind = BadInput if code == WRONG_PARAMS else BoardFault
                self._fail(request_id, kind(f"{device}: {words}"))
            case link.RequestTimedOut(request_id, _, words):
                self._fail(request_id, LinkError(f"{device}: {words}"))

    def _answer(self, request_id: int, answer: Answer) -> None:
        asked = self._take(request_id)
        if asked is None:
            return
        try:
            asked.future.set_result(asked.read(answer))
        except SprayoutError as fault:
            asked.future.set_exception(fault)

    def _fail(self, request_id: int, fault: SprayoutError) -> None:
        asked = self._take(request_id)
        if asked is not None:
            asked.future.set_exception(fault)

    def _take(self, request_id: int) -> _Asked | None:
        with self._lock:
            return self._asked.pop(request_id, None)
