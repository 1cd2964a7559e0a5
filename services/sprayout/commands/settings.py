"""``sprayout settings``: the table of settings and what is in force."""

import json
from pathlib import Path
from typing import Annotated

import typer

from sprayout.settings import SETTINGS, read_settings

SECRET = frozenset({"mqtt_password"})


def register(app: typer.Typer) -> None:
    """Add the command."""

    @app.command()
    def settings(
        file: Annotated[
            Path | None, typer.Option("--settings", help="settings file (TOML)")
        ] = None,
        as_json: Annotated[bool, typer.Option("--json", help="one JSON document")] = False,
    ) -> None:
        """Show every setting: its value, unit and meaning."""
        in_force = read_settings(file)
        rows = [
            {
                "name": row.name,
                "value": "(set)" if row.name in SECRET and in_force.values[row.name]
                else in_force.values[row.name],
                "default": row.default,
                "unit": row.unit,
                "help": row.help,
            }
            for row in SETTINGS
        ]  # fmt: skip
        if as_json:
            typer.echo(json.dumps(rows))
            return
        for row in rows:
            typer.echo(f"{row['name']} = {row['value']!r} {row['unit']}".rstrip())
            typer.echo(f"    {row['help']} (default {row['default']!r})")
