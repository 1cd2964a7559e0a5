"""``sprayout backup`` and ``sprayout restore``."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Annotated

import typer

from sprayout.journal.backup import back_up, restore
from sprayout.journal.store import look_at_store


def register(app: typer.Typer) -> None:
    """Add ``backup`` and ``restore`` to the command line."""

    @app.command("backup")
    def backup_command(
        file: Annotated[Path, typer.Argument(help="The backup to write.")],
        store: Annotated[Path, typer.Option(help="The store; it may be in use.")],
        as_json: Annotated[bool, typer.Option("--json", help="One JSON document.")] = False,
    ) -> None:
        """Copy the store while the bench runs, and check the copy."""
        look_at_store(store)
        done = back_up(store, file)
        document = {"file": str(done.path), "bytes": done.bytes, "checked": True}
        words = f"{done.path}: {done.bytes:,} bytes, checked"
        typer.echo(json.dumps(document) if as_json else words)

    @app.command("restore")
    def restore_command(
        file: Annotated[Path, typer.Argument(help="A backup.")],
        store: Annotated[Path, typer.Option(help="The store to make; must not be there yet.")],
        as_json: Annotated[bool, typer.Option("--json", help="One JSON document.")] = False,
    ) -> None:
        """Make a store from a backup after checking it; never overwrites."""
        done = restore(file, store)
        document = {"store": str(done.path), "bytes": done.bytes, "checked": True}
        words = f"{done.path}: restored from {file}, checked"
        typer.echo(json.dumps(document) if as_json else words)
