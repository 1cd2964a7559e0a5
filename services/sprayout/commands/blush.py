"""``sprayout blush``: will this film blush on this part in this air, and what would help."""

import json
from typing import Annotated

import typer

from sprayout.climate.advice import Advice
from sprayout.climate.blush import Blush
from sprayout.climate.blush_json import BlushRequest, answer_blush, blush_to_json, parse_blush
from sprayout.climate.wet_film import ACCURACY, LIMITS
from sprayout.safety.cautions import cautions_text, for_spraying

Text = str | None


def register(app: typer.Typer) -> None:
    """Add the command to the application."""
    app.command("blush")(blush)


def blush(
    air_c: Annotated[Text, typer.Option(metavar="C", help="Booth air, °C.")] = None,
    rh_pct: Annotated[Text, typer.Option(metavar="PCT", help="Relative humidity, %.")] = None,
    pressure_pa: Annotated[
        Text, typer.Option(metavar="PA", help="Station pressure, Pa (not reduced to sea level).")
    ] = None,
    air_speed_ms: Annotated[
        Text, typer.Option(metavar="M/S", help="Air speed at the part, m/s.")
    ] = None,
    part_c: Annotated[
        Text, typer.Option(metavar="C", help="Part before the coat, °C; else as the air.")
    ] = None,
    part_infrared_c: Annotated[
        Text, typer.Option(metavar="C", help="Part as an infrared thermometer reads it, °C.")
    ] = None,
    surface: Annotated[
        Text, typer.Option(metavar="NAME", help="What the infrared thermometer looked at.")
    ] = None,
    metal: Annotated[
        Text, typer.Option(metavar="NAME", help="steel, zinc, brass, aluminium or foil.")
    ] = None,
    metal_mm: Annotated[
        Text, typer.Option(metavar="MM", help="Thickness of the metal, mm, or foil.")
    ] = None,
    wet_faces: Annotated[
        Text, typer.Option(metavar="N", help="1, or 2 where both sides of the sheet are wet.")
    ] = None,
    wet_film_um: Annotated[Text, typer.Option(metavar="UM", help="Wet film, µm (30).")] = None,
    beta: Annotated[
        Text,
        typer.Option(metavar="N", help="Other heat to the wet face over its convection (2.1)."),
    ] = None,
    reducer: Annotated[
        Text, typer.Option(metavar="SHARES", help='"name=share,name=share" by volume.')
    ] = None,
    reducer_sheet: Annotated[
        Text, typer.Option(metavar="RANGES", help='"name=low-high,…" % from its data sheet.')
    ] = None,
    by: Annotated[
        Text, typer.Option(metavar="BASIS", help="Ranges by weight (usual) or by volume.")
    ] = None,
    rh_limit_pct: Annotated[
        Text, typer.Option(metavar="PCT", help="The paint's own humidity limit (85).")
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="One JSON document.")] = False,
) -> None:
    """How cold the wet film gets, against the dew point of the booth air."""
    request = parse_blush(
        {
            "air_c": air_c,
            "rh_pct": rh_pct,
            "pressure_pa": pressure_pa,
            "air_speed_ms": air_speed_ms,
            "part_c": part_c,
            "part_infrared_c": part_infrared_c,
            "surface": surface,
            "metal": metal,
            "metal_mm": metal_mm,
            "wet_faces": wet_faces,
            "wet_film_um": wet_film_um,
            "beta": beta,
            "reducer": reducer,
            "reducer_sheet": reducer_sheet,
            "by": by,
            "rh_limit_pct": rh_limit_pct,
        }
    )
    found, advice = answer_blush(request)
    if as_json:
        cautions = {"cautions": [caution.words for caution in for_spraying()]}
        answer = blush_to_json(request, found, advice) | cautions
        typer.echo(json.dumps(answer, ensure_ascii=False))
    else:
        typer.echo(blush_words(request, found, advice))


def blush_words(request: BlushRequest, found: Blush, advice: Advice | None) -> str:
    """The answer for a person, with what it rests on and the cautions of spraying."""
    point = "dew point" if found.point_kind == "dew" else "frost point"
    side = "above" if found.margin_k >= 0.0 else "below"
    lines = [
        f"Blush risk: {str(found.level).upper()}",
        f"  {request.film.blend.words()} on {request.film.part.words()}",
        f"  film comes down to {found.film_low_c:.1f} °C after {found.low_at_s:.0f} s,"
        f" {abs(found.margin_k):.1f} ± {found.plus_minus_k:.1f} K {side} the {point}"
        f" of {found.dew_point_c:.1f} °C",
        f"  nil margin at {found.blush_rh_pct:.0f} %RH, 3 K left at {found.caution_rh_pct:.0f} %RH",
    ]
    if found.film_range_c is not None:
        low, high = found.film_range_c
        lines.append(
            f"  by the ranges of the data sheet the film's low is {low:.1f} to {high:.1f} °C"
        )
    lines += [f"  because: {reason}" for reason in found.reasons]
    lines += [f"  would help: {words}" for words in (advice.words if advice else ())]
    lines += [f"  taken for granted: {words}" for words in request.assumptions]
    lines += [f"  not in the model: {words}" for words in LIMITS]
    lines.append(f"  accuracy: {ACCURACY}")
    return "\n".join([*lines, "", cautions_text()])
