"""A bench for the tests of the acts: a real journal file, a clock set by hand, a virtual board.

No thread but the journal's writer, no cable: the board's own program answers in this process on a
clock of its own, and its answers are read as those of a cable are.
"""

import asyncio
import random
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import Future
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from sprayout.acts.advising import Advising
from sprayout.acts.coating import Coating
from sprayout.acts.dividing import Dividing
from sprayout.acts.drying import Drying
from sprayout.acts.equipping import Equipping
from sprayout.acts.exposing import Exposing
from sprayout.acts.guiding import Guiding
from sprayout.acts.ledger import Ledger
from sprayout.acts.matching import Matching
from sprayout.acts.measuring import Measuring
from sprayout.acts.potting import Potting
from sprayout.acts.probing import Probing
from sprayout.acts.reworking import Reworking
from sprayout.acts.shelf import Shelf
from sprayout.acts.spraying import Spraying
from sprayout.acts.ventilating import Ventilating
from sprayout.acts.watching import Watching
from sprayout.bench.film_watch import part_of
from sprayout.bench.on_record import rows_of
from sprayout.bench.spray_plan import SprayPlan
from sprayout.errors import LinkError, SprayoutError
from sprayout.intake.events import ChannelReading, ReadingsArrived
from sprayout.intake.packs import from_board
from sprayout.journal.reader import Reader
from sprayout.journal.records import Coat, Record, new_id
from sprayout.journal.records_json import parse_time
from sprayout.journal.store import prepare_store
from sprayout.journal.writer import Writer
from sprayout.link import messages, rpc
from sprayout.settings import Settings, override, read_settings
from sprayout.sim.board_talk import BoardTalk
from sprayout.sim.world import World

STARTED_MS = parse_time("2026-09-04T17:20:00Z")
MINUTE_MS = 60_000
HOUR_MS = 60 * MINUTE_MS
UNITS = {"air_temperature": "Cel", "relative_humidity": "%RH", "part_temperature": "Cel",
         "booth_pressure": "Pa", "air_speed": "m/s"}  # fmt: skip


class Clock:
    """A wall clock that a person may set, and one that only goes on."""

    def __init__(self) -> None:
        self.wall_ms, self.monotonic_ms = STARTED_MS, 0

    def pass_ms(self, ms: int) -> None:
        self.wall_ms += ms
        self.monotonic_ms += ms

    def set_by(self, ms: int) -> None:
        """Set the wall clock forward or back; nothing else moves."""
        self.wall_ms += ms


class CabledBoard:
    """The board's own program on simulated chips over a world; ``acts.bench.Board``."""

    def __init__(self, seed: int, clock: Clock) -> None:
        self.world = World(seed, lambda: self.talk.clock.now_s)
        self.talk = BoardTalk(self.world, seed=seed)
        self._clock = clock
        self.plugged_in = True
        hello = self._ask(messages.Hello())
        assert isinstance(hello, messages.HelloAnswer)
        self.hello = hello

    @property
    def board(self) -> messages.HelloAnswer | None:
        return self.hello if self.plugged_in else None

    def _ask(self, request: messages.Request) -> messages.Answer:
        if not self.plugged_in:
            raise LinkError("the board is away; plug it in")
        method = messages.METHODS[type(request)]
        return rpc.parse_answer(request, self.talk.ask(method, rpc.to_json(request)))

    def _future(self, request: messages.Request, read: Callable[[Any], Any]) -> "Future[Any]":
        done: Future[Any] = Future()
        try:
            done.set_result(read(self._ask(request)))
        except SprayoutError as error:
            done.set_exception(error)
        return done

    def measure(self, of: Sequence[str]) -> "Future[ReadingsArrived]":
        def arrived(pack: messages.Pack) -> ReadingsArrived:
            parsed = from_board("bench", self.hello.device, pack, self._clock.wall_ms)
            return parsed.arrivals[0]

        return self._future(messages.Measure(tuple(of)), arrived)

    def configure(
        self,
        gain: Any = None,
        integration_ms: float | None = None,
        led_ma: float | None = None,
    ) -> "Future[messages.ConfigureAnswer]":
        return self._future(messages.Configure(gain, integration_ms, led_ma), lambda a: a)

    def stream(self, colour_ms: int, climate_ms: int) -> "Future[messages.StreamAnswer]":
        return self._future(messages.Stream(colour_ms, climate_ms), lambda a: a)

    def self_test(self) -> "Future[messages.SelfTestAnswer]":
        return self._future(messages.SelfTest(), lambda a: a)


