"""``sprayout recoat``: flash-off, recoat, wrinkle window and pot life of one coat."""

import json
from pathlib import Path
from typing import Annotated, Any

import typer

from sprayout.climate.moist_air import BoothAir
from sprayout.climate.paint_limits import PaintLimits, parse_paint_limits
from sprayout.climate.recoat_json import answer_recoat
from sprayout.errors import BadInput
from sprayout.safety.cautions import cautions_text, for_spraying


def register(app: typer.Typer) -> None:
    """Add the command to the application."""
    app.command("recoat")(recoat)


def recoat(
    limits: Annotated[
        Path, typer.Option(metavar="FILE.json", help="The paint's limits from its data sheet.")
    ],
    minutes: Annotated[float, typer.Option(metavar="MIN", help="Minutes since the coat.")],
    air_c: Annotated[float | None, typer.Option(metavar="C", help="Booth air, °C.")] = None,
    rh_pct: Annotated[float | None, typer.Option(metavar="PCT", help="Humidity, %.")] = None,
    reducer: Annotated[
        str | None, typer.Option(metavar="SHARES", help='"name=share,…" by volume.')
    ] = None,
    air_speed_ms: Annotated[
        float | None, typer.Option(metavar="M/S", help="Air speed at the part, m/s.")
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="One JSON document.")] = False,
) -> None:
    """May this coat be recoated now, and how long is the mixed paint good for."""
    if not 0.0 <= minutes <= 1e6:
        raise BadInput(f"minutes: got {minutes:g}, wanted 0 or more; count from the coat's end")
    if (air_c is None) != (rh_pct is None):
        raise BadInput("booth air: got half of it, wanted --air-c and --rh-pct; give both")
    air = BoothAir(air_c, rh_pct) if air_c is not None and rh_pct is not None else None
    answer = answer_recoat(_read(limits), minutes, air, reducer, air_speed_ms)
    if as_json:
        cautions = [caution.words for caution in for_spraying()]
        typer.echo(json.dumps(answer | {"cautions": cautions}, ensure_ascii=False))
    else:
        typer.echo(_words(answer))


def _read(path: Path) -> PaintLimits:
    try:
        values = json.loads(path.read_text(encoding="utf-8"))
    except OSError as cause:
        raise BadInput(
            f"limits: cannot read {path}: {cause.strerror}; name a file of limits"
        ) from cause
    except ValueError as cause:
        raise BadInput(f"limits: {path} is not JSON: {cause}; correct it") from cause
    if not isinstance(values, dict):
        raise BadInput(f"limits: {path} holds no object, wanted name, dries_by and the times")
    return parse_paint_limits(values)


def _words(answer: dict[str, Any]) -> str:
    lines = [f"Coat: {answer['coat']['words']}", f"Mixed paint: {answer['pot_life']['words']}"]
    pace = answer["pace"]
    if pace is not None:
        lines.append(
            f"Beside the data sheet's air it evaporates {pace['evaporation']:.2f} times and cures"
            f" {pace['cure']:.2f} times as fast"
        )
    lines += [f"{finding['level']}: {finding['words']}" for finding in answer["limits"]]
    return "\n".join([*lines, "", cautions_text()])
