"""``sprayout import``: records from a JSON-lines file, all of them or none."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Annotated

import typer

from sprayout.journal.importing import import_file


def register(app: typer.Typer) -> None:
    """Add ``import`` to the command line."""

    @app.command("import")
    def import_command(
        file: Annotated[Path, typer.Argument(help="JSON lines, as `sprayout export` writes them.")],
        store: Annotated[Path, typer.Option(help="The store to add to; made if it is not there.")],
        replace: Annotated[
            bool, typer.Option(help="Let the file's records replace those of the same id.")
        ] = False,
        as_json: Annotated[bool, typer.Option("--json", help="One JSON document.")] = False,
    ) -> None:
        """Take records in; one wrong line and nothing is changed."""
        done = import_file(store, file, replace=replace)
        if as_json:
            document = {"lines": dict(done.lines), "new": done.new, "changed": done.changed}
            typer.echo(json.dumps(document | {"warnings": list(done.warnings)}))
            return
        for warning in done.warnings:
            typer.echo(warning, err=True)
        counts = ", ".join(f"{n} {kind}" for kind, n in done.lines.items()) or "no records"
        typer.echo(f"read {counts}; {done.new} new, {done.changed} changed")
