"""Airbrushes, and the parts of pieces, over HTTP."""

from typing import Annotated, Any

from fastapi import APIRouter
from pydantic import Field

from sprayout.errors import BadInput
from sprayout.journal.records import Coat, Finding, Part, Target
from sprayout.journal.records_json import to_json
from sprayout.station import Station
from sprayout.web.forms import Form, Name, time_of

Json = dict[str, Any]
PA_PER_BAR = 100_000.0
#: What no airbrush has is a slip of the unit: asked for again, never corrected.
LEAST_PA, MOST_PA = 10_000.0, 600_000.0


class AirbrushSet(Form):
    """An airbrush as it is set; a field left out stays as it was, null says it is not known."""

    name: Name
    nozzle_mm: Annotated[float, Field(ge=0.05, le=3)] | None = None
    pressure_bar: Annotated[float, Field(ge=0.1, le=6)] | None = None
    pressure_pa: Annotated[float, Field(ge=LEAST_PA, le=MOST_PA)] | None = None
    distance_mm: Annotated[float, Field(ge=10, le=600)] | None = None
    cleaned: Annotated[str, Field(max_length=40)] | None = None
    note: Annotated[str, Field(max_length=500)] = ""


class NewPart(Form):
    """A part of a piece; `target` by id or name."""

    piece: Name
    name: Name
    target: Annotated[str, Field(max_length=200)] | None = None
    note: Annotated[str, Field(max_length=500)] | None = None


def router(station: Station) -> APIRouter:
    """Return the routes."""
    routes = APIRouter(prefix="/api")
    _airbrushes(routes, station)
    _parts(routes, station)
    return routes


def _airbrushes(routes: APIRouter, station: Station) -> None:
    equipping = station.equipping

    @routes.get("/airbrushes", tags=["coats"])
    def airbrushes() -> Json:
        """Return the airbrushes, each as it is set now, and the one in hand."""
        held = equipping.airbrush
        return {
            "in_hand": None if held is None else to_json(held),
            "airbrushes": [to_json(a) for a in equipping.airbrushes()],
        }

    @routes.post("/airbrushes", tags=["coats"])
    async def set_airbrush(form: AirbrushSet) -> Json:
        """Put an airbrush as it is set now on record, and take it in hand."""
        return to_json(await equipping.set_airbrush(form.name, _given(form)))

    @routes.post("/airbrushes/{airbrush_id}/cleaned", tags=["coats"])
    async def cleaned(airbrush_id: str) -> Json:
        """Put on record that an airbrush was cleaned now."""
        return to_json(await equipping.cleaned(airbrush_id))

    @routes.post("/airbrushes/{airbrush_id}/choose", tags=["coats"])
    async def choose(airbrush_id: str) -> Json:
        """Take an airbrush in hand."""
        return to_json(equipping.choose(airbrush_id))


def _given(form: AirbrushSet) -> Json:
    """The fields that were sent, by their names on record."""
    given: Json = form.model_dump(exclude_unset=True, exclude={"name"})
    if {"pressure_bar", "pressure_pa"} <= given.keys():
        raise BadInput("pressure: got pressure_bar and pressure_pa, wanted one of them")
    if "pressure_bar" in given:
        bar = given.pop("pressure_bar")
        given["pressure_pa"] = None if bar is None else bar * PA_PER_BAR
    if "cleaned" in given:
        text = given.pop("cleaned")
        given["cleaned_ms"] = None if text is None else time_of("cleaned", text)
    return given


def _parts(routes: APIRouter, station: Station) -> None:
    dividing, read = station.dividing, station.reader

    def part_json(part: Part) -> Json:
        target = read.get(Target, part.target) if part.target else None
        return {
            **to_json(part),
            "target_name": target.name if target else None,
            "coats": len(read.pick(Coat, ("id",), piece=part.piece, part=part.id)),
            "findings": len(read.pick(Finding, ("id",), piece=part.piece, part=part.id)),
        }

    @routes.get("/pieces/{piece}/parts", tags=["coats"])
    def parts(piece: str) -> list[Json]:
        """Return the parts of a piece, with how many coats and findings each has."""
        return [part_json(part) for part in dividing.parts(dividing.piece(piece))]

    @routes.post("/parts", tags=["coats"])
    async def set_part(form: NewPart) -> Json:
        """Put a part of a piece on record, or change the one of that name."""
        given = form.model_dump(exclude_unset=True, exclude={"piece", "name"})
        return part_json(await dividing.set_part(form.piece, form.name, given))
