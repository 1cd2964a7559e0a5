"""The shelf over HTTP: paints with their swatches, labels and data sheets, reducers."""

from dataclasses import asdict
from typing import Any

from fastapi import APIRouter

from sprayout.bench.solvent_names import all_names
from sprayout.journal.records_json import to_json
from sprayout.station import Station
from sprayout.web import forms
from sprayout.web.mixing_json import guide_json

Json = dict[str, Any]

CAN_BE_TAKEN_OFF = {"price_per_ml", "density_g_ml"}


def router(station: Station) -> APIRouter:
    """Return the routes."""
    routes = APIRouter(prefix="/api", tags=["shelf"])
    shelf = station.shelf

    @routes.get("/shelf")
    async def on_shelf() -> Json:
        """Return the paints and reducers on the shelf."""
        return {
            "paints": [to_json(paint) for paint in shelf.paints.values()],
            "reducers": [to_json(reducer) for reducer in shelf.reducers.values()],
        }

    @routes.get("/shelf/guide")
    async def guide() -> Json:
        """Say for each paint which swatch to measure next and how much it would help."""
        return guide_json(await station.guiding.guide())

    @routes.post("/paints")
    async def put_paint(form: forms.NewPaint) -> Json:
        """Put a bottle on the shelf; a price or density that is sent as null is taken off it."""
        given = form.model_dump(include=CAN_BE_TAKEN_OFF, exclude_unset=True)
        paint = await shelf.put_paint(
            form.name,
            form.family,
            drop_ml=form.drop_ml,
            white=form.white,
            price_per_ml=form.price_per_ml,
            density_g_ml=form.density_g_ml,
            cleared=[name for name, value in given.items() if value is None],
            new=form.new,
        )
        return to_json(paint)

    @routes.get("/solvents")
    async def solvents() -> Json:
        """Return the solvents we know, and whether for the film, for exposure, or both."""
        return {"solvents": [asdict(entry) for entry in all_names()]}

    @routes.post("/paints/label")
    async def paint_label(form: forms.PaintLabel) -> Json:
        """Enter what is in a paint, as its label and data sheet say; null is no longer stated."""
        stated = form.model_dump(exclude={"paint"}, exclude_unset=True)
        return to_json(await shelf.put_label(form.paint, stated))

    @routes.post("/paints/limits")
    async def paint_limits(form: forms.DataSheet) -> Json:
        """Enter what a paint's data sheet asks."""
        return to_json(await shelf.put_limits(form.paint, form.limits))

    @routes.post("/paints/swatches")
    async def paint_swatch(form: forms.PaintSwatch) -> Json:
        """Measure a dry swatch of a paint, alone or let down."""
        return to_json(await station.measuring.paint_swatch(shelf, form.parts, form.over))

    @routes.post("/paints/swatches/set-aside")
    async def set_aside(form: forms.SwatchAside) -> Json:
        """Leave a swatch out of what is known of a paint; it stays on record."""
        return to_json(await shelf.set_aside(form.paint, form.number, form.set_aside))

    @routes.post("/reducers")
    async def put_reducer(form: forms.NewReducer) -> Json:
        """Put a reducer on the shelf."""
        return to_json(await shelf.put_reducer(form.name, form.solvents, form.no_data))

    return routes
