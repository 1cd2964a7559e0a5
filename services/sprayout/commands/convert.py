"""``sprayout convert``: raw counts of one calibrated unit in, Lab with its uncertainty out."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path
from typing import Annotated, Any

import typer

from sprayout.colour.profile import build_profile
from sprayout.colour.samples import Converted, convert, parse_samples
from sprayout.colour.tristimulus import white_of
from sprayout.colour.unit_json import parse_unit
from sprayout.errors import BadInput

HEADER = ("name", "L", "a", "b", "u95", "clipped")


def read_text(path: Path, what: str) -> str:
    """The text of a file; ``BadInput`` where it cannot be read."""
    try:
        return path.read_text(encoding="utf-8-sig")
    except OSError as error:
        raise BadInput(f"{what}: cannot read {path} ({error.strerror}); check the path") from error
    except UnicodeDecodeError as error:
        raise BadInput(f"{what}: {path} is not UTF-8 text; save it as UTF-8") from error


def read_json(path: Path, what: str) -> object:
    """The JSON document of a file; ``BadInput`` where it is none."""
    try:
        document: object = json.loads(read_text(path, what))
    except json.JSONDecodeError as error:
        raise BadInput(
            f"{what}: {path} is not JSON (line {error.lineno}: {error.msg}); correct the file"
        ) from error
    return document


def convert_files(unit_path: Path, samples_path: Path, white: str) -> Converted:
    """Read both files and work out the colours."""
    white_of(white)
    unit = parse_unit(read_json(unit_path, "unit"))
    cells = csv.reader(io.StringIO(read_text(samples_path, "samples")))
    table = parse_samples(cells, unit)
    return convert(build_profile(unit), table, white)


def to_csv(found: Converted) -> str:
    """Contract 3: one line a sample, ``name,L,a,b,u95,clipped``."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(HEADER)
    lab, colours = found.colours.lab, found.colours
    for i, name in enumerate(found.names):
        numbers = [f"{value:.4f}" for value in lab[i]]
        clipped = "true" if colours.clipped[i] else "false"
        writer.writerow([name, *numbers, f"{colours.u95_de00[i]:.3f}", clipped])
    return out.getvalue()


def to_json(found: Converted, white: str) -> dict[str, Any]:
    """The same as one JSON document."""
    colours = found.colours
    rows = [
        {
            "name": name,
            "L": float(colours.lab[i, 0]),
            "a": float(colours.lab[i, 1]),
            "b": float(colours.lab[i, 2]),
            "u95": float(colours.u95_de00[i]),
            "clipped": bool(colours.clipped[i]),
            "repeats": int(found.repeats[i]),
        }
        for i, name in enumerate(found.names)
    ]
    return {"white": white, "samples": rows}


def register(app: typer.Typer) -> None:
    """Add ``convert`` to the command line."""

    @app.command("convert")
    def convert_command(
        samples: Annotated[Path, typer.Argument(help="CSV: name and one column a channel.")],
        unit: Annotated[Path, typer.Option(help="UNIT.json: the unit's calibration.")],
        white: Annotated[str, typer.Option(help="d65-10 or d50-2.")] = "d65-10",
        as_json: Annotated[bool, typer.Option("--json", help="One JSON document.")] = False,
    ) -> None:
        """Raw counts of one calibrated unit to Lab; u95 holds the true colour 95 times in 100."""
        found = convert_files(unit, samples, white)
        typer.echo(json.dumps(to_json(found, white)) if as_json else to_csv(found), nl=as_json)
