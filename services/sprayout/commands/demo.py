"""``sprayout demo``: an evening in the harbour museum's workshop on the virtual bench.

Board program on simulated chips behind a real serial port (a pty), a foreign probe at a real MQTT
broker, the services and the page: nothing stands in for the real input paths.
"""

import asyncio
import json
import random
import tempfile
import threading
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Annotated

import typer

from sprayout.errors import BadInput
from sprayout.settings import ForeignProbe, Settings, override, read_settings

DEFAULT_SPEED = 60.0
#: Faster, and the settings' longest intervals between readings are too short for the cable.
SPEED_MAX = 600.0
#: After the target, before the cup: swatches of the paints that may be mixed.
GET_TO_KNOW_AT_S = 210.0
#: Seconds a headless run keeps for starting and ending when it must end by itself.
START_AND_END_S = 6.0
EVENING_STARTS = datetime(2026, 9, 4, 17, 10, tzinfo=UTC)  # 19:10 in the harbour museum
DOOR_PROBE = (
    {"pointer": "/temperature", "channel": "air_temperature", "unit": "Cel"},
    {"pointer": "/hum", "channel": "relative_humidity", "unit": "%RH"},
)


@dataclass(frozen=True, slots=True)
class Evening:
    """What the demo was asked for."""

    port: int
    store: Path
    speed: float
    seed: int
    for_s: float | None
    headless: bool


def register(app: typer.Typer) -> None:
    """Add the command."""

    @app.command()
    def demo(
        headless: Annotated[
            bool, typer.Option("--headless", help="end by itself; print what was recorded as JSON")
        ] = False,
        port: Annotated[int, typer.Option(help="port of the page; 0: a free one")] = 0,
        store: Annotated[
            Path | None, typer.Option(help="keep the record in this file (default: thrown away)")
        ] = None,
        speed: Annotated[
            float | None, typer.Option(help="simulated seconds per second (default 60)")
        ] = None,
        seed: Annotated[int, typer.Option(help="another seed, another evening")] = 1,
        for_: Annotated[
            float | None, typer.Option("--for", help="end after so many seconds", metavar="SECONDS")
        ] = None,
        as_json: Annotated[bool, typer.Option("--json", help="the same as --headless")] = False,
    ) -> None:
        """Watch a virtual bench do the whole job: calibrate, mix, spray, record."""
        from sprayout.commands.running import end_in_order

        end_in_order()
        quiet = headless or as_json
        with _store_path(store) as path:
            evening = Evening(port, path, _speed(speed, for_, quiet), seed, for_, quiet)
            report = asyncio.run(_play(evening))
        if quiet:
            typer.echo(json.dumps(report))


def _speed(asked: float | None, for_s: float | None, headless: bool) -> float:
    """A headless run of so many seconds plays the whole evening in them."""
    from sprayout.sim.evening import DURATION_S

    if for_s is not None and not 1 <= for_s <= 86_400:
        raise BadInput(f"--for: got {for_s:g} s, wanted 1 to 86400; 20 plays the whole evening")
    if asked is None and headless and for_s is not None:
        # A shorter run than a few seconds plays as much of the evening as the bench can follow.
        return min(DURATION_S / max(for_s - START_AND_END_S, for_s / 2), SPEED_MAX)
    speed = DEFAULT_SPEED if asked is None else asked
    if not 0.1 <= speed <= SPEED_MAX:
        raise BadInput(f"--speed: got {speed:g}, wanted 0.1 to {SPEED_MAX:g}; 60 is usual")
    return speed


@contextmanager
def _store_path(store: Path | None) -> Iterator[Path]:
    if store is not None:
        yield store
        return
    with tempfile.TemporaryDirectory(prefix="sprayout-demo-") as folder:
        yield Path(folder) / "demo.sqlite"


async def _play(evening: Evening) -> dict[str, object]:
    from sprayout.clock import ScaledClock
    from sprayout.commands.embedded_broker import embedded_broker
    from sprayout.commands.operator import Operator
    from sprayout.commands.recorded import recorded
    from sprayout.commands.running import Plan, running_bench
    from sprayout.intake.broker import Broker
    from sprayout.sim.evening import DOOR_PROBE_FAULTS, DURATION_S, Act
    from sprayout.sim.evening import evening as acts_of
    from sprayout.sim.foreign_probe import ForeignProbe, ProbeSettings
    from sprayout.sim.pty_cable import serve_on_pty
    from sprayout.sim.virtual_board import VirtualBoard
    from sprayout.sim.world import World

    acts = sorted(
        (*acts_of(evening.seed), Act(GET_TO_KNOW_AT_S, "bench", "get_to_know_the_paints")),
        key=lambda act: act.t_s,
    )
    with ExitStack() as stack:
        broker_port = stack.enter_context(embedded_broker())
        clock = ScaledClock(int(EVENING_STARTS.timestamp() * 1000), evening.speed)
        world = World(evening.seed, clock.seconds)
        board = VirtualBoard(world, clock=clock.seconds, speed=evening.speed, seed=evening.seed)
        cable = stack.enter_context(serve_on_pty(board))
        probe = ForeignProbe(
            world.door_probe,
            clock.seconds,
            ProbeSettings(port=broker_port, speed=evening.speed),
            DOOR_PROBE_FAULTS,
        )
        stack.callback(probe.stop)
        plan = Plan(
            _settings(evening),
            evening.store,
            clock,
            random.Random(evening.seed),
            serial=cable.path,
            broker=Broker("127.0.0.1", broker_port),
        )
        async with running_bench(plan) as running:
            probe.start()
            operator = Operator(world, clock, running.address, acts)
            ended = running.stop if evening.headless else _nothing
            loop = asyncio.get_running_loop()
            player = threading.Thread(
                target=operator.play,
                args=(lambda: loop.call_soon_threadsafe(ended),),
                name="operator",
                daemon=True,
            )
            player.start()
            if not evening.headless:
                _greet(running.address, evening.speed, DURATION_S)
            if evening.for_s is not None:
                loop.call_later(evening.for_s, running.stop)
            await running.ended
            operator.stop()
            await asyncio.to_thread(player.join)
        return recorded(evening.store, operator, running.address)


def _nothing() -> None:
    """The evening is over; the page stays up to be looked at."""


def _settings(evening: Evening) -> Settings:
    from sprayout.sim.foreign_probe import ProbeSettings

    usual = override(
        read_settings(environment={}),
        port=evening.port,
        bench="harbour-museum",
        # However fast the evening runs, the cable carries some ten colours and twenty climates
        # a second; the patience with a silent probe grows with the step.
        colour_interval_s=min(max(0.5, 0.1 * evening.speed), 60.0),
        climate_interval_s=max(1.0, 0.05 * evening.speed),
        probe_silent_s=max(15.0, 0.5 * evening.speed),
    )
    foreign = tuple(ForeignProbe({"topic": ProbeSettings().topic, **entry}) for entry in DOOR_PROBE)
    return Settings(usual.values, foreign)


def _greet(address: str, speed: float, duration_s: float) -> None:
    from sprayout.safety import cautions

    typer.echo(f"The bench's page: {address}")
    typer.echo(
        f"An evening of {duration_s / 60:.0f} minutes runs at {speed:g} times its speed on a "
        "virtual bench; end it with Ctrl-C."
    )
    typer.echo(cautions.one_line())
