"""``sprayout photograph NAME --patch FILE:X,Y,W,H [--neutral FILE:X,Y,W,H]``: a target that is a
guide only, out of one or more pictures."""

from __future__ import annotations

import dataclasses
import json
from pathlib import Path
from typing import Annotated

import typer

from sprayout.acts.photographing import Pick, Picture, target_from_pictures
from sprayout.colour.targets import ColourTarget
from sprayout.errors import BadInput


def parse_pick(text: str) -> Pick:
    """``FILE:X,Y,W,H``."""
    name, _, box = text.rpartition(":")
    cells = box.split(",")
    if not name or len(cells) != 4 or not all(cell.strip().isdigit() for cell in cells):
        raise BadInput(f"patch: got {text!r}, wanted FILE:X,Y,W,H in whole pixels")
    left, top, width, height = (int(cell) for cell in cells)
    path = Path(name)
    return Pick(Picture(path.name, path), left, top, width, height)


def register(app: typer.Typer) -> None:
    """Add ``photograph`` to the command line."""

    @app.command("photograph")
    def photograph_command(
        name: Annotated[str, typer.Argument(help="What the target is called.")],
        patch: Annotated[list[str], typer.Option(help="FILE:X,Y,W,H; give one for each picture.")],
        neutral: Annotated[
            list[str] | None, typer.Option(help="A white or grey in the picture: FILE:X,Y,W,H.")
        ] = None,
        neutral_l: Annotated[
            float | None, typer.Option(help="L of the neutral where known; a white card: about 95.")
        ] = None,
        as_json: Annotated[bool, typer.Option("--json", help="One JSON document.")] = False,
    ) -> None:
        """A guide to a colour that is known only from photographs."""
        target = target_from_pictures(
            name,
            [parse_pick(text) for text in patch],
            [parse_pick(text) for text in neutral or []],
            neutral_l,
        )
        typer.echo(json.dumps(dataclasses.asdict(target)) if as_json else _in_words(target))


def _in_words(target: ColourTarget) -> str:
    lightness, a, b = target.lab_d50_2
    lines = [f"{target.name}: L {lightness:.0f} a {a:.0f} b {b:.0f} (D50/2), within about "
             f"{target.u95_de00:.0f} CIEDE2000"]  # fmt: skip
    return "\n".join([*lines, *target.notes])