class HandBench:
    """All acts of one bench, put together as the station does; ``acts.bench.Bench``."""

    def __init__(
        self, store: Path, clock: Clock, settings: Settings, cabled: CabledBoard | None = None
    ) -> None:
        prepare_store(store)
        self.store, self.clock, self.settings, self.cabled = store, clock, settings, cabled
        self.bench = settings.text("bench")
        self.writer, self.reader = Writer(store), Reader(store)
        self.told: list[str] = []
        self.notices: list[str] = []
        self.chance = random.SystemRandom()
        self.shelf = Shelf(self)
        self.matching = Matching(self, self.shelf)
        self.advising = Advising(self, self.matching, self.shelf)
        self.guiding = Guiding(self.shelf)
        self.reworking = Reworking(self, self.matching)
        self.measuring = Measuring(self, self.matching, self.advising.check_reading)
        self.ventilating = Ventilating(self)
        self.coating = Coating(self, self.matching, self.shelf, self.advising)
        self.ledger = Ledger(self, self.matching, self.shelf)
        self.exposing = Exposing(self, self.matching, self.shelf, self.ventilating)
        self.drying = Drying(self)
        self.potting = Potting(self)
        self.equipping = Equipping(self)
        self.dividing = Dividing(self)
        self.spraying = Spraying(
            self,
            self.matching,
            self.ventilating,
            self.equipping,
            self.dividing,
            self._coat_ended,
        )
        self.watching = Watching(self)
        self.probing = Probing(self, self.watching)

    # -- acts.bench.Bench --

    def now_ms(self) -> int:
        return self.clock.wall_ms

    def monotonic_ms(self) -> int:
        return self.clock.monotonic_ms

    def new_id(self, prefix: str) -> str:
        return new_id(prefix, self.chance)

    async def commit(self, records: Iterable[Record]) -> None:
        if kept := list(records):
            await asyncio.wrap_future(self.writer.submit(kept, urgent=True, patience_s=1.0))

    def keep(self, records: Iterable[Record]) -> None:
        if kept := list(records):
            self.writer.submit(kept, urgent=True)

    def tell(self, kind: str, value: object = None) -> None:
        self.told.append(kind)

    def notice(self, source: str, words: str, at_ms: int | None = None) -> None:
        self.notices.append(words)

    async def apart(self, work: Callable[..., Any], *given: Any, **named: Any) -> Any:
        return await asyncio.to_thread(work, *given, **named)

    async def configure_board(self, gain: float, integration_ms: float) -> None:
        board, _ = self.connected_board()
        await asyncio.wrap_future(board.configure(gain=gain, integration_ms=integration_ms))

    def connected_board(self) -> tuple[CabledBoard, messages.HelloAnswer]:
        if self.cabled is None or self.cabled.board is None:
            raise LinkError("no board on the cable; plug it in")
        return self.cabled, self.cabled.board

    # -- what the station does beside --

    async def take_over(self) -> None:
        self.shelf.take_over()
        self.matching.take_over()
        self.equipping.take_over()
        self.spraying.take_over()
        self.ventilating.take_over(self.spraying.last_ended())
        last = self.spraying.last_ended()
        self.drying.take_over(last, self.plan_of(last) if last else SprayPlan())
        await self.watching.take_over()

    def plan(self) -> SprayPlan:
        coat = self.spraying.running
        limits = self.shelf.limits_of(self.matching.contents())
        piece = part_of(self.spraying.piece)
        unknown = self.matching.film_unknown()
        return SprayPlan(self.matching.blend(), piece, limits, coat.id if coat else None, unknown)

    def plan_of(self, coat: Coat) -> SprayPlan:
        cup = self.matching.additions_to(coat.batch)
        limits = self.shelf.limits_of(self.matching.contents(cup))
        return SprayPlan(self.matching.blend(cup), part_of(self.spraying.piece), limits, coat.id)

    async def _coat_ended(self, coat: Coat) -> None:
        self.drying.coat_ended(coat, self.plan_of(coat))
        await self.ventilating.coat_ended(coat)

    async def look(self) -> None:
        self.watching.surface = self.spraying.piece.surface if self.spraying.piece else None
        inputs = self.watching.inputs(None, self.spraying.fan_wanted())
        self.ventilating.look(self.watching.fan())
        self.drying.look(inputs)
        plan = self.plan()
        self.potting.look(inputs, plan, self.matching.batch)
        await self.watching.look(inputs, self.potting.planned(plan))

    async def watch(self, minutes: float, every_ms: int = 5_000, **channels: float) -> None:
        """Let time pass at the bench; the probes say the same all the while."""
        for _ in range(round(minutes * MINUTE_MS / every_ms)):
            self.clock.pass_ms(every_ms)
            if channels:
                self.read(**channels)
            await self.look()
        await asyncio.to_thread(self.writer.flush, 30.0)

    def read(self, device: str = "door", **channels: float) -> None:
        """A probe speaks."""
        arrived = self.arrived(device, **channels)
        self.writer.submit(rows_of(arrived, self.bench))
        self.watching.take(arrived)

    def arrived(self, device: str = "door", **channels: float) -> ReadingsArrived:
        """What a probe says now."""
        now_ms = self.clock.wall_ms
        readings = tuple(
            ChannelReading(name, value, UNITS[name], now_ms) for name, value in channels.items()
        )
        return ReadingsArrived(self.bench, device, now_ms, readings)

    async def calibrate(self) -> None:
        """Dark, then the white tile, at the gain that suits the tile."""
        assert self.cabled is not None
        world, tile = self.cabled.world, self.cabled.world.white_certificate
        await self.measuring.meet_board()
        world.place("white tile")
        await self.measuring.choose_gain()
        world.place("light trap")
        await self.measuring.dark()
        world.place("white tile")
        await self.measuring.white(spectrum_of(tile))

    async def ready_to_spray(self) -> None:
        await self.spraying.acknowledge_cautions("A. Volunteer")

    def close(self) -> None:
        self.writer.close()
        self.reader.close()

    def again(self) -> "HandBench":
        """The same bench after a restart; the board stays where it is."""
        self.close()
        return HandBench(self.store, self.clock, self.settings, self.cabled)


def spectrum_of(certificate: Any) -> Any:
    from sprayout.colour.tristimulus import Spectrum

    return Spectrum(tuple(certificate.wavelength_nm), tuple(certificate.reflectance))


@contextmanager
def hand_bench(folder: Path, *, board: bool = False, **settings: Any) -> Iterator[HandBench]:
    """A bench on a fresh store in `folder`."""
    clock = Clock()
    in_force = override(read_settings(environment={}), bench="bench", **settings)
    cabled = CabledBoard(5, clock) if board else None
    bench = HandBench(folder / "bench.sqlite", clock, in_force, cabled)
    try:
        yield bench
    finally:
        bench.close()
