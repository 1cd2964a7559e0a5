"""The rooms' own questions over HTTP: the same JSON as their commands take and give."""

from fastapi import APIRouter


def router() -> APIRouter:
    """Return the routes."""
    return APIRouter(prefix="/api", tags=["rooms"])
