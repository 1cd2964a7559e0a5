"""``sprayout serve``: run a bench on real hardware."""

import asyncio
from pathlib import Path
from typing import Annotated

import typer

from sprayout.clock import SystemClock
from sprayout.settings import Settings, override, read_settings


def register(app: typer.Typer) -> None:
    """Add the command."""

    @app.command()
    def serve(
        store: Annotated[Path, typer.Option(help="the bench's store, made where there is none")],
        serial: Annotated[
            str | None, typer.Option(help="the board's serial port, or auto to look for one")
        ] = None,
        mqtt: Annotated[
            str | None, typer.Option(help="the broker: mqtt://host:1883 or mqtts://host:8883")
        ] = None,
        host: Annotated[str | None, typer.Option(help="address the page is served on")] = None,
        port: Annotated[int | None, typer.Option(help="port of the page; 0: a free one")] = None,
        settings: Annotated[
            Path | None, typer.Option(help="settings file (TOML); see `sprayout settings`")
        ] = None,
    ) -> None:
        """Run this bench: read board and probes, keep the record, serve the page."""
        in_force = override(read_settings(settings), host=host, port=port)
        asyncio.run(_serve(in_force, store, serial, mqtt))


async def _serve(settings: Settings, store: Path, serial: str | None, mqtt: str | None) -> None:
    from sprayout.commands.broker_options import broker_of
    from sprayout.commands.running import Plan, running_bench
    from sprayout.safety import cautions

    broker = None if mqtt is None else broker_of(mqtt, settings)
    plan = Plan(settings, store, SystemClock(), serial=serial, broker=broker)
    async with running_bench(plan) as running:
        typer.echo(f"The bench's page: {running.address}")
        typer.echo(cautions.one_line())
        await running.ended
