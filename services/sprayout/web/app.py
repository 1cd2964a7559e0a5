"""The web side of one station: API, live stream and page, put together."""

import time
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from dataclasses import dataclass

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse
from starlette.exceptions import HTTPException

from sprayout.errors import BadInput, LinkError, SprayoutError, StoreError
from sprayout.station import Station
from sprayout.web import (
    colour_api,
    equipment_api,
    mixing_api,
    page,
    probes_api,
    records_api,
    review_api,
    rooms_api,
    shelf_api,
    spraying_api,
    store_api,
    targets_api,
)
from sprayout.web.forms import Failure, fault_of_ours, first_fault
from sprayout.web.live import LiveFeed
from sprayout.web.live_api import live_api, publish_news
from sprayout.web.once import ActMemory, Once

DESCRIPTION = """The bench's own interface.  Figures on spraying are estimates, not measurements:
the product's safety data sheet, local code and a licensed professional come before them.

A POST with a header `Idempotency-Key` (a new key for each act) may be sent again where no answer
came: the act is done once and both get its answer.  With `Acts-Seen` (the number `acts` of the last
state of `/api/bench` that was seen) the same form from a second screen at once is the same act."""


@dataclass(frozen=True, slots=True)
class Served:
    """The application, and the feed that must be closed before the server can stop."""

    app: FastAPI
    feed: LiveFeed


def build_web(station: Station) -> Served:
    """Return the application that serves this station."""
    feed = LiveFeed()

    @asynccontextmanager
    async def lifespan(_: FastAPI) -> AsyncIterator[None]:
        stop = publish_news(station, feed)
        try:
            yield
        finally:
            stop()
            feed.close()

    app = FastAPI(
        title="sprayout",
        description=DESCRIPTION,
        lifespan=lifespan,
        openapi_url="/api/openapi.json",
        docs_url=None,
        redoc_url=None,
        responses={"4XX": {"model": Failure}, "5XX": {"model": Failure}},
    )
    _translate_errors(app)
    app.include_router(live_api(station, feed))
    routed = (
        colour_api,
        targets_api,
        mixing_api,
        shelf_api,
        spraying_api,
        equipment_api,
        store_api,
        probes_api,
    )
    for room in routed:
        app.include_router(room.router(station))
    app.include_router(records_api.router(station))
    app.include_router(rooms_api.router())
    app.include_router(review_api.router(station))
    app.add_middleware(Once, memory=_remembered_acts(station))
    page.serve_page(app)
    return Served(app, feed)


def _remembered_acts(station: Station) -> ActMemory:
    def count() -> int:
        station.acts_done += 1
        return station.acts_done

    return ActMemory(time.monotonic, count)


def _status(error: SprayoutError) -> int:
    if isinstance(error, BadInput):
        return 400
    return 507 if isinstance(error, StoreError) else 503 if isinstance(error, LinkError) else 502


def _answer(status: int, failure: Failure) -> JSONResponse:
    return JSONResponse(failure.model_dump(), status_code=status)


def _translate_errors(app: FastAPI) -> None:
    """One border, one shape: `{"error": one line, "field": name or null}`."""

    @app.exception_handler(SprayoutError)
    async def ours(_: Request, error: SprayoutError) -> JSONResponse:
        return _answer(_status(error), Failure(error=" ".join(str(error).split())))

    @app.exception_handler(RequestValidationError)
    async def form(_: Request, error: RequestValidationError) -> JSONResponse:
        return _answer(422, first_fault(error))

    @app.exception_handler(HTTPException)
    async def http(request: Request, error: HTTPException) -> JSONResponse:
        words = f"{request.method} {request.url.path}: {error.detail}; see /api/openapi.json"
        answer = _answer(error.status_code, Failure(error=words))
        answer.headers.update(error.headers or {})
        return answer

    @app.exception_handler(Exception)
    async def fault(_: Request, error: Exception) -> JSONResponse:
        return _answer(500, fault_of_ours(error))
