"""The live stream: each piece of news is encoded once and shared by all who listen.

A slow client never holds the others up: of each kind of news it gets the newest when it is ready.
Everything that was left out for it stands in the journal.
"""

import asyncio
import json
from collections.abc import AsyncIterator

from fastapi.sse import format_sse_event

PING_EVERY_S = 15.0
PING = format_sse_event(comment="still here")


class Subscriber:
    """One open stream: the newest frame of each kind that it has not had yet."""

    def __init__(self) -> None:
        self._waiting: dict[str, bytes] = {}
        self._news = asyncio.Event()
        self._closed = False

    def put(self, kind: str, frame: bytes) -> None:
        # Kinds keep the order of their oldest unseen news, so none starves another.
        self._waiting[kind] = frame
        self._news.set()

    def close(self) -> None:
        self._closed = True
        self._news.set()

    async def frames(self) -> AsyncIterator[bytes]:
        """Yield frames until the feed closes; a ping keeps a quiet stream open."""
        while not self._closed:
            try:
                await asyncio.wait_for(self._news.wait(), PING_EVERY_S)
            except TimeoutError:
                yield PING
                continue
            self._news.clear()
            waiting, self._waiting = self._waiting, {}
            for frame in waiting.values():
                yield frame


class LiveFeed:
    """All open streams of one station."""

    def __init__(self) -> None:
        self._subscribers: set[Subscriber] = set()
        self._closed = False

    @property
    def listened_to(self) -> bool:
        """Whether anybody listens, so that nothing is encoded for nobody."""
        return bool(self._subscribers)

    def publish(self, kind: str, value: object) -> None:
        """Send `value` as JSON to every open stream."""
        if not self._subscribers:
            return
        frame = encode(kind, value)
        for subscriber in self._subscribers:
            subscriber.put(kind, frame)

    async def stream(self, first: list[tuple[str, object]]) -> AsyncIterator[bytes]:
        """Yield the whole state first, then the news."""
        subscriber = Subscriber()
        for kind, value in first:
            subscriber.put(kind, encode(kind, value))
        if self._closed:
            return
        self._subscribers.add(subscriber)
        try:
            async for frame in subscriber.frames():
                yield frame
        finally:
            self._subscribers.discard(subscriber)

    def close(self) -> None:
        """End every stream, or the server would wait for them for ever."""
        self._closed = True
        for subscriber in self._subscribers:
            subscriber.close()


def encode(kind: str, value: object) -> bytes:
    """Return one server-sent event."""
    return format_sse_event(event=kind, data_str=json.dumps(value, allow_nan=False))
