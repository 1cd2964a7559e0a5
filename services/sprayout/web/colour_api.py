"""Calibrate, measure and set targets over HTTP; each act answers once it is on record."""

from typing import Any

from fastapi import APIRouter

from sprayout.acts.calibrating import CHECK_NOTE
from sprayout.acts.measuring import Measuring
from sprayout.colour.guide import StepCheck
from sprayout.colour.tristimulus import Spectrum
from sprayout.errors import BadInput
from sprayout.journal.records import Swatch
from sprayout.station import Station
from sprayout.web import forms
from sprayout.web.snapshot import (
    rounded,
    screen_json,
    swatch_json,
    target_json,
)

Json = dict[str, Any]


def router(station: Station) -> APIRouter:
    """Return the routes."""
    routes = APIRouter(prefix="/api")
    _calibration(routes, station)
    _measuring(routes, station)
    return routes


def _calibration(routes: APIRouter, station: Station) -> None:
    measuring = station.measuring

    @routes.post("/calibration/dark", tags=["colour"])
    async def dark() -> Json:
        """Measure the light trap."""
        return _step(await measuring.dark())

    @routes.post("/calibration/white", tags=["colour"])
    async def white(tile: forms.WhiteTile) -> Json:
        """Measure the white tile; the sensor is calibrated from then on."""
        spectrum = Spectrum(tuple(tile.wavelength_nm), tuple(tile.reflectance))
        return _step(await measuring.white(spectrum))

    @routes.post("/calibration/patches", tags=["colour"])
    async def patch(form: forms.ChartPatch) -> Json:
        """Measure one patch of the chart."""
        spectrum = None
        if form.wavelength_nm is not None or form.reflectance is not None:
            spectrum = Spectrum(tuple(form.wavelength_nm or ()), tuple(form.reflectance or ()))
        return _step(await measuring.patch(form.name, spectrum, form.lab_d50_2))

    @routes.post("/calibration/patches/undo", tags=["colour"])
    async def drop_patch(form: forms.MeasuredPatch) -> Json:
        """Take a measured patch out again."""
        measuring.drop_patch(form.name)
        return {"name": form.name}

    @routes.post("/calibration/finish", tags=["colour"])
    async def finish() -> Json:
        """Use the patches that were measured."""
        calibration = await measuring.finish_calibration()
        return {"id": calibration.id, "formula": calibration.formula}

    @routes.post("/calibration/check", tags=["colour"])
    async def check(form: forms.CheckedTile) -> Json:
        """Measure the check tile; the first time after a calibration it becomes the reference."""
        return check_json(await measuring.check_tile(form.name))

    @routes.get("/calibration/checks", tags=["colour"])
    async def checks() -> list[Json]:
        """Return the looks at the check tile since the calibration, oldest first."""
        return [check_json(swatch) for swatch in measuring.calibrating.checks]

    @routes.post("/placements", tags=["colour"])
    async def place() -> Json:
        """Measure one placement; the next swatch or target is worked out from all of them."""
        estimate = await measuring.place()
        return {
            "placements": len(measuring.placements),
            "lab": rounded(estimate.lab_d65_10),
            "u95_de00": round(estimate.u95_de00, 2),
            "warnings": list(estimate.warnings),
        }

    @routes.get("/placements", tags=["colour"])
    async def placed() -> Json:
        """Return the placements so far and what they come to together."""
        return placements_json(measuring)

    @routes.post("/placements/clear", tags=["colour"])
    async def lift() -> Json:
        """Forget the placements measured so far."""
        measuring.lift()
        return {"placements": 0}

    @routes.post("/calibration/gain", tags=["colour"])
    async def gain() -> Json:
        """Let the board choose its gain on the white tile; dark and tile are due after it."""
        answer = await measuring.choose_gain()
        return {"gain": answer.gain, "integration_ms": answer.integration_ms}


def placements_json(measuring: Measuring) -> Json:
    """Return each placement and their robust mean; `together` is null where there are none."""
    each = [
        {
            "lab": rounded(estimate.lab_d65_10),
            "u95_de00": round(estimate.u95_de00, 2),
            "clipped": step.saturated != (),
            "screen": screen_json(estimate.lab_d65_10, "d65-10"),
        }
        for step, estimate in measuring.placements
    ]
    found = measuring.placed()
    if found is None:
        return {"placements": each, "together": None}
    together = {
        "lab": rounded(found.lab_d65_10),
        "u95_de00": round(found.u95_de00, 2),
        "spread_de00": round(found.spread_de00, 2),
        "outliers": list(found.outliers),
        "warnings": list(found.warnings),
    }
    return {"placements": each, "together": together}


def check_json(swatch: Swatch) -> Json:
    """Return a look at the check tile: its drift since the calibration, and the tile's name."""
    return {**swatch_json(swatch), "name": swatch.note.removeprefix(CHECK_NOTE).strip()}


def _step(check: StepCheck) -> Json:
    """Return what a step of the calibration is worth a second look for."""
    return {"kept": check.ok, "notes": list(check.notes)}


def _measuring(routes: APIRouter, station: Station) -> None:
    matching, measuring = station.matching, station.measuring

    @routes.post("/targets", tags=["colour"])
    async def new_target(form: forms.NewTarget) -> Json:
        """Set the colour to reach, typed in or measured."""
        if form.measure == (form.lab is not None):
            raise BadInput("target: wanted either lab or measure; send one of the two")
        lab, white, swatch = form.lab, form.white, None
        if lab is None:
            step, estimate = await measuring.surface()
            swatch = measuring.record(step, estimate, of_target=True)
            assert swatch.lab is not None
            lab, white = swatch.lab, swatch.white
        target = await matching.set_target(form.name, lab, white, form.tolerance_de00, swatch)
        return target_json(target) or {}

    @routes.post("/targets/{target_id}/choose", tags=["colour"])
    async def choose_target(target_id: str) -> Json:
        """Take a target on record in hand."""
        return target_json(await matching.choose_target(target_id)) or {}

    @routes.post("/swatches", tags=["colour"])
    async def new_swatch(form: forms.NewSwatch) -> Json:
        """Measure what is under the sensor."""
        return swatch_json(await measuring.swatch(form.note, form.coat, form.of))
