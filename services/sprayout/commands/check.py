"""``sprayout check``: is the store whole and plausible?"""

from __future__ import annotations

import json
import sqlite3
from contextlib import closing
from dataclasses import asdict
from pathlib import Path
from typing import Annotated

import typer

from sprayout.clock import SystemClock
from sprayout.journal.check import check
from sprayout.journal.store import connect_reading, look_at_store, translated


def register(app: typer.Typer) -> None:
    """Add ``check`` to the command line."""

    @app.command("check")
    def check_command(
        store: Annotated[Path, typer.Option(help="The store to look at; it may be in use.")],
        as_json: Annotated[bool, typer.Option("--json", help="One JSON document.")] = False,
    ) -> None:
        """Check file, references, rollups, gaps and clock; exit 1 when something is at fault."""
        state = look_at_store(store)
        try:
            with closing(connect_reading(store)) as connection:
                found = check(connection, SystemClock().now_ms())
        except sqlite3.Error as error:
            raise translated(error, store) from error
        sound = not any(n.level == "fault" for n in found)
        if as_json:
            document = {"sound": sound, "version": state.version, "warnings": list(state.warnings)}
            typer.echo(json.dumps(document | {"found": [asdict(n) for n in found]}))
        else:
            for line in (*state.warnings, *(f"{n.level}, {n.subject}: {n.words}" for n in found)):
                typer.echo(line)
            typer.echo(f"{store}: {'sound' if sound else 'at fault, see above'}")
        if not sound:
            raise typer.Exit(1)
