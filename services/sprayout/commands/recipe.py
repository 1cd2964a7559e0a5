"""``sprayout recipe``: the whole recipe for a target from the paints on the shelf."""

from __future__ import annotations

import json
import os
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from sprayout.errors import BadInput

if TYPE_CHECKING:
    from sprayout.mixing.recipe import Recipe, RecipeBook


def answer(text: str) -> RecipeBook:
    """The recipes for one task given as JSON text."""
    from sprayout.mixing.families import recipes_in_family
    from sprayout.mixing.steer import start
    from sprayout.mixing.steer_json import parse_task

    first = next((line for line in text.splitlines() if line.strip()), "")
    try:
        document: Any = json.loads(text) if text.strip() else None
    except json.JSONDecodeError:
        document = _first_line(first)
    if document is None:
        raise BadInput("recipe: got nothing; give the paints and the target as one JSON line")
    task = parse_task(document)
    return recipes_in_family(start(task.shelf, task.target, task.limits))


def _first_line(line: str) -> Any:
    try:
        return json.loads(line)
    except json.JSONDecodeError as error:
        raise BadInput(
            f"recipe: not JSON ({error.msg} at column {error.colno}); give one JSON object"
        ) from error


def as_text(book: RecipeBook) -> str:
    """The recipes for a person to read."""
    blocks = [_block(book.recipe), *(_block(other) for other in book.alternatives)]
    if book.missing is not None:
        lab = ", ".join(f"{v:.0f}" for v in book.missing.lab_d65_10)
        blocks.append(f"Missing on this shelf: {book.missing.words} (Lab D65/10° {lab}).")
    return "\n\n".join(blocks)


def _block(recipe: Recipe) -> str:
    head = (
        f"{recipe.kind.capitalize()}: {recipe.total_drops} drops, predicted "
        f"{recipe.de00:.2f} CIEDE2000 from the target, within {recipe.u95_de00:.1f} of that "
        "95 times in 100"
    )
    return "\n".join([head, *(f"  {drops:4d}  {paint}" for paint, drops in recipe.drops)])


def register(app: typer.Typer) -> None:
    """Add the command to the command line."""
    # Our matrices are small: threads of the linear algebra would only wait for each other.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

    @app.command("recipe")
    def recipe(
        task: Annotated[
            Path | None, typer.Argument(help="JSON file with paints and target; else stdin.")
        ] = None,
        as_json: Annotated[bool, typer.Option("--json", help="One JSON document.")] = False,
    ) -> None:
        """Find the recipe for a target: fewest paints first, in whole drops."""
        from sprayout.mixing.steer_json import recipe_to_json

        try:
            text = sys.stdin.read() if task is None else task.read_text(encoding="utf-8")
        except OSError as error:
            raise BadInput(f"recipe: cannot read {task} ({error.strerror}); check it") from error
        book = answer(text)
        if as_json or task is None:
            typer.echo(json.dumps(recipe_to_json(book), ensure_ascii=False))
        else:
            typer.echo(as_text(book))
