"""``sprayout air KIND``: ventilation, explosive limits, exposure, cartridges and respirators.

The options come from the table of kinds in :mod:`sprayout.safety.air_request`, which the web
reads too, so a kind has one set of inputs and one set of words.
"""

import inspect
import json
from collections.abc import Callable

import typer

from sprayout.safety.air_answers import Answer
from sprayout.safety.air_request import KINDS, Field, Kind, answer_air, common_fields
from sprayout.safety.air_words import air_words
from sprayout.safety.cautions import one_line

HELP = f"Estimates about the air of booth and room. {one_line()}"


def register(app: typer.Typer) -> None:
    """Add the command and its kinds to the application."""
    air = typer.Typer(help=HELP, no_args_is_help=True, add_completion=False, epilog=one_line())
    for kind in KINDS.values():
        air.command(kind.name, help=kind.help, epilog=one_line())(_command(kind))
    app.add_typer(air, name="air")


def _command(kind: Kind) -> Callable[..., None]:
    """A function whose signature shows typer the kind's options; all arrive as text."""

    def run(**given: object) -> None:
        as_json = bool(given.pop("as_json"))
        fields = {name.rstrip("_"): value for name, value in given.items()}
        show(answer_air(kind.name, {n: v for n, v in fields.items() if v != []}), as_json)

    shown = [_parameter(kind, field) for field in (*kind.fields, *common_fields())]
    option = typer.Option(False, "--json", help="One JSON document.")
    shown.append(_named("as_json", bool, option))
    run.__signature__ = inspect.Signature(shown)  # type: ignore[attr-defined]
    run.__annotations__ = {parameter.name: parameter.annotation for parameter in shown}
    return run


def _parameter(kind: Kind, field: Field) -> inspect.Parameter:
    name = f"{field.name}_" if field.name in ("from", "to") else field.name
    if kind.name == "substance" and field.name == "name":
        return _named(name, str, typer.Argument(metavar="NAME", help=field.help))
    if field.what == "list":
        option = typer.Option([], field.option, metavar="PPM/LIMIT", help=field.help)
        return _named(name, list[str], option)
    metavar = "NAME" if field.what == "text" else "NUMBER"
    option = typer.Option(None, field.option, metavar=metavar, help=field.help)
    return _named(name, str | None, option)


def _named(name: str, annotation: object, default: object) -> inspect.Parameter:
    return inspect.Parameter(
        name, inspect.Parameter.KEYWORD_ONLY, default=default, annotation=annotation
    )


def show(found: Answer, as_json: bool) -> None:
    """Print an answer: one JSON document, or text with its cautions."""
    if as_json:
        typer.echo(json.dumps(found, ensure_ascii=False, allow_nan=False))
    else:
        typer.echo(air_words(found))
