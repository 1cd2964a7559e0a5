"""Calibrate and measure over HTTP; each act answers once it is on record."""

from typing import Any

from fastapi import APIRouter

from sprayout.acts.calibrating import CHECK_NOTE
from sprayout.acts.measuring import Measuring
from sprayout.acts.reworking import Rework, rework_to_json
from sprayout.colour.charts import CHARTS, SOURCE, patch_labs, patch_names, published_patch
from sprayout.colour.guide import StepCheck
from sprayout.colour.profile import FORMULA_VERSION
from sprayout.colour.tristimulus import Spectrum
from sprayout.errors import BadInput
from sprayout.journal.records import FormerColour, Swatch
from sprayout.journal.records_json import format_time, to_json
from sprayout.station import Station
from sprayout.web import forms
from sprayout.web.snapshot import (
    rounded,
    screen_json,
    swatch_json,
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
        certified = form.wavelength_nm is not None or form.reflectance is not None
        if form.chart is not None:
            if certified or form.lab_d50_2 is not None:
                raise BadInput(
                    f"patch {form.name}: wanted the chart it is on, or its own spectrum or Lab, "
                    "not both"
                )
            spectrum = published_patch(form.chart, form.name)
        if certified:
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
    async def checks(ever: bool = False) -> list[Json]:
        """Return the looks at the check tile since the calibration, or `ever`, oldest first."""
        found = measuring.calibrating
        return [check_json(swatch) for swatch in (found.all_checks() if ever else found.checks)]

    @routes.get("/calibration", tags=["colour"])
    async def in_force() -> Json:
        """Return the calibration in force: when, with what, at which setting, and why it is due."""
        return calibration_json(measuring)

    @routes.get("/charts", tags=["colour"])
    async def charts() -> list[Json]:
        """Return the charts whose patches are known by name; send `chart` with such a patch."""
        patches = [
            {
                "name": name,
                "lab_d50_2": rounded(lab),
                "screen": screen_json(lab, "d50-2"),
            }
            for name, lab in zip(patch_names(), patch_labs(), strict=True)
        ]
        return [{"name": name, "source": SOURCE, "patches": patches} for name in CHARTS]

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


def calibration_json(measuring: Measuring) -> Json:
    """Return the calibration in force; its fields are null where there is none."""
    desk = measuring.desk
    made = desk.calibration if desk else None
    profile = desk.profile if desk else None
    trend = measuring.calibrating.trend()
    return {
        "id": made.id if made else None,
        "at": format_time(made.at_ms) if made else None,
        "device": desk.device if desk else None,
        "sensor": desk.sensor if desk else None,
        "gain": profile.unit.gain if profile else None,
        "integration_ms": profile.unit.integration_ms if profile else None,
        "calibrated_with": profile.calibration if profile else None,
        "patches": [patch.name for patch in profile.unit.patches] if profile else [],
        "notes": list(profile.notes) if profile else [],
        "formula": made.formula if made else None,
        "formula_now": FORMULA_VERSION,
        "temperature_c": made.temperature_c if made else None,
        "led_hours": made.led_hours if made else None,
        "due": list(measuring.calibrating.due(desk)),
        "check": None
        if trend is None
        else {
            "last_de00": round(trend.last_de00, 2),
            "per_week": round(trend.per_week, 2),
            "days_left": None if trend.days_left is None else round(trend.days_left, 1),
        },
    }


def check_json(swatch: Swatch) -> Json:
    """Return a look at the check tile: its drift since the calibration, and the tile's name."""
    return {**swatch_json(swatch), "name": swatch.note.removeprefix(CHECK_NOTE).strip()}


def _step(check: StepCheck) -> Json:
    """Return what a step of the calibration is worth a second look for."""
    return {"kept": check.ok, "notes": list(check.notes)}


def _measuring(routes: APIRouter, station: Station) -> None:
    measuring = station.measuring

    @routes.post("/swatches", tags=["colour"])
    async def new_swatch(form: forms.NewSwatch) -> Json:
        """Measure what is under the sensor."""
        return swatch_json(await measuring.swatch(form.note, form.coat, form.of))

    @routes.post("/swatches/rework", tags=["colour"])
    async def rework_all() -> Json:
        """Work out every swatch again that an older formula made; the old colours are kept."""
        return _reworked(await station.reworking.every())

    @routes.post("/swatches/{swatch_id}/rework", tags=["colour"])
    async def rework_one(swatch_id: str) -> Json:
        """Work out one swatch again by the formula of today; the old colour is kept."""
        return _reworked(await station.reworking.swatch(swatch_id))

    @routes.get("/swatches/{swatch_id}/former", tags=["colour"])
    async def former(swatch_id: str) -> list[Json]:
        """Return what a swatch was said to be before, oldest first."""
        return [to_json(f) for f in station.reader.all(FormerColour, swatch=swatch_id)]


def _reworked(found: Rework) -> Json:
    """As the command says it, each swatch with all that is shown of a swatch."""
    told = rework_to_json(found)
    rows = zip(told["done"], found.done, strict=True)
    return {**told, "done": [{**row, **swatch_json(one.swatch)} for row, one in rows]}
