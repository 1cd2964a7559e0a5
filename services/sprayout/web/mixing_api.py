"""The cup over HTTP: batches, additions, advice, coats ahead, cards."""

from dataclasses import asdict
from typing import Annotated, Any

from fastapi import APIRouter, Query
from fastapi.responses import HTMLResponse

from sprayout.acts.matching import Dose
from sprayout.errors import BadInput
from sprayout.journal.records_json import to_json
from sprayout.mixing.amount import how_much
from sprayout.mixing.card import card_html
from sprayout.mixing.ledger import make_again
from sprayout.station import Station
from sprayout.web import forms
from sprayout.web.mixing_json import advice_json, book_json, choice_json, drops_json, look_json
from sprayout.web.snapshot import rounded, screen_json

Json = dict[str, Any]


def router(station: Station) -> APIRouter:
    """Return the routes."""
    routes = APIRouter(prefix="/api", tags=["mixing"])
    _cup(routes, station)
    _advice(routes, station)
    _recipes(routes, station)
    _ledger(routes, station)
    return routes


def _cup(routes: APIRouter, station: Station) -> None:
    matching = station.matching

    @routes.post("/batches")
    async def new_batch(form: forms.NewBatch) -> Json:
        """Begin a cup."""
        return to_json(await matching.start_batch(form.name, form.drop_ml, form.aim))

    @routes.post("/batches/additions")
    async def new_addition(form: forms.NewAddition) -> Json:
        """Write drops or grams into the ledger of the cup in hand: all of a dose or none of it."""
        one = form.paint is not None
        if form.doses is not None and not (one or form.drops or form.grams):
            doses = [Dose(dose.paint, dose.drops, dose.grams) for dose in form.doses]
            written = await matching.add_all(doses, form.lines)
            return {"additions": [to_json(addition) for addition in written]}
        if form.doses is not None or form.paint is None:
            raise BadInput("addition: wanted paint with drops or grams, or doses; send one of them")
        return to_json(await matching.add(form.paint, form.drops, form.lines, form.grams))

    @routes.post("/batches/aim")
    async def aim(form: forms.Aim) -> Json:
        """Say whether the cup in hand is to match wet or dry."""
        return to_json(await matching.set_aim(form.aim))

    @routes.post("/batches/undo")
    async def undo() -> Json:
        """Take the last line of the ledger back."""
        return to_json(await matching.undo())

    @routes.post("/batches/thinning")
    async def thin(form: forms.Thinning) -> Json:
        """Write a reducer into the ledger of the cup in hand."""
        return to_json(await matching.reduce(form.reducer, form.ml))

    @routes.post("/batches/efflux")
    async def efflux_time(form: forms.EffluxTime) -> Json:
        """Write an efflux time into the ledger; refused outside the cup's range."""
        return asdict(await station.ledger.efflux(form.cup, form.seconds, form.temperature_c))


def _advice(routes: APIRouter, station: Station) -> None:
    measuring = station.measuring

    @routes.get("/mixing/advice")
    async def advice() -> Json:
        """Return the next addition for the cup as it is."""
        await station.advising.refresh()
        return advice_json(station.advising.said, station.shelf)

    @routes.post("/mixing/what-if")
    async def what_if(form: forms.Drops) -> Json:
        """Say what some drops would do; nothing is poured."""
        seen, dry = await station.advising.what_if(form.drops)
        return {
            **look_json(seen),
            "total_drops": seen.total_drops,
            "screen": screen_json(seen.lab, "d65-10"),
            "dry": None if dry is None else look_json(dry),
        }

    @routes.get("/mixing/coats")
    async def coats_ahead() -> Json:
        """Say what coats 1 to 4 will look like over the base that was measured."""
        return asdict(await station.coating.ahead())

    @routes.get("/mixing/dry")
    async def dry_look() -> Json:
        """Say how the cup's last wet reading will look dry, and what that rests on."""
        look = station.coating.dry()
        return {
            "lab_d65_10": rounded(look.lab),
            "de00": None if look.de00 is None else round(look.de00, 2),
            "u95_de00": round(look.u95_de00, 2),
            "words": "; ".join(shift.words() for shift in look.shifts),
            "assumed": any(shift.assumed for shift in look.shifts),
            "screen": screen_json(look.lab, "d65-10"),
        }

    @routes.post("/mixing/amount")
    async def amount(form: forms.HowMuch) -> Json:
        """Say how much to mix, so that one batch does all coats."""
        given = form.model_dump(exclude={"area_cm2", "coats", "wet_um_per_coat"})
        return asdict(how_much(form.area_cm2, form.coats, form.wet_um_per_coat, **given))

    @routes.get("/mixing/lamps")
    async def lamps() -> Json:
        """Say how the match moves from daylight to lamp light."""
        return asdict(measuring.lamps())


def _recipes(routes: APIRouter, station: Station) -> None:
    advising, shelf = station.advising, station.shelf

    @routes.get("/mixing/recipe")
    async def recipe(
        total_g: Annotated[float | None, Query(gt=0, le=1000)] = None,
        scale_step_g: Annotated[float, Query(gt=0, le=1)] = 0.01,
    ) -> Json:
        """Return recipes for the target in hand, from an empty cup, to choose from."""
        book = await advising.recipe()
        mixing, _ = await advising.fitted()
        return book_json(book, shelf, mixing, total_g, scale_step_g)

    @routes.post("/mixing/recipe")
    async def choose_recipe(form: forms.ChosenRecipe) -> Json:
        """Mix the cup in hand by one of the recipes; the advice keeps to its paints."""
        if form.kind is None:
            return {"batch": to_json(await station.matching.forget_recipe()), "choice": None}
        batch, recipe = await advising.choose(form.kind)
        book, (mixing, _) = await advising.recipe(), await advising.fitted()
        choice = choice_json(recipe, book, shelf, mixing)
        return {"batch": to_json(batch), "choice": choice}


def _ledger(routes: APIRouter, station: Station) -> None:
    @routes.post("/batches/{batch_id}/again")
    async def again(batch_id: str, form: forms.Again) -> Json:
        """Say how to make the same colour again at another size, and begin a cup for it."""
        found = make_again(station.ledger.batch(batch_id), form.paint_ml)
        recipe = [drops_json(station.shelf, paint, drops) for paint, drops in found.drops]
        begun = None
        if form.begin is not None:
            begun = to_json(await station.ledger.begin_again(batch_id, form.begin, found))
        return {**asdict(found), "recipe": recipe, "batch": begun}

    @routes.get("/batches")
    async def batches() -> list[Json]:
        """Return the batches on record, newest first."""
        return station.ledger.listed()

    @routes.get("/batches/drift")
    async def batch_drift() -> list[Json]:
        """Return the batches made for the target in hand, each beside the first."""
        return [asdict(point) for point in station.ledger.drift()]

    @routes.get("/batches/{batch_id}/card", response_class=HTMLResponse)
    async def card(batch_id: str) -> HTMLResponse:
        """Return the mixing card, to be printed and kept with the cup."""
        return HTMLResponse(card_page(card_html(station.ledger.batch(batch_id))))


def card_page(body: str) -> str:
    """Return a card as a page of its own."""
    return f'<!doctype html><html lang="en"><meta charset="utf-8"><title>Mixing card</title>{body}'
