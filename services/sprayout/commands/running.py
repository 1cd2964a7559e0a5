"""Put one bench together and run it: store, station, intakes and web server on one event loop."""

import asyncio
import random
import signal
import socket
import threading
from collections.abc import AsyncIterator, Iterator
from contextlib import ExitStack, asynccontextmanager, contextmanager, suppress
from dataclasses import dataclass, field, replace
from pathlib import Path

import uvicorn

from sprayout.bench.record_clock import RecordClock
from sprayout.clock import Clock
from sprayout.errors import BadInput
from sprayout.intake.broker import Broker
from sprayout.intake.events import Acknowledge, DeviceStatus, Event
from sprayout.intake.foreign import Mapping, parse_mapping
from sprayout.intake.forwarder import Forwarder
from sprayout.intake.mqtt_intake import MqttIntake
from sprayout.intake.serial_intake import SerialIntake
from sprayout.intake.topics import check_level
from sprayout.journal.reader import Reader
from sprayout.journal.store import open_for_writing
from sprayout.journal.writer import Writer
from sprayout.link.port import check_port
from sprayout.settings import Settings
from sprayout.station import Station
from sprayout.web.app import Served, build_web


@dataclass(frozen=True, slots=True)
class Plan:
    """What a bench is run with; `serial` is a port's path or ``auto``."""

    settings: Settings
    store: Path
    clock: Clock
    chance: random.Random = field(default_factory=random.SystemRandom)
    serial: str | None = None
    broker: Broker | None = None


@dataclass(frozen=True, slots=True)
class Running:
    """A bench that runs; `ended` completes when its server has stopped."""

    station: Station
    address: str
    server: uvicorn.Server
    ended: asyncio.Task[None]

    def stop(self) -> None:
        """Ask the server to stop."""
        self.server.should_exit = True


@asynccontextmanager
async def running_bench(plan: Plan) -> AsyncIterator[Running]:
    """Run a bench for as long as the block lasts; what cannot start raises, nothing changed."""
    check_level(plan.settings.text("bench"), "bench")
    mappings = foreign_mappings(plan.settings)
    if plan.serial not in (None, "auto"):
        check_port(str(plan.serial))
    with _listening(plan.settings) as door, _stored(plan) as (writer, reader, warnings):
        clock = RecordClock(plan.clock, newest_on_record(reader, plan.settings.text("bench")))
        plan = replace(plan, clock=clock)
        station = Station(plan.settings, clock, writer, reader, plan.chance)
        await station.open()
        for warning in warnings:
            station.notice("journal", warning)
        served = build_web(station)
        server = _server(served)
        watching = asyncio.create_task(station.run())
        ended = asyncio.create_task(_serve(server, door))
        try:
            await asyncio.sleep(0)  # the server listens to signals before anybody is told of it
            with _intakes(plan, mappings, station):
                host, port = door.getsockname()[:2]
                yield Running(station, f"http://{_shown(host)}:{port}/", server, ended)
        finally:
            served.feed.close()
            server.should_exit = True
            with suppress(asyncio.CancelledError):
                await ended
            watching.cancel()
            station.close()


def end_in_order() -> None:
    """From now on SIGTERM unwinds as Ctrl-C does, so that a folder of ours is cleared away."""
    if threading.current_thread() is threading.main_thread():
        signal.signal(signal.SIGTERM, signal.default_int_handler)


class QuietServer(uvicorn.Server):
    """A server that a signal only asks to stop.

    Left to itself it raises the signal anew when it has stopped, which would end this process
    before the journal's queue is on disk and the demo's folder is cleared away.
    """

    @contextmanager
    def capture_signals(self) -> Iterator[None]:
        if threading.current_thread() is not threading.main_thread():
            yield
            return
        caught = (signal.SIGINT, signal.SIGTERM)
        before = {number: signal.signal(number, self.handle_exit) for number in caught}
        try:
            yield
        finally:
            for number, handler in before.items():
                signal.signal(number, handler)


