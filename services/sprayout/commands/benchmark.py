"""``sprayout benchmark NAME``: figures beside their goals, measured now on this machine."""

import importlib
import json
from typing import Annotated

import typer

from sprayout.errors import BadInput

NAMES = (
    "live", "board", "cable", "intake", "colour", "mixing", "climate", "journal", "review", "page",
)  # fmt: skip

#: Those whose invented cases may be other ones than those judged.
SEEDED = ("colour", "mixing")


def register(app: typer.Typer) -> None:
    """Add the command."""

    @app.command()
    def benchmark(
        name: Annotated[str, typer.Argument(help=", ".join(NAMES))],
        quick: Annotated[
            bool, typer.Option("--quick", help="fewer rounds, coarser figures")
        ] = False,
        first_seed: Annotated[
            int | None,
            typer.Option(min=0, help="colour and mixing: judge on other seeds, from this one on"),
        ] = None,
        as_json: Annotated[bool, typer.Option("--json", help="one JSON document")] = False,
    ) -> None:
        """Measure one part of sprayout, as ratios to a general-purpose peer where there is one."""
        if name not in NAMES:
            raise BadInput(f"benchmark: got {name!r}, wanted one of {', '.join(NAMES)}")
        if first_seed is not None and name not in SEEDED:
            raise BadInput(f"--first-seed: {name} takes none; give it to {' or '.join(SEEDED)}")
        module = importlib.import_module(f"sprayout.commands.benchmarks.{name}")
        given = {} if first_seed is None else {"first_seed": first_seed}
        report = module.run(quick, **given)
        if as_json:
            typer.echo(json.dumps(report))
        else:
            _print(report)


def _print(report: object, indent: str = "") -> None:
    if isinstance(report, dict) and "figure" in report:
        typer.echo(indent + _figure_line(report))
    elif isinstance(report, dict):
        for key, value in report.items():
            typer.echo(
                f"{indent}{key}:" if isinstance(value, dict | list) else f"{indent}{key}: {value}"
            )
            if isinstance(value, dict | list):
                _print(value, indent + "  ")
    elif isinstance(report, list):
        for entry in report:
            _print(entry, indent)
    else:
        typer.echo(f"{indent}{report}")


def _figure_line(row: dict[str, object]) -> str:
    line = f"{row['figure']}: {row['value']}"
    if row.get("goal") is not None:
        line += f" (goal {row['goal']})"
    if row.get("met") is not None:
        line += ": met" if row["met"] else ": MISSED"
    return line
