"""``sprayout rework``: measured colours worked out again from their counts."""

from __future__ import annotations

import json
import random
from pathlib import Path
from typing import Annotated

import typer

from sprayout.acts.reworking import Rework, calibrations_of, rebuilt, rework, rework_to_json
from sprayout.clock import SystemClock
from sprayout.colour.profile import FORMULA_VERSION
from sprayout.errors import BadInput
from sprayout.journal.reader import Reader
from sprayout.journal.records import Swatch, new_id
from sprayout.journal.store import prepare_store
from sprayout.journal.writer import Writer


def register(app: typer.Typer) -> None:
    """Add ``rework`` to the command line."""

    @app.command("rework")
    def rework_command(
        store: Annotated[Path, typer.Option(help="The store; no bench may be running on it.")],
        swatch: Annotated[
            list[str] | None, typer.Option(help="Only this swatch, by id; may be repeated.")
        ] = None,
        as_json: Annotated[bool, typer.Option("--json", help="One JSON document.")] = False,
    ) -> None:
        """Work out measured colours again by the formula of today; the old ones are kept."""
        found = _reworked(store, swatch or [])
        typer.echo(json.dumps(rework_to_json(found)) if as_json else _in_words(found))


def _reworked(store: Path, wanted: list[str]) -> Rework:
    prepare_store(store, create=False)
    source = random.SystemRandom()
    with Reader(store) as reader:
        swatches = [_swatch(reader, key) for key in wanted] if wanted else reader.all(Swatch)
        profiles = {c.id: rebuilt(c) for c in calibrations_of(reader, swatches)}
        found = rework(
            reader, swatches, profiles, SystemClock().now_ms(), lambda kind: new_id(kind, source)
        )
    if found.done:
        with Writer(store) as writer:
            writer.submit(found.records()).result()
    return found


def _swatch(reader: Reader, key: str) -> Swatch:
    found = reader.get(Swatch, key)
    if found is None:
        raise BadInput(f"swatch: got {key!r}, wanted one on record; see `sprayout export`")
    return found


def _in_words(found: Rework) -> str:
    lines = [f"swatch {key}: left as it is: {reason}" for key, reason in found.left]
    moved = [one.moved_de00 for one in found.done if one.moved_de00 is not None]
    most = f", moved by {max(moved):.2f} CIEDE2000 at most" if moved else ""
    lines.append(
        f"{len(found.done)} swatches worked out by formula {FORMULA_VERSION}{most}; "
        "what they were said to be is kept"
    )
    return "\n".join(lines)
