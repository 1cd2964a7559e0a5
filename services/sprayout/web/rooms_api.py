"""The rooms' own questions over HTTP: the same JSON as their commands take and give.

Nothing here touches the bench or its record.  The work is arithmetic of some milliseconds to a
few seconds; plain functions run in the server's threads and hold no reading up.
"""

from typing import Annotated, Any

from fastapi import APIRouter, Body

from sprayout.climate.blush_json import answer_blush, blush_to_json, parse_blush
from sprayout.colour.profile import build_profile
from sprayout.colour.samples import convert, parse_samples
from sprayout.colour.unit_json import parse_unit
from sprayout.errors import BadInput
from sprayout.mixing.families import advise_in_family, recipes_in_family
from sprayout.mixing.steer import start
from sprayout.mixing.steer_json import advice_to_json, parse_reading, parse_task, recipe_to_json
from sprayout.safety.air_request import answer_air
from sprayout.safety.assess_json import answer_assess
from sprayout.safety.cartridge_json import answer_cartridge_log
from sprayout.safety.cautions import for_spraying

Json = dict[str, Any]
Document = Annotated[Json, Body()]


def router() -> APIRouter:
    """Return the routes."""
    routes = APIRouter(prefix="/api", tags=["rooms"])
    _colour(routes)
    _mixing(routes)
    _air(routes)
    return routes


def _colour(routes: APIRouter) -> None:
    @routes.post("/convert")
    def convert_samples(document: Document) -> Json:
        """Turn raw counts into Lab: `{"unit": UNIT.json, "header": […], "rows": [[…]…]}`."""
        unit = parse_unit(document.get("unit"))
        header, rows = document.get("header"), document.get("rows")
        if not isinstance(header, list) or not isinstance(rows, list):
            raise BadInput("convert: wanted header and rows, as in the samples' CSV")
        cells = [[str(cell) for cell in row] for row in (header, *rows) if isinstance(row, list)]
        white = str(document.get("white", "d65-10"))
        found = convert(build_profile(unit), parse_samples(cells, unit), white)
        samples = [
            {
                "name": name,
                "L": float(found.colours.lab[i, 0]),
                "a": float(found.colours.lab[i, 1]),
                "b": float(found.colours.lab[i, 2]),
                "u95": float(found.colours.u95_de00[i]),
                "clipped": bool(found.colours.clipped[i]),
            }
            for i, name in enumerate(found.names)
        ]
        return {"white": white, "samples": samples}


def _mixing(routes: APIRouter) -> None:
    @routes.post("/recipe")
    def recipe(task: Document) -> Json:
        """Answer the whole recipe for a task, as `sprayout recipe`."""
        parsed = parse_task(task)
        return recipe_to_json(recipes_in_family(start(parsed.shelf, parsed.target, parsed.limits)))

    @routes.post("/steer")
    def steer(document: Document) -> list[Json]:
        """Answer a task and its readings so far: `{"task": …, "readings": [{"reading": …}…]}`."""
        task = parse_task(document.get("task"))
        readings = document.get("readings", [])
        if not isinstance(readings, list):
            raise BadInput("steer: readings must be a list, one object a reading")
        state = start(task.shelf, task.target, task.limits)
        answers: list[Json] = []
        for reading in (None, *readings):
            if reading is not None:
                state = state.read(parse_reading(reading))
            advice = advise_in_family(state)
            if advice.add:
                state = state.add(dict(advice.add))
            answers.append(advice_to_json(advice))
        return answers


def _air(routes: APIRouter) -> None:
    @routes.post("/blush")
    def blush(fields: Document) -> Json:
        """Say how cold a wet film gets and whether it will blush, as `sprayout blush`."""
        request = parse_blush(fields)
        found, advice = answer_blush(request)
        cautions = [caution.words for caution in for_spraying()]
        return {**blush_to_json(request, found, advice), "cautions": cautions}

    @routes.post("/air/{kind}", tags=["safety"])
    def air(kind: str, fields: Document) -> Json:
        """Answer one question on ventilation, vapour or respirators, as `sprayout air KIND`."""
        return dict(answer_air(kind, fields))

    @routes.post("/assess", tags=["safety"])
    def assess(document: Document) -> Json:
        """Assess a coat as a whole; what is left out cannot be assessed."""
        return dict(answer_assess(document))

    @routes.post("/cartridge", tags=["safety"])
    def cartridge(document: Document) -> Json:
        """Judge a cartridge's log."""
        return dict(answer_cartridge_log(document))
