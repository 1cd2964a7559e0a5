"""``sprayout devices``: which boards are plugged in, and what mappings make of live messages."""

import json
import queue
import threading
import time
from collections.abc import Iterable
from pathlib import Path
from typing import Annotated

import typer

from sprayout.errors import BadInput, LinkError
from sprayout.intake.foreign import Mapping, parse_mapping
from sprayout.intake.trial import Trial, Tried
from sprayout.settings import Settings, override, read_settings

_CONNECTED_S = 10.0
_PAYLOAD_SHOWN = 160


def register(app: typer.Typer) -> None:
    """Add the command."""

    @app.command()
    def devices(
        try_: Annotated[
            bool, typer.Option("--try", help="show what mappings make of live MQTT messages")
        ] = False,
        mqtt: Annotated[
            str | None, typer.Option(help="the broker: mqtt://host:1883 or mqtts://host")
        ] = None,
        topic: Annotated[
            str | None, typer.Option(help="topic filter to try instead of the settings' mappings")
        ] = None,
        channel: Annotated[
            str | None, typer.Option(help="channel to make of it, such as air_temperature")
        ] = None,
        unit: Annotated[
            str | None, typer.Option(help="unit of the value, such as Cel, °F, %RH, hPa")
        ] = None,
        pointer: Annotated[
            str | None, typer.Option(help="where it stands in JSON (RFC 6901): /temperature")
        ] = None,
        scale: Annotated[float, typer.Option(help="the value is multiplied by this")] = 1.0,
        offset: Annotated[float, typer.Option(help="and this is added")] = 0.0,
        settings: Annotated[
            Path | None, typer.Option(help="settings file (TOML) with [[foreign]] mappings")
        ] = None,
        for_s: Annotated[
            float, typer.Option("--for", min=0, help="listen for so many seconds")
        ] = 10.0,
        as_json: Annotated[bool, typer.Option("--json", help="one JSON document")] = False,
    ) -> None:
        """List the serial ports that may be a board, or try mappings on live messages.

        Nothing is recorded. With --topic alone, the numbers that a mapping could point at are
        listed; with --channel and --unit as well, what they would become.
        """
        if not try_:
            _list_ports(as_json)
            return
        if mqtt is None:
            raise BadInput("devices --try: no broker given; add --mqtt mqtt://host:1883")
        in_force = override(read_settings(settings))
        mappings = _mappings(in_force, topic, channel, unit, pointer, scale, offset)
        filters = [topic] if topic else [mapping.topic for mapping in mappings]
        if not filters:
            raise BadInput(
                "devices --try: no mapping in the settings; add [[foreign]] there, or try one "
                "with --topic"
            )
        tried = _listen(mqtt, in_force, filters, mappings, for_s, as_json)
        if as_json:
            typer.echo(json.dumps({"messages": [_as_json(message) for message in tried]}))
        elif not tried:
            typer.echo(
                f"no message on {', '.join(filters)} within {for_s:g} s; check the topic, or "
                "listen longer with --for"
            )


def _list_ports(as_json: bool) -> None:
    from sprayout.link.port import find_boards

    found = find_boards()
    if as_json:
        rows = [{"path": port.path, "by_id": port.by_id, "words": port.words} for port in found]
        typer.echo(json.dumps({"ports": rows}))
        return
    for port in found:
        typer.echo(f"{port.best_path}  {port.words}")
    if not found:
        typer.echo("no USB serial port found; plug the board in")


def _mappings(
    settings: Settings,
    topic: str | None,
    channel: str | None,
    unit: str | None,
    pointer: str | None,
    scale: float,
    offset: float,
) -> tuple[Mapping, ...]:
    bench = settings.text("bench")
    if topic is None:
        return tuple(
            parse_mapping(dict(probe.fields), f"foreign[{place}]", bench)
            for place, probe in enumerate(settings.foreign)
        )
    if channel is None and unit is None:
        return ()
    given = {
        "topic": topic,
        "channel": channel,
        "unit": unit,
        "pointer": pointer,
        "scale": scale,
        "offset": offset,
    }
    said = {name: value for name, value in given.items() if value is not None}
    return (parse_mapping(said, "devices --try", bench),)


def _listen(
    url: str,
    settings: Settings,
    filters: Iterable[str],
    mappings: Iterable[Mapping],
    for_s: float,
    quiet: bool,
) -> list[Tried]:
    from sprayout.commands.broker_options import broker_of
    from sprayout.commands.until import stop_signals

    heard: queue.SimpleQueue[Tried] = queue.SimpleQueue()
    states: queue.SimpleQueue[tuple[bool, str]] = queue.SimpleQueue()
    trial = Trial(
        broker_of(url, settings),
        filters,
        mappings,
        heard.put,
        lambda online, words: states.put((online, words)),
    )
    with stop_signals() as stopped:
        trial.start()
        try:
            _wait_until_connected(states)
            return _collect(heard, stopped, for_s, quiet)
        finally:
            trial.stop()


def _wait_until_connected(states: "queue.SimpleQueue[tuple[bool, str]]") -> None:
    try:
        online, words = states.get(timeout=_CONNECTED_S)
    except queue.Empty:
        raise LinkError("broker: no answer in time; check the address") from None
    if not online:
        raise LinkError(words)


def _collect(
    heard: "queue.SimpleQueue[Tried]", stopped: threading.Event, for_s: float, quiet: bool
) -> list[Tried]:
    tried: list[Tried] = []
    until = time.monotonic() + for_s
    while not stopped.is_set() and (left_s := until - time.monotonic()) > 0:
        try:
            message = heard.get(timeout=min(left_s, 0.2))
        except queue.Empty:
            continue
        tried.append(message)
        if not quiet:
            typer.echo("\n".join(_lines(message)))
    return tried


def _lines(message: Tried) -> list[str]:
    payload = message.payload.replace("\n", " ")
    shown = payload if len(payload) <= _PAYLOAD_SHOWN else payload[:_PAYLOAD_SHOWN] + "…"
    lines = [f"{message.topic}{' (retained)' if message.retained else ''}  {shown}"]
    for arrival in message.parsed.arrivals:
        lines += [
            f"  {reading.channel} {reading.value:g} {reading.unit}  "
            f"(bench {arrival.bench}, device {arrival.device})"
            for reading in arrival.readings
        ]
    lines += [f"  refused: {words}" for words in message.parsed.refusals]
    if len(lines) == 1:
        lines += [f"  {pointer or 'payload'}: {value:g}" for pointer, value in message.numbers]
    return lines if len(lines) > 1 else [*lines, "  no number in it"]


def _as_json(message: Tried) -> dict[str, object]:
    return {
        "topic": message.topic,
        "payload": message.payload,
        "retained": message.retained,
        "readings": [
            {
                "bench": arrival.bench,
                "device": arrival.device,
                "channel": reading.channel,
                "value": reading.value,
                "unit": reading.unit,
            }
            for arrival in message.parsed.arrivals
            for reading in arrival.readings
        ],
        "refused": list(message.parsed.refusals),
        "numbers": [{"pointer": pointer, "value": value} for pointer, value in message.numbers],
    }
