"""``sprayout steer``: a cup mixed to its target, JSON lines in, JSON lines out."""

from __future__ import annotations

import json
import os
import sys
from collections.abc import Iterable, Iterator
from typing import Annotated, TextIO

import typer

from sprayout.errors import BadInput


def answers(lines: Iterable[str]) -> Iterator[str]:
    """One answer for the task and one for each reading; ends with the answer that says done.

    Raises BadInput naming the line that is wrong; what was answered before stands.
    """
    from sprayout.mixing.families import advise_in_family
    from sprayout.mixing.steer import start
    from sprayout.mixing.steer_json import advice_to_json, parse_reading, parse_task

    state = None
    for number, line in enumerate(lines, start=1):
        if not line.strip():
            continue
        document = _parsed(line, number)
        if state is None:
            task = parse_task(document)
            state = start(task.shelf, task.target, task.limits)
        else:
            state = state.read(parse_reading(document))
        advice = advise_in_family(state)
        if advice.add:
            state = state.add(dict(advice.add))
        yield json.dumps(advice_to_json(advice), ensure_ascii=False)
    if state is None:
        raise BadInput("steer: got no line; give the paints and the target as one JSON line")


def _parsed(line: str, number: int) -> object:
    try:
        return json.loads(line)
    except json.JSONDecodeError as error:
        raise BadInput(
            f"line {number}: not JSON ({error.msg}); give one JSON object a line"
        ) from error


def run(source: TextIO, sink: TextIO) -> None:
    """Answer line by line, each flushed at once."""
    for answer in answers(source):
        sink.write(answer + "\n")
        sink.flush()


def register(app: typer.Typer) -> None:
    """Add the command to the command line."""
    # Our matrices are small: threads of the linear algebra would only wait for each other.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

    @app.command("steer")
    def steer(
        as_json: Annotated[
            bool, typer.Option("--json", help="Accepted for likeness; the answers are JSON anyway.")
        ] = False,
    ) -> None:
        """Mix to a target: reads one JSON line per reading, answers one JSON line each.

        First line: paints with their swatches, target, limits.  Later lines: readings.
        """
        del as_json
        run(sys.stdin, sys.stdout)
