"""Targets over HTTP: typed, in Munsell notation, measured, from photographs; variants."""

import asyncio
import base64
import binascii
from typing import Any

from fastapi import APIRouter

from sprayout.acts.matching import TargetStory
from sprayout.acts.munsell_table import munsell_xyy
from sprayout.acts.photographing import Pick, Picture, target_from_pictures
from sprayout.colour.difference import ciede2000
from sprayout.colour.munsell import munsell_target, parse_munsell
from sprayout.colour.targets import ColourTarget, typed_target
from sprayout.colour.tristimulus import WHITES
from sprayout.errors import BadInput
from sprayout.journal.records import Photo, Swatch, Target, White
from sprayout.station import Station
from sprayout.web import forms
from sprayout.web.snapshot import target_json

Json = dict[str, Any]


def router(station: Station) -> APIRouter:
    """Return the routes."""
    routes = APIRouter(prefix="/api", tags=["colour"])
    matching = station.matching

    @routes.post("/targets")
    async def new_target(form: forms.NewTarget) -> Json:
        """Set the colour to reach, typed in or measured."""
        return target_json(await _set(station, form)) or {}

    @routes.post("/targets/photographs")
    async def photographed(form: forms.PhotographedTarget) -> Json:
        """Set a guide to a colour out of photographs, which are kept on record with it."""
        photos = tuple(_photo(station, picture) for picture in form.pictures)
        colour = await asyncio.to_thread(_from_pictures, form, photos)
        story = TargetStory(variant_of=form.variant_of or "", photos=photos)
        white: White = form.white
        target = await matching.set_colour(colour, white, form.tolerance_de00, story=story)
        return target_json(target) or {}

    @routes.post("/targets/{target_id}/choose")
    async def choose_target(target_id: str) -> Json:
        """Take a target on record in hand."""
        return target_json(await matching.choose_target(target_id)) or {}

    @routes.get("/variants")
    async def variants() -> list[Json]:
        """Return the shades of each model side by side, and how far the last reading is of each.

        `itself`: the target of the model's own name, where there is one that is none of its shades.
        """
        own = {target.name: target for target in station.reader.all(Target, bench=station.bench)}
        last = matching.readings[-1] if matching.readings else None
        return [
            _model(model, own.get(model), shades, last)
            for model, shades in matching.variants().items()
        ]

    return routes


async def _set(station: Station, form: forms.NewTarget) -> Target:
    given = (form.lab is not None) + (form.munsell is not None) + form.measure
    if given != 1:
        raise BadInput("target: wanted lab, munsell or measure; send one of the three")
    if form.lab is None and (form.illuminant or form.observer):
        raise BadInput("target: illuminant and observer belong to a typed lab; leave them out")
    if form.measure and form.u95_de00 is not None:
        raise BadInput("target: u95_de00 of a measured colour is worked out; leave it out")
    matching = station.matching
    story = TargetStory(u95_de00=form.u95_de00, variant_of=form.variant_of or "")
    if form.measure:
        return await _measured(station, form)
    if form.munsell is not None:
        colour = await _of_notation(station, form)
        told = TargetStory("munsell", variant_of=story.variant_of, notes=(form.munsell.strip(),))
        return await matching.set_colour(colour, form.white, form.tolerance_de00, story=told)
    return await _typed(station, form, story)


async def _measured(station: Station, form: forms.NewTarget) -> Target:
    measuring = station.measuring
    async with measuring.surface() as (step, estimate):
        swatch = measuring.record(step, estimate, of_target=True)
        assert swatch.lab is not None
        told = TargetStory(variant_of=form.variant_of or "", notes=swatch.warnings)
        return await station.matching.set_target(
            form.name, swatch.lab, swatch.white, form.tolerance_de00, swatch, story=told
        )


async def _of_notation(station: Station, form: forms.NewTarget) -> ColourTarget:
    notation = parse_munsell(form.munsell or "")
    # In a process of its own: the library that holds the table takes 100 MB.
    xyy = await station.apart(munsell_xyy, notation)
    return munsell_target(form.name, notation, xyy, form.u95_de00 or 0.0)


async def _typed(station: Station, form: forms.NewTarget, story: TargetStory) -> Target:
    matching, white = station.matching, form.white
    assert form.lab is not None
    if (form.illuminant is None) != (form.observer is None):
        raise BadInput("target: wanted illuminant and observer together; look both up beside Lab")
    if form.illuminant is None or form.observer is None:
        return await matching.set_target(
            form.name, form.lab, white, form.tolerance_de00, story=story
        )
    stated: dict[tuple[str, int], White] = {WHITES[w]: w for w in ("d65-10", "d50-2")}
    own = stated.get((form.illuminant, form.observer))
    if own is not None:
        return await matching.set_target(form.name, form.lab, own, form.tolerance_de00, story=story)
    colour = typed_target(form.name, form.lab, form.illuminant, form.observer, form.u95_de00 or 0.0)
    lightness, a, b = form.lab
    said = (
        f"stated as L {lightness:g} a {a:g} b {b:g} for {form.illuminant.upper()}/{form.observer}"
    )
    told = TargetStory(variant_of=story.variant_of, notes=(said,))
    return await matching.set_colour(colour, white, form.tolerance_de00, story=told)


def _photo(station: Station, picture: forms.PickedPicture) -> Photo:
    try:
        data = base64.b64decode(picture.data_base64, validate=True)
    except (binascii.Error, ValueError) as error:
        raise BadInput(
            f"picture {picture.name}: not base64 ({error}); send the picture again"
        ) from error
    return Photo(
        id=station.new_id("photo"),
        bench=station.bench,
        media_type=picture.media_type,
        data=data,
        at_ms=station.now_ms(),
    )


def _from_pictures(form: forms.PhotographedTarget, photos: tuple[Photo, ...]) -> ColourTarget:
    patches, neutrals = [], []
    for sent, photo in zip(form.pictures, photos, strict=True):
        picture = Picture(sent.name, photo.data)
        patches.append(Pick(picture, *sent.patch))
        if sent.neutral is not None:
            neutrals.append(Pick(picture, *sent.neutral))
    return target_from_pictures(form.name, patches, neutrals, form.neutral_l)


def _model(name: str, own: Target | None, shades: tuple[Target, ...], last: Swatch | None) -> Json:
    itself = None if name in {shade.name for shade in shades} else own
    return {
        "name": name,
        "itself": None if itself is None else _beside(itself, last),
        "targets": [_beside(shade, last) for shade in shades],
    }


def _beside(target: Target, last: Swatch | None) -> Json:
    row = target_json(target) or {}
    if last is None or last.lab is None or last.white != target.white:
        return {**row, "de00_last": None}
    return {**row, "de00_last": round(float(ciede2000(target.lab, last.lab)), 2)}
