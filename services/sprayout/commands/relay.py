"""``sprayout relay``: forward a bench's board to a club's broker."""

import json
from dataclasses import asdict
from pathlib import Path
from typing import Annotated

import typer


def register(app: typer.Typer) -> None:
    """Add the command."""

    @app.command()
    def relay(
        mqtt: Annotated[str, typer.Option(help="the broker: mqtt://host:1883 or mqtts://host")],
        serial: Annotated[
            str, typer.Option(help="the board's serial port, or auto to look for one")
        ] = "auto",
        bench: Annotated[str | None, typer.Option(help="name of this bench in the topics")] = None,
        settings: Annotated[
            Path | None, typer.Option(help="settings file (TOML); see `sprayout settings`")
        ] = None,
        for_s: Annotated[
            float | None, typer.Option("--for", min=0, help="end by itself after so many seconds")
        ] = None,
        as_json: Annotated[
            bool, typer.Option("--json", help="one JSON document at the end, nothing else")
        ] = False,
    ) -> None:
        """Send what this bench's board measures to a broker that another bench reads.

        Readings wait in memory while the broker is away. Ctrl-C ends it. The bench that reads
        the broker keeps the record and shows the cautions.
        """
        from sprayout.commands.broker_options import broker_of
        from sprayout.commands.until import stop_signals
        from sprayout.intake.relay import Relay
        from sprayout.settings import override, read_settings

        in_force = override(read_settings(settings), bench=bench)
        running = Relay(
            in_force.text("bench"),
            serial,
            broker_of(mqtt, in_force),
            (lambda words: None) if as_json else typer.echo,
            colour_ms=round(in_force.number("colour_interval_s") * 1000),
            climate_ms=round(in_force.number("climate_interval_s") * 1000),
        )
        with stop_signals() as stopped:
            running.start()
            stopped.wait(for_s)
        count = running.stop()
        if as_json:
            typer.echo(json.dumps(asdict(count)))
        else:
            typer.echo(
                f"{count.relayed} packs relayed, {count.not_delivered} not delivered, "
                f"{count.dropped} given up because the broker was away too long"
            )
