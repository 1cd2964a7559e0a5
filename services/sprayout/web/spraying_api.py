"""Cautions, pieces, coats, flags and what is breathed, over HTTP."""

from dataclasses import asdict
from typing import Annotated, Any

from fastapi import APIRouter, Query

from sprayout.errors import BadInput
from sprayout.journal.records import Booth
from sprayout.journal.records_json import to_json
from sprayout.safety import cautions
from sprayout.safety.cartridge_json import answer_cartridge_log, log_to_json
from sprayout.station import Station
from sprayout.web import forms
from sprayout.web.booth_set_up import booth_json
from sprayout.web.snapshot import coat_json

Json = dict[str, Any]


def router(station: Station) -> APIRouter:
    """Return the routes."""
    routes = APIRouter(prefix="/api")
    _coats(routes, station)
    _air(routes, station)
    return routes


def _coats(routes: APIRouter, station: Station) -> None:
    spraying = station.spraying

    @routes.post("/cautions/read", tags=["safety"])
    async def read_cautions(form: forms.Signature) -> Json:
        """Put on record who has read the cautions this evening."""
        return to_json(await spraying.acknowledge_cautions(form.person))

    @routes.post("/pieces", tags=["coats"])
    async def choose_piece(form: forms.PieceInHand) -> Json:
        """Take a piece in hand; its metal and thickness count for the film."""
        return to_json(
            await spraying.choose_piece(form.piece, form.metal, form.metal_mm, form.surface)
        )

    @routes.post("/part-temperature", tags=["booth"])
    async def enter_part(form: forms.PartByContact) -> Json:
        """Enter the part's temperature as measured by contact; it counts for half an hour."""
        return to_json(await station.watching.enter_part(form.part_c))

    @routes.post("/coats", tags=["coats"])
    async def start_coat(form: forms.NewCoat) -> Json:
        """Begin a coat."""
        coat = await spraying.start(
            form.piece,
            form.kind,
            dict(form.settings),
            part=form.part,
            airbrush=form.airbrush,
        )
        return to_json(coat)

    @routes.post("/coats/{coat_id}/end", tags=["coats"])
    async def end_coat(coat_id: str) -> Json:
        """End the running coat and answer the conditions it was sprayed in."""
        return coat_json(await spraying.end(coat_id))

    @routes.post("/coats/{coat_id}/sprayed", tags=["coats"])
    async def sprayed(coat_id: str, form: forms.SprayedVolume) -> Json:
        """Put on record what a coat took out of the cup; the film's thickness rests on it."""
        check = station.ledger.check_sprayed
        return to_json(await spraying.sprayed(coat_id, form.ml, form.area_cm2, check))

    @routes.post("/flags/{flag_id}/acknowledge", tags=["booth"])
    async def acknowledge(flag_id: str, form: forms.Signature) -> Json:
        """Put on record who has read a flag."""
        return to_json(await station.watching.acknowledge(flag_id, form.person))


def _air(routes: APIRouter, station: Station) -> None:
    @routes.get("/assessment", tags=["safety"])
    async def assessment(
        sprayed_ml: Annotated[float | None, Query(gt=0, le=2000)] = None,
        minutes: Annotated[float | None, Query(gt=0, le=600)] = None,
        coats: Annotated[int, Query(ge=1, le=20)] = 1,
        sanding: bool = False,
        painted_year: Annotated[int | None, Query(ge=1500, le=2200)] = None,
        laboratory_found: bool | None = None,
    ) -> Json:
        """Assess spraying so much of the cup in hand; what is not on record cannot be assessed.

        With `sanding`, the old coat below is judged too: its year, and whether a laboratory found
        lead, chromate or cadmium in it.
        """
        fan, rh_pct = station.watching.fan(), station.watching.rh_pct()
        old: Json = {"painted_year": painted_year, "laboratory_found": laboratory_found}
        below = old if sanding else None
        return dict(station.exposing.assess(sprayed_ml, minutes, coats, fan, rh_pct, below))

    @routes.get("/booth", tags=["safety"])
    async def booth_on_record() -> Json:
        """Return the booth on record with the flow that its figures come to."""
        shown = cautions.for_spraying(station.settings.text("region"))
        return {**booth_json(station.ventilating.booth), "cautions": [asdict(c) for c in shown]}

    @routes.post("/booth", tags=["safety"])
    async def set_booth(form: forms.BoothSetUp) -> Json:
        """Put a booth's set-up on record; what is left out is not known."""
        given = form.model_dump(exclude={"filter_changed", "fan", "confirmed"})
        changed = form.filter_changed
        booth = Booth(
            id=station.new_id("booth"),
            bench=station.bench,
            made_ms=station.now_ms(),
            filter_changed_ms=None if changed is None else forms.time_of("filter_changed", changed),
            fan={} if form.fan is None else form.fan.model_dump(mode="json"),
            confirmed=tuple(form.confirmed),
            **given,
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
        region = station.settings.text("region")
        if substance is None:
            shown = cautions.for_spraying(region)
            return {"log": log_to_json(log), "cautions": [asdict(c) for c in shown]}
        asked = {"log": log_to_json(log), "substance": substance, "ppm": ppm, "region": region}
        return {"log": log_to_json(log), **answer_cartridge_log(asked)}

    @routes.post("/cartridges", tags=["safety"])
    async def fit_cartridge(form: forms.NewCartridge) -> Json:
        """Begin a new respirator cartridge."""
        return to_json(await station.ventilating.fit_cartridge(form.name, form.type))
