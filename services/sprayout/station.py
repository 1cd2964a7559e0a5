"""One running bench: wires intake to the acts, the journal and the listeners.

The only module with tasks and clocks.  Intake threads hand their events to :meth:`Station.deliver`;
everything else happens on the event loop.  A reading is acknowledged to its sender after the
journal has committed it, never before.
"""

import asyncio
import random
from collections import deque
from collections.abc import Callable, Coroutine, Iterable
from concurrent.futures import Future, ProcessPoolExecutor
from dataclasses import dataclass
from functools import partial
from multiprocessing import get_context

from sprayout.acts.advising import Advising
from sprayout.acts.bench import Board, P, T
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
from sprayout.bench.record_clock import RecordClock
from sprayout.bench.spray_plan import SprayPlan
from sprayout.errors import LinkError, SprayoutError
from sprayout.intake.events import (
    Acknowledge,
    ButtonPressed,
    DeviceStatus,
    Event,
    FaultReported,
    InputRejected,
    LinkCounters,
    ReadingsArrived,
    ReadingsMissing,
)
from sprayout.journal.reader import Reader
from sprayout.journal.records import ClockStep, Coat, Piece, Reading, Record, new_id
from sprayout.journal.records_json import format_time
from sprayout.journal.retention import Retention
from sprayout.journal.sources import FILM_MODEL
from sprayout.journal.timeline import WRITTEN_MS
from sprayout.journal.writer import Writer
from sprayout.link.messages import HelloAnswer
from sprayout.settings import Settings

NOTICES_KEPT = 20
LOOK_EVERY_S = 1.0
#: So long an act waits for a store that cannot be written before the person is told.
PATIENCE_S = 5.0
FIRST_LOOK_AFTER_S = 1.0
#: So many messages may wait for the commit of the second; then it is made at once.
COMMIT_AT_UNACKNOWLEDGED = 10
#: A pause between two looks is never shorter, however fast the clock runs.
SHORTEST_PAUSE_S = 0.05
COMPACT_EVERY_S = 86_400.0

Listener = Callable[[str, object], None]
"""Called on the loop with the kind of news (``colour``, ``booth``, ``state``) and its value."""


@dataclass(frozen=True, slots=True)
class Notice:
    """One line the person at the bench should read: a rejected input, a fault, a lost cable."""

    at_ms: int
    source: str
    words: str
    times: int = 1


