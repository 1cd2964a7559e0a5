"""``sprayout air KIND``: ventilation, explosive limits, exposure, cartridges and respirators.

The options come from the table of kinds in :mod:`sprayout.safety.air_request`, which the web
reads too, so a kind has one set of inputs and one set of words.
"""

import inspect
import json
from collections.abc import Callable, Mapping

import typer

from sprayout.safety.air_answers import Answer
from sprayout.safety.air_request import KINDS, Field, Kind, answer_air, common_fields
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
        say(answer_air(kind.name, {n: v for n, v in fields.items() if v != []}), as_json)

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


_AROUND = {
    "kind", "reason", "level", "words", "asks", "assumptions", "cautions", "sources", "region",
    "order_of_authority", "reminders",
}  # fmt: skip


def say(found: Answer, as_json: bool) -> None:
    """Print an answer: one JSON document, or text with its cautions."""
    if as_json:
        typer.echo(json.dumps(found, ensure_ascii=False, allow_nan=False))
    else:
        typer.echo(air_words(found))


def air_words(found: Answer) -> str:
    """An answer for a person: level, words, figures, what it rests on, sources and cautions."""
    lines = [f"{str(found['level']).upper()}: {found['words']}"]
    lines += [line for name in found if name not in _AROUND for line in _lines(name, found[name])]
    lines += [f"  please check: {words}" for words in _list(found["asks"])]
    lines += [f"  remember: {words}" for words in _list(found.get("reminders"))]
    lines += [f"  taken for granted: {words}" for words in _list(found["assumptions"])]
    lines += [
        f"  source: {entry['title']} ({entry['mark']}) {entry['address']}".rstrip()
        for entry in _list(found["sources"])
    ]
    return "\n".join([*lines, "", *(entry["words"] for entry in _list(found["cautions"]))])


def _lines(name: str, value: object, indent: str = "  ") -> list[str]:
    """One figure a line; lists and objects indented below their name."""
    label = name.replace("_", " ")
    if isinstance(value, Mapping) and "source" not in value:
        inner = [line for key, item in value.items() for line in _lines(key, item, indent + "  ")]
        return [f"{indent}{label}:", *inner]
    if isinstance(value, list) and value and isinstance(value[0], Mapping):
        return [f"{indent}{label}:", *(f"{indent}  - {_short(item)}" for item in value)]
    return [f"{indent}{label}: {_short(value)}"]


def _short(value: object) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if value is None or value == []:
        return "none known"
    if isinstance(value, Mapping):
        return _row(value)
    if isinstance(value, list):
        return ", ".join(map(str, value))
    if isinstance(value, float):
        return f"{value:.4g}" if abs(value) < 1e4 else f"{value:.0f}"
    return str(value)


def _row(item: Mapping[str, object]) -> str:
    """``0.79 kg/L, NIOSH Pocket Guide (read)``, or names and values side by side."""
    if "title" in item:
        return f"{item['title']} ({item['mark']})"
    if "unit" in item:
        return f"{_short(item['value'])} {item['unit']}, {_short(item['source'])}"
    known = ((key, value) for key, value in item.items() if value not in (None, ""))
    return ", ".join(f"{key.replace('_', ' ')} {_short(value)}" for key, value in known)


def _list(value: object) -> list[dict[str, str]]:
    return value if isinstance(value, list) else []