async def _serve(server: uvicorn.Server, door: socket.socket) -> None:
    await server.serve(sockets=[door])


def _server(served: Served) -> uvicorn.Server:
    config = uvicorn.Config(
        served.app, log_level="warning", access_log=False, timeout_graceful_shutdown=3, ws="none"
    )
    return QuietServer(config)


def _shown(host: str) -> str:
    return f"[{host}]" if ":" in host else host


@contextmanager
def _listening(settings: Settings) -> Iterator[socket.socket]:
    """Open the page's port first: a port in use is found before anything is written."""
    host, port = settings.text("host"), settings.whole("port")
    if not host.strip():
        raise BadInput("page: got no host, wanted an address; 127.0.0.1 is this machine alone")
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    try:
        door = socket.create_server((host, port), family=family)
    except OSError as error:
        if (error.errno or 0) < 0:  # the resolver's own numbers: no such name
            raise BadInput(
                f"page: got host {host!r}, wanted an address of this machine; give --host 127.0.0.1"
            ) from error
        raise BadInput(
            f"page: {host}:{port} cannot be opened ({error.strerror or error}); another bench may "
            "be running there; give --port 0 for a free one"
        ) from error
    with door:
        yield door


@contextmanager
def _stored(plan: Plan) -> Iterator[tuple[Writer, Reader, tuple[str, ...]]]:
    """The store, and what is doubtful about where it lies (a network share, say)."""
    state, lock = open_for_writing(plan.store, "a running bench")
    warnings = state.warnings
    with Writer(plan.store, lock=lock) as writer:
        reader = Reader(plan.store)
        try:
            yield writer, reader, warnings
        finally:
            reader.close()


@contextmanager
def _intakes(plan: Plan, mappings: tuple[Mapping, ...], station: Station) -> Iterator[None]:
    with ExitStack() as stack:
        forwarder = _forwarder(plan, station)
        if forwarder is not None:
            stack.callback(forwarder.stop, flush_s=2.0)
        if plan.broker is not None:
            mqtt = MqttIntake(
                plan.broker,
                station.deliver,
                client_id=f"sprayout-{station.bench}",
                mappings=mappings,
                clock_ms=plan.clock.now_ms,
                is_ours=forwarder.owns if forwarder else lambda bench, device: False,
            )
            mqtt.start()
            stack.callback(mqtt.stop)
        if plan.serial is not None:
            station.board = _board(plan, plan.serial, station, forwarder)
            stack.callback(station.board.stop)
        yield


def _board(plan: Plan, port: str, station: Station, forwarder: Forwarder | None) -> SerialIntake:
    def deliver(event: Event, acknowledge: Acknowledge | None) -> None:
        if forwarder is not None:
            forwarder.take(event)
        station.deliver(event, acknowledge)

    board = SerialIntake(station.bench, port, deliver, clock_ms=plan.clock.now_ms)
    board.start(wait_for_port=True)
    return board


def _forwarder(plan: Plan, station: Station) -> Forwarder | None:
    """A bench that keeps its own record may send its board on to the club's broker as well."""
    if plan.broker is None or not plan.settings.values["mqtt_forward"]:
        return None
    device = f"sending on to {plan.broker}"

    def said(online: bool, words: str) -> None:
        now_ms = plan.clock.now_ms()
        station.deliver(DeviceStatus(station.bench, device, now_ms, online, words), None)

    return Forwarder(plan.broker, station.bench, said)


def newest_on_record(reader: Reader, bench: str) -> int | None:
    """Return the time of the newest reading of this bench; None for an empty record."""
    times = [c.last_ms for c in reader.channels(bench) if c.last_ms is not None]
    return max(times, default=None)


def foreign_mappings(settings: Settings) -> tuple[Mapping, ...]:
    """Return the foreign probes of the settings file; raises SettingsError naming the entry."""
    return tuple(
        parse_mapping(dict(probe.fields), f"foreign[{place}]", settings.text("bench"))
        for place, probe in enumerate(settings.foreign)
    )