class Station:
    """One bench, running; ``acts.bench.Bench`` for its acts."""

    def __init__(
        self,
        settings: Settings,
        clock: RecordClock,
        writer: Writer,
        reader: Reader,
        chance: random.Random,
    ) -> None:
        self.settings = settings
        self.bench = settings.text("bench")
        self.reader = reader
        self.writer = writer
        self.board: Board | None = None
        self.devices: dict[str, DeviceStatus] = {}
        self.counters: dict[str, LinkCounters] = {}
        self.notices: deque[Notice] = deque(maxlen=NOTICES_KEPT)
        self.listeners: list[Listener] = []
        #: Acts of persons that were done in this run; a screen says how many it had heard of.
        self.acts_done = 0
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
        self._clock = clock
        # A clock from before this program was written has lost its time.
        self._clock_was_lost = clock.started_ms < WRITTEN_MS
        self._chance = chance
        self._loop: asyncio.AbstractEventLoop | None = None
        self._unacknowledged: set[Future[None]] = set()
        self._tasks: set[asyncio.Task[None]] = set()

    # -- what the acts need --------------------------------------------------------------------

    def now_ms(self) -> int:
        return self._clock.now_ms()

    def monotonic_ms(self) -> int:
        return self._clock.monotonic_ms()

    def new_id(self, prefix: str) -> str:
        return new_id(prefix, self._chance)

    async def commit(self, records: Iterable[Record]) -> None:
        kept = list(records)
        if kept:
            future = self.writer.submit(kept, urgent=True, patience_s=PATIENCE_S)
            await asyncio.wrap_future(future)

    def keep(self, records: Iterable[Record]) -> None:
        kept = list(records)
        if not kept:
            return
        try:
            self.writer.submit(kept, urgent=True).add_done_callback(self._kept)
        except SprayoutError as error:
            self.notice("journal", str(error))

    def _kept(self, done: Future[None]) -> None:
        """Called by the writer's thread: show what it refused."""
        fault = None if done.cancelled() else done.exception()
        if fault is not None and self._loop is not None and not self._loop.is_closed():
            self._loop.call_soon_threadsafe(self.notice, "journal", str(fault))

    def tell(self, kind: str, value: object = None) -> None:
        for listener in list(self.listeners):
            listener(kind, value)

    def notice(self, source: str, words: str, at_ms: int | None = None) -> None:
        at_ms = self.now_ms() if at_ms is None else at_ms
        # A probe that says the same nonsense every minute must not push all else off the list.
        for known in self.notices:
            if (known.source, known.words) == (source, words):
                self.notices.remove(known)
                self.notices.append(Notice(at_ms, source, words, known.times + 1))
                break
        else:
            self.notices.append(Notice(at_ms, source, words))
        self.tell("state")

    async def apart(self, work: Callable[P, T], *given: P.args, **named: P.kwargs) -> T:
        # Spawned, not forked: this process has threads.  One task a process, for its memory.
        pool = ProcessPoolExecutor(1, mp_context=get_context("spawn"))
        try:
            call = partial(work, *given, **named)
            return await asyncio.get_running_loop().run_in_executor(pool, call)
        finally:
            # Waiting for the process to end would hold every reading up.
            pool.shutdown(wait=False)

    async def configure_board(self, gain: float, integration_ms: float) -> None:
        board, _ = self.connected_board()
        await asyncio.wrap_future(board.configure(gain=gain, integration_ms=integration_ms))

    def connected_board(self) -> tuple[Board, HelloAnswer]:
        hello = self.board.board if self.board else None
        if self.board is None or hello is None:
            raise LinkError("no board on the cable; plug it in, or start with --serial PATH")
        return self.board, hello

    # -- life ----------------------------------------------------------------------------------

    async def open(self) -> None:
        """Take over what the journal knows; events are taken from now on."""
        self._loop = asyncio.get_running_loop()
        self.shelf.take_over()
        self.matching.take_over()
        self.equipping.take_over()
        self.spraying.take_over()
        last = self.spraying.last_ended()
        self.ventilating.take_over(last)
        self.drying.take_over(last, self.plan_of(last) if last else SprayPlan())
        await self.watching.take_over()
        self.probing.take_over()
        await self._watch_clock()
        if self._clock_was_lost:
            self.notice(
                "clock",
                f"this machine's clock said {format_time(self._clock.started_ms)[:10]}: it has no "
                "clock battery, or was never set; set it, and what is recorded until then is dated "
                "anew",
            )

    async def run(self) -> None:
        """Watch the booth and keep the advice fresh, until cancelled."""
        # The probes get a moment to speak before they are called silent.
        await asyncio.sleep(FIRST_LOOK_AFTER_S)
        async with asyncio.TaskGroup() as tasks:
            tasks.create_task(self._again_and_again(self.look))
            tasks.create_task(self._again_and_again(self.advising.refresh))
            tasks.create_task(self._again_and_again(self._watch_clock))
            tasks.create_task(self._again_and_again(self._compact, COMPACT_EVERY_S))

    async def _again_and_again(
        self, act: Callable[[], Coroutine[object, object, None]], every_s: float = LOOK_EVERY_S
    ) -> None:
        """Do it about every so many seconds of the bench's clock; a slow one holds no other up."""
        while True:
            await self._guarded(act)
            await asyncio.sleep(max(self._clock.real_s(every_s), SHORTEST_PAUSE_S))

    async def _watch_clock(self) -> None:
        """Put jumps of the wall clock on record, and date anew what a clock without time dated."""
        self.now_ms()
        for jump in self._clock.take_jumps():
            step = ClockStep(
                id=self.new_id("clock"),
                bench=self.bench,
                at_ms=self.now_ms(),
                before_ms=jump.before_ms,
                after_ms=jump.after_ms,
                reason=jump.reason,
            )
            await self.commit([step])
            self.notice("clock", f"{jump.reason}; the record's times still run forward")
            if jump.reason == "the clock was set forward" and self._clock_was_lost:
                began_ms, by_ms = self._clock.started_ms, jump.after_ms - jump.before_ms
                moved = self.writer.retime(self.bench, began_ms, jump.before_ms + 1, by_ms)
                await asyncio.wrap_future(moved)
                self._clock_was_lost = False
                self.spraying.refresh()
            elif jump.reason == "no clock battery":
                self._clock_was_lost = True

    async def _compact(self) -> None:
        """Let go of raw readings that the rule no longer keeps; rollups stay for ever."""
        settings = self.settings
        rule = Retention(
            settings.number("raw_days"),
            settings.number("before_coat_min"),
            settings.number("after_coat_min"),
        )
        await asyncio.wrap_future(self.writer.compact(self.now_ms(), rule))

    def plan(self) -> SprayPlan:
        """Return what is about to be sprayed, on what."""
        coat = self.spraying.running
        return SprayPlan(
            self.matching.blend(),
            part_of(self.spraying.piece),
            self.shelf.limits_of(self.matching.contents()),
            coat.id if coat else None,
            self.matching.film_unknown(),
        )

    def plan_of(self, coat: Coat) -> SprayPlan:
        """Return what a coat on record was sprayed with; another cup may be in hand by now."""
        cup = self.matching.additions_to(coat.batch)
        return SprayPlan(
            self.matching.blend(cup),
            part_of(self.reader.get(Piece, coat.piece)),
            self.shelf.limits_of(self.matching.contents(cup)),
            coat.id,
            self.matching.film_unknown(cup),
        )

    async def _coat_ended(self, coat: Coat) -> None:
        self.drying.coat_ended(coat, self.plan_of(coat))
        await self.ventilating.coat_ended(coat)

    async def look(self) -> None:
        """Judge the flags and move the clocks on, once."""
        desk, plan = self.measuring.desk, self.plan()
        piece = self.spraying.piece
        self.watching.surface = piece.surface if piece else None
        calibration = desk.calibration if desk else None
        inputs = self.watching.inputs(
            calibration.at_ms if calibration else None,
            self.spraying.fan_wanted(),
            self.measuring.calibrating.due(desk),
            self.probing.due(),
        )
        self.ventilating.look(self.watching.fan())
        self.drying.look(inputs)
        self.potting.look(inputs, plan, self.matching.batch)
        await self.watching.look(inputs, self.potting.planned(plan))
        film = self.watching.film
        if plan.coat is not None and film is not None:
            # On record with the coat: its conditions show how near the film came to the dew point.
            margin = Reading(
                self.bench, FILM_MODEL, "film_margin", film.blush.margin_k, "K", self.now_ms()
            )
            self.writer.submit([margin])

    def close(self) -> None:
        """Take no more events; what was taken is in the journal's queue."""
        self._loop = None
        for task in self._tasks:
            task.cancel()

    # -- what comes in -------------------------------------------------------------------------

    def deliver(self, event: Event, acknowledge: Acknowledge | None) -> None:
        """Take an event from an intake thread; `acknowledge` is called after the commit."""
        loop = self._loop
        if loop is None or loop.is_closed():
            return  # not acknowledged, so the sender keeps it
        loop.call_soon_threadsafe(self.take, event, acknowledge)

    def take(self, event: Event, acknowledge: Acknowledge | None = None) -> None:
        """Take an event on the loop."""
        match event:
            case ReadingsArrived():
                self._take_readings(event, acknowledge)
                return
            case DeviceStatus():
                self._take_status(event)
            case ButtonPressed():
                self._start(self._measure_by_button)
            case FaultReported():
                self.notice(event.device, f"{event.part}: {event.words}", event.at_ms)
            case InputRejected():
                self.notice(event.source, event.words, event.at_ms)
            case ReadingsMissing():
                self.notice(event.device, f"{event.count} readings were lost", event.at_ms)
            case LinkCounters():
                self.counters[event.device] = event
        if acknowledge is not None:
            acknowledge()

    def _take_readings(self, event: ReadingsArrived, acknowledge: Acknowledge | None) -> None:
        bench = event.bench or self.bench
        self._store_readings(event, bench, acknowledge)
        if bench != self.bench:
            return  # another bench of the club: recorded here, watched there
        if event.colour is not None:
            self.measuring.take(event)
        else:
            self.watching.take(event)

    def _store_readings(
        self, event: ReadingsArrived, bench: str, acknowledge: Acknowledge | None
    ) -> None:
        def stored(done: Future[None]) -> None:
            self._unacknowledged.discard(done)
            if acknowledge is not None and done.exception() is None:
                acknowledge()

        # A broker sends only some twenty messages ahead of what is acknowledged.
        urgent = acknowledge is not None and len(self._unacknowledged) >= COMMIT_AT_UNACKNOWLEDGED
        try:
            future = self.writer.submit(rows_of(event, bench), urgent=urgent)
        except SprayoutError as error:
            self.notice("journal", str(error))
            return
        if acknowledge is not None:
            self._unacknowledged.add(future)
        future.add_done_callback(stored)

    def _take_status(self, event: DeviceStatus) -> None:
        known = self.devices.get(event.device)
        self.devices[event.device] = event
        if known is None or (known.online, known.words) != (event.online, event.words):
            self.notice(event.device, event.words, event.at_ms)
        hello = self.board.board if self.board else None
        if event.online and hello is not None and hello.device == event.device:
            self.watching.booth.own_device = hello.device
            self._start(self.measuring.meet_board)

    async def _measure_by_button(self) -> None:
        await self.measuring.swatch(note="measured by the board's button")

    def _start(self, work: Callable[[], Coroutine[object, object, None]]) -> None:
        task = asyncio.ensure_future(self._guarded(work))
        self._tasks.add(task)
        task.add_done_callback(self._tasks.discard)

    async def _guarded(self, work: Callable[[], Coroutine[object, object, None]]) -> None:
        """Run work that nobody waits for: its failure is shown, never lost."""
        try:
            await work()
        except SprayoutError as error:
            self.notice("bench", str(error))
