"""The live stream `/api/live` and the state of the bench in one document."""

import time
from collections.abc import Callable
from typing import Any

from fastapi import APIRouter
from fastapi.responses import JSONResponse, StreamingResponse

from sprayout.station import Station
from sprayout.web.live import LiveFeed
from sprayout.web.snapshot import booth_json, colour_json, snapshot

#: The whole state is sent at most this often, whatever the bench's clock does.
STATE_EVERY_S = 0.25


def live_api(station: Station, feed: LiveFeed) -> APIRouter:
    """Return the routes."""
    router = APIRouter(tags=["live"])

    @router.get("/health")
    async def health() -> JSONResponse:
        """Tell whether the bench records; 503 while it cannot."""
        state = station.writer.state
        body = {"recording": state.writable, "waiting": state.waiting, "words": state.words}
        return JSONResponse(body, status_code=200 if state.writable else 503)

    @router.get("/api/bench")
    async def bench() -> dict[str, Any]:
        """Return the whole state of the bench."""
        return snapshot(station)

    # FastAPI's own event response encodes every event anew for every client; ours are shared.
    @router.get(
        "/api/live",
        response_class=StreamingResponse,
        responses={200: {"content": {"text/event-stream": {}}}},
    )
    async def live() -> StreamingResponse:
        """Stream server-sent events: `state` (all of it), `colour` and `booth` (one reading)."""
        return StreamingResponse(
            feed.stream([("state", snapshot(station))]),
            media_type="text/event-stream",
            headers={"Cache-Control": "no-store", "X-Accel-Buffering": "no"},
        )

    return router


def publish_news(station: Station, feed: LiveFeed) -> Callable[[], None]:
    """Send the station's news to the feed until the returned function is called."""
    last_state_s = 0.0

    def news(kind: str, value: object) -> None:
        nonlocal last_state_s
        if not feed.listened_to:
            return
        if kind == "colour":
            feed.publish("colour", colour_json(station.measuring.live))
        elif kind == "booth":
            feed.publish("booth", booth_json(station))
        # What is left out here comes with the next look at the booth, within a second.
        elif time.monotonic() - last_state_s >= STATE_EVERY_S:
            last_state_s = time.monotonic()
            feed.publish("state", snapshot(station))

    station.listeners.append(news)
    return lambda: station.listeners.remove(news)
