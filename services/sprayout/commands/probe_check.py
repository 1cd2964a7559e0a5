"""``sprayout probe-check``: a humidity probe over one or two saturated salts."""

import json
import time
from typing import Annotated

import typer

from sprayout.climate.probe_json import correction_to_json, parse_salt_point, point_words
from sprayout.climate.salts import correction


def register(app: typer.Typer) -> None:
    """Add the command to the application."""
    app.command("probe-check")(probe_check)


def probe_check(
    point: Annotated[
        list[str],
        typer.Option(
            metavar="SALT=READ@T/MINUTES",
            help="Probe over a saturated salt, as NaCl=77.1@21.5/240; once or twice.",
        ),
    ],
    probe: Annotated[str, typer.Option(metavar="NAME", help="Which probe.")] = "probe",
    as_json: Annotated[bool, typer.Option("--json", help="One JSON document.")] = False,
) -> None:
    """The correction of a humidity probe from what it reads over saturated salts."""
    points = [parse_salt_point(text) for text in point]
    found = correction(probe, points, time.time_ns() // 1_000_000)
    if as_json:
        typer.echo(json.dumps(correction_to_json(found), ensure_ascii=False))
        return
    for one in points:
        typer.echo(point_words(one))
    typer.echo(f"true %RH = {found.offset_pct:+.2f} + {found.gain:.4f} × reading")
    typer.echo(found.words())
