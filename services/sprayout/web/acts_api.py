"""What a person does at the bench, one route an act; each answers once it is on record."""

from dataclasses import asdict
from typing import Annotated, Any

from fastapi import APIRouter, Query
from fastapi.responses import HTMLResponse

from sprayout.colour.guide import StepCheck
from sprayout.colour.tristimulus import Spectrum
from sprayout.errors import BadInput
from sprayout.journal.records import Booth
from sprayout.journal.records_json import to_json
from sprayout.mixing.amount import how_much
from sprayout.mixing.card import card_html
from sprayout.mixing.ledger import make_again
from sprayout.mixing.steer_json import recipe_to_json
from sprayout.safety import cautions
from sprayout.safety.cartridge_json import answer_cartridge_log, log_to_json
from sprayout.station import Station
from sprayout.web import forms
from sprayout.web.snapshot import (
    advice_json,
    coat_json,
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
    _matching(routes, station)
    _shelf(routes, station)
    _spraying(routes, station)
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

    @routes.post("/calibration/finish", tags=["colour"])
    async def finish() -> Json:
        """Use the patches that were measured."""
        calibration = await measuring.finish_calibration()
        return {"id": calibration.id, "formula": calibration.formula}

    @routes.post("/calibration/check", tags=["colour"])
    async def check(form: forms.CheckedTile) -> Json:
        """Measure the check tile; the first time after a calibration it becomes the reference."""
        return swatch_json(await measuring.check_tile(form.name))

    @routes.get("/calibration/checks", tags=["colour"])
    async def checks() -> list[Json]:
        """Return the looks at the check tile since the calibration, oldest first."""
        return [swatch_json(swatch) for swatch in measuring.calibrating.checks]

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


def _step(check: StepCheck) -> Json:
    """Return what a step of the calibration is worth a second look for."""
    return {"kept": check.ok, "notes": list(check.notes)}


def _matching(routes: APIRouter, station: Station) -> None:
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

    @routes.post("/batches", tags=["mixing"])
    async def new_batch(form: forms.NewBatch) -> Json:
        """Begin a cup."""
        return to_json(await matching.start_batch(form.name, form.drop_ml))

    @routes.post("/batches/additions", tags=["mixing"])
    async def new_addition(form: forms.NewAddition) -> Json:
        """Write drops into the ledger of the cup in hand."""
        return to_json(await matching.add(form.paint, form.drops, form.lines))

    @routes.post("/batches/undo", tags=["mixing"])
    async def undo() -> Json:
        """Take the last line of the ledger back."""
        return to_json(await matching.undo())

    @routes.post("/batches/thinning", tags=["mixing"])
    async def thin(form: forms.Thinning) -> Json:
        """Write a reducer into the ledger of the cup in hand."""
        return to_json(await matching.reduce(form.reducer, form.ml))

    @routes.get("/mixing/advice", tags=["mixing"])
    async def advice() -> Json:
        """Return the next addition for the cup as it is."""
        await station.advising.refresh()
        return advice_json(station.advising.said)

    @routes.post("/mixing/what-if", tags=["mixing"])
    async def what_if(form: forms.Drops) -> Json:
        """Say what some drops would do; nothing is poured."""
        seen = await station.advising.what_if(form.drops)
        return {
            "lab_d65_10": rounded(seen.lab),
            "de00": round(seen.de00, 2),
            "u95_de00": round(seen.u95_de00, 2),
            "total_drops": seen.total_drops,
            "screen": screen_json(seen.lab, "d65-10"),
        }

    @routes.get("/mixing/coats", tags=["mixing"])
    async def coats_ahead() -> Json:
        """Say what coats 1 to 4 will look like over the base that was measured."""
        return asdict(await station.coating.ahead())

    @routes.get("/mixing/dry", tags=["mixing"])
    async def dry_look() -> Json:
        """Say how the cup's last wet reading will look dry, and what that rests on."""
        look = station.coating.dry()
        return {
            "lab_d65_10": rounded(look.lab),
            "de00": None if look.de00 is None else round(look.de00, 2),
            "words": look.shift.words(),
            "assumed": look.shift.assumed,
        }

    @routes.post("/mixing/amount", tags=["mixing"])
    async def amount(form: forms.HowMuch) -> Json:
        """Say how much to mix, so that one batch does all coats."""
        given = form.model_dump(exclude={"area_cm2", "coats", "wet_um_per_coat"})
        return asdict(how_much(form.area_cm2, form.coats, form.wet_um_per_coat, **given))

    @routes.post("/batches/efflux", tags=["mixing"])
    async def efflux_time(form: forms.EffluxTime) -> Json:
        """Write an efflux time into the ledger; refused outside the cup's range."""
        return asdict(await station.ledger.efflux(form.cup, form.seconds, form.temperature_c))

    @routes.post("/batches/{batch_id}/again", tags=["mixing"])
    async def again(batch_id: str, form: forms.Again) -> Json:
        """Say how to make the same colour again at another size."""
        return asdict(make_again(station.ledger.batch(batch_id), form.paint_ml))

    @routes.get("/batches", tags=["mixing"])
    async def batches() -> list[Json]:
        """Return the batches on record, newest first."""
        return station.ledger.listed()

    @routes.get("/batches/drift", tags=["mixing"])
    async def batch_drift() -> list[Json]:
        """Return the batches made for the target in hand, each beside the first."""
        return [asdict(point) for point in station.ledger.drift()]

    @routes.get("/batches/{batch_id}/card", response_class=HTMLResponse, tags=["mixing"])
    async def card(batch_id: str) -> HTMLResponse:
        """Return the mixing card, to be printed and kept with the cup."""
        return HTMLResponse(card_page(card_html(station.ledger.batch(batch_id))))

    @routes.get("/mixing/lamps", tags=["mixing"])
    async def lamps() -> Json:
        """Say how the match moves from daylight to lamp light."""
        return asdict(measuring.lamps())

    @routes.get("/mixing/recipe", tags=["mixing"])
    async def recipe() -> Json:
        """Return recipes for the target in hand, from an empty cup."""
        return recipe_to_json(await station.advising.recipe())


def card_page(body: str) -> str:
    """Return a card as a page of its own."""
    return f'<!doctype html><html lang="en"><meta charset="utf-8"><title>Mixing card</title>{body}'


def _shelf(routes: APIRouter, station: Station) -> None:
    shelf = station.shelf

    @routes.get("/shelf", tags=["shelf"])
    async def on_shelf() -> Json:
        """Return the paints and reducers on the shelf."""
        return {
            "paints": [to_json(paint) for paint in shelf.paints.values()],
            "reducers": [to_json(reducer) for reducer in shelf.reducers.values()],
        }

    @routes.post("/paints", tags=["shelf"])
    async def put_paint(form: forms.NewPaint) -> Json:
        """Put a bottle on the shelf."""
        paint = await shelf.put_paint(
            form.name, form.family, drop_ml=form.drop_ml, white=form.white
        )
        return to_json(paint)

    @routes.post("/paints/label", tags=["shelf"])
    async def paint_label(form: forms.PaintLabel) -> Json:
        """Enter what is in a paint, as its label and data sheet say."""
        stated = form.model_dump(exclude={"paint"}, exclude_none=True)
        return to_json(await shelf.put_label(form.paint, stated))

    @routes.post("/paints/limits", tags=["shelf"])
    async def paint_limits(form: forms.DataSheet) -> Json:
        """Enter what a paint's data sheet asks."""
        return to_json(await shelf.put_limits(form.paint, form.limits))

    @routes.post("/paints/swatches", tags=["shelf"])
    async def paint_swatch(form: forms.PaintSwatch) -> Json:
        """Measure a dry swatch of a paint, alone or let down."""
        return to_json(await station.measuring.paint_swatch(shelf, form.parts, form.over))

    @routes.post("/reducers", tags=["shelf"])
    async def put_reducer(form: forms.NewReducer) -> Json:
        """Put a reducer on the shelf."""
        return to_json(await shelf.put_reducer(form.name, form.solvents))


def _spraying(routes: APIRouter, station: Station) -> None:
    spraying = station.spraying

    @routes.post("/cautions/read", tags=["safety"])
    async def read_cautions(form: forms.Signature) -> Json:
        """Put on record who has read the cautions this evening."""
        return to_json(await spraying.acknowledge_cautions(form.person))

    @routes.post("/pieces", tags=["coats"])
    async def choose_piece(form: forms.PieceInHand) -> Json:
        """Take a piece in hand; its metal and thickness count for the film."""
        return to_json(await spraying.choose_piece(form.piece, form.metal, form.metal_mm))

    @routes.post("/coats", tags=["coats"])
    async def start_coat(form: forms.NewCoat) -> Json:
        """Begin a coat."""
        return to_json(await spraying.start(form.piece, form.kind, dict(form.settings)))

    @routes.post("/coats/{coat_id}/end", tags=["coats"])
    async def end_coat(coat_id: str) -> Json:
        """End the running coat and answer the conditions it was sprayed in."""
        return coat_json(await spraying.end(coat_id))

    @routes.get("/assessment", tags=["safety"])
    async def assessment(
        sprayed_ml: Annotated[float, Query(gt=0, le=2000)],
        minutes: Annotated[float, Query(gt=0, le=600)],
        coats: Annotated[int, Query(ge=1, le=20)] = 1,
    ) -> Json:
        """Assess spraying so much of the cup in hand; what is not on record cannot be assessed."""
        fan = station.watching.fan()
        return dict(station.exposing.assess(sprayed_ml, minutes, coats, fan))

    @routes.post("/booth", tags=["safety"])
    async def set_booth(form: forms.BoothSetUp) -> Json:
        """Put the booth's size and measured flow on record."""
        booth = Booth(
            id=station.new_id("booth"),
            bench=station.bench,
            made_ms=station.now_ms(),
            note=form.exhaust or "",
            **form.model_dump(exclude={"exhaust"}),
        )
        return to_json(await station.ventilating.set_booth(booth))

    @routes.get("/cartridges/log", tags=["safety"])
    async def cartridge_log(
        substance: str | None = None, ppm: Annotated[float | None, Query(gt=0)] = None
    ) -> Json:
        """Return the hours on the cartridge in use, judged against the rule for a substance."""
        log = station.ventilating.log()
        if log is None:
            raise BadInput("cartridge: none is entered; enter the one in use")
        if substance is None:
            shown = cautions.for_spraying(station.settings.text("region"))
            return {"log": log_to_json(log), "cautions": [asdict(c) for c in shown]}
        asked = {"log": log_to_json(log), "substance": substance, "ppm": ppm}
        return {"log": log_to_json(log), **answer_cartridge_log(asked)}

    @routes.post("/cartridges", tags=["safety"])
    async def fit_cartridge(form: forms.NewCartridge) -> Json:
        """Begin a new respirator cartridge."""
        return to_json(await station.ventilating.fit_cartridge(form.name, form.type))

    @routes.post("/flags/{flag_id}/acknowledge", tags=["booth"])
    async def acknowledge(flag_id: str, form: forms.Signature) -> Json:
        """Put on record who has read a flag."""
        return to_json(await station.watching.acknowledge(flag_id, form.person))
