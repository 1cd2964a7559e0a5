"""One board on a cable: it is greeted, kept an eye on, and asked to measure.

The intake lives in the port's thread.  Requests may come from any thread and return a
:class:`concurrent.futures.Future`, which fails with :class:`LinkError` (away, no answer),
:class:`BoardFault` (a part failed, busy) or :class:`BadInput` (the board refused what was asked).
After a re-plug or a restart the board gets its last configuration, with the gain that was in
force and never chosen anew, and its last stream.
"""

from __future__ import annotations

import threading
from collections import deque
from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import Future
from dataclasses import dataclass
from typing import Any, Literal

from sprayout.errors import BadInput, BoardFault, LinkError, SprayoutError
from sprayout.intake.board_events import Said, counted, is_worse, refused, said_by_board
from sprayout.intake.clock import monotonic_ms, wall_clock_ms
from sprayout.intake.events import Deliver, DeviceStatus, Event, ReadingsArrived
from sprayout.intake.known_boards import KnownBoards
from sprayout.intake.packs import from_board
from sprayout.link import session as link
from sprayout.link.messages import (
    WRONG_PARAMS,
    Answer,
    ClimatePack,
    ColourPack,
    Configure,
    ConfigureAnswer,
    Hello,
    HelloAnswer,
    Measure,
    Request,
    SelfTest,
    SelfTestAnswer,
    Stream,
    StreamAnswer,
)
from sprayout.link.port import AUTO, PortListener, SerialPort, check_port

COUNTERS_EVERY_MS = 1_000
UNNAMED_KEPT = 100
"""What a board says before its greeting is answered: the faults it found at its start."""

GREETINGS_UNANSWERED = 3
"""So many, and the person is told."""


@dataclass(frozen=True, slots=True)
class Patience:
    """How long to wait before a silent board is greeted again.

    ``hello_ms`` is what it has to answer a greeting, ``idle_ms`` how long it may be silent when
    it streams nothing; one that streams may be silent for ``stream_ms`` and three periods.
    """

    hello_ms: int = 1_500
    idle_ms: int = 5_000
    stream_ms: int = 2_000


@dataclass(slots=True)
class _Asked:
    future: Future[Any]
    read: Callable[[Answer], object]


class SerialIntake:
    """Reads one board on ``port`` (a path or ``auto``) for ``bench``."""

    def __init__(
        self,
        bench: str,
        port: str,
        deliver: Deliver,
        *,
        clock_ms: Callable[[], int] = wall_clock_ms,
        boards: KnownBoards | None = None,
        patience: Patience = Patience(),
    ) -> None:
        self._bench, self._wanted, self._deliver_to = bench, port, deliver
        self._clock_ms, self._patience = clock_ms, patience
        self._boards = KnownBoards() if boards is None else boards
        self._session = link.HostSession()
        self._lock = threading.Lock()  # guards the session and what was asked
        self._asked: dict[int, _Asked] = {}
        self._board: HelloAnswer | None = None
        self._path = ""
        self._device = port
        self._greeting = False
        self._unanswered = 0
        self._refused = False
        self._heard_ms = 0
        self._unnamed: deque[tuple[Said, int]] = deque(maxlen=UNNAMED_KEPT)
        self._configured: Configure | None = None
        self._streaming: Stream | None = None
        self._counted = self._session.counters
        self._counted_ms = 0
        listener = PortListener(self._opened, self._received, self._ticked, self._lost)
        self._port = SerialPort(port, listener)

    @property
    def board(self) -> HelloAnswer | None:
        """The board as it greeted; None while it is away."""
        return self._board

    @property
    def device(self) -> str:
        """The board's name; the port's until it greeted for the first time."""
        return self._device

    def start(self, *, wait_for_port: bool = False) -> None:
        """Begin; :class:`BadInput` where the port cannot be opened now, unless told to wait for it.

        ``auto`` waits for a board in any case.
        """
        if not wait_for_port and self._wanted != AUTO:
            check_port(self._wanted)
        self._port.start()

    def stop(self) -> None:
        """Close the port; open requests fail."""
        self._port.stop()

    def measure(self, of: Sequence[str]) -> Future[ReadingsArrived]:
        """Measure once, now; the result goes to the caller alone."""
        return self._ask(Measure(tuple(of)), self._measured)

    def configure(
        self,
        gain: float | Literal["auto"] | None = None,
        integration_ms: float | None = None,
        led_ma: float | None = None,
    ) -> Future[ConfigureAnswer]:
        """Set what is given; ``"auto"`` chooses on the surface now under the sensor."""
        return self._ask(Configure(gain, integration_ms, led_ma), self._remember_configured)

    def stream(self, colour_ms: int, climate_ms: int) -> Future[StreamAnswer]:
        """Have packs sent by themselves; 0 stops."""
        return self._ask(Stream(colour_ms, climate_ms), self._remember_streaming)

    def self_test(self) -> Future[SelfTestAnswer]:
        """Have the board test itself."""
        return self._ask(SelfTest(), lambda answer: answer)

    # -- asking ---------------------------------------------------------------------------

    def _ask(self, request: Request, read: Callable[[Answer], object]) -> Future[Any]:
        future: Future[Any] = Future()
        future.set_running_or_notify_cancel()  # what was asked of a board cannot be taken back
        if self._board is None:
            future.set_exception(LinkError(f"{self._device}: the board is away; plug it in"))
            return future
        try:
            self._send(request, _Asked(future, read))
        except BadInput as fault:
            future.set_exception(fault)
        return future

    def _send(self, request: Request, asked: _Asked | None) -> None:
        with self._lock:
            timeout_ms = self._patience.hello_ms if isinstance(request, Hello) else None
            sent = self._session.request(request, monotonic_ms(), timeout_ms)
            if asked is not None:
                self._asked[sent.request_id] = asked
        try:
            self._port.send(sent.data)
        except LinkError as fault:
            self._fail(sent.request_id, fault)

    def _fail(self, request_id: int, fault: SprayoutError) -> None:
        asked = self._take(request_id)
        if asked is not None:
            asked.future.set_exception(fault)

    def _take(self, request_id: int) -> _Asked | None:
        with self._lock:
            return self._asked.pop(request_id, None)

    def _measured(self, answer: Answer) -> ReadingsArrived:
        assert isinstance(answer, ColourPack | ClimatePack)
        now_ms = self._clock_ms()
        parsed = from_board(*self._named(), answer, now_ms)
        self._deliver(refused(*self._named(), parsed.refusals, now_ms))
        if not parsed.arrivals:
            raise BoardFault(f"{self._device}: no value came back; see the faults it reports")
        return parsed.arrivals[0]

    def _remember_configured(self, answer: Answer) -> Answer:
        assert isinstance(answer, ConfigureAnswer)
        self._configured = Configure(answer.gain, answer.integration_ms, answer.led_ma or None)
        return answer

    def _remember_streaming(self, answer: Answer) -> Answer:
        assert isinstance(answer, StreamAnswer)
        self._streaming = Stream(answer.colour_ms, answer.climate_ms)
        return answer

    # -- the port's four calls ------------------------------------------------------------

    def _opened(self, path: str) -> None:
        self._path, self._refused, self._unanswered = path, False, 0
        self._unnamed.clear()
        self._forget_session()
        self._greet()

    def _received(self, data: bytes) -> None:
        with self._lock:
            events = self._session.receive(data)
        if events:
            self._heard_ms = monotonic_ms()
        for event in events:
            self._happened(event)

    def _ticked(self) -> None:
        with self._lock:
            events = self._session.expire(monotonic_ms())
        for event in events:
            self._happened(event)
        self._watch_silence()
        self._count()

    def _lost(self, words: str) -> None:
        self._forget_session()
        self._leave(words)

    # -- what the board said --------------------------------------------------------------

    def _happened(self, event: link.Event) -> None:
        match event:
            case link.Answered():
                self._answered(event)
            case link.RequestFailed():
                self._request_failed(event)
            case link.RequestTimedOut():
                self._request_timed_out(event)
            case _ if self._board is None:  # what a stranger says waits until it has a name
                self._unnamed.append((event, self._clock_ms()))
            case _:
                self._deliver(said_by_board(*self._named(), event, self._clock_ms()))

    def _answered(self, event: link.Answered) -> None:
        if isinstance(event.answer, HelloAnswer):
            self._greeted(event.answer)
            return
        asked = self._take(event.request_id)
        if asked is None:
            return
        try:
            asked.future.set_result(asked.read(event.answer))
        except SprayoutError as fault:
            asked.future.set_exception(fault)

    def _request_failed(self, event: link.RequestFailed) -> None:
        words = f"{self._device}: {event.words}"
        self._fail(event.request_id, _fault_of(event.code, words))
        if isinstance(event.request, Hello):
            self._refuse(words)

    def _request_timed_out(self, event: link.RequestTimedOut) -> None:
        self._fail(event.request_id, LinkError(f"{self._device}: {event.words}"))
        if isinstance(event.request, Hello):
            self._greeting_unanswered()

    # -- greeting and leaving -------------------------------------------------------------

    def _greet(self) -> None:
        self._greeting = True
        self._send(Hello(), None)

    def _greeted(self, hello: HelloAnswer) -> None:
        self._greeting, self._unanswered = False, 0
        try:
            link.check_hello(hello)
            self._boards.claim(hello.device, self._path)
        except BoardFault as fault:
            self._device = self._path  # the name may be that of another, good board
            self._refuse(str(fault))
            return
        before, self._board, self._device = self._board, hello, hello.device
        self._restore()
        if before is None:
            words = f"{hello.sensor}, firmware {hello.firmware}, on {self._path}"
            self._status(online=True, words=words)
        while self._unnamed:
            said, at_ms = self._unnamed.popleft()
            self._deliver(said_by_board(*self._named(), said, at_ms))

    def _restore(self) -> None:
        """What was in force before the board went away or started anew."""
        for request in (self._configured, self._streaming):
            if request is not None:
                self._ask(request, lambda answer: answer).add_done_callback(self._restored)

    def _restored(self, future: Future[object]) -> None:
        fault = future.exception()
        if fault is not None:
            words = f"settings not restored: {fault}"
            self._deliver(refused(*self._named(), [words], self._clock_ms()))

    def _greeting_unanswered(self) -> None:
        self._greeting = False
        self._unanswered += 1
        if self._unanswered == GREETINGS_UNANSWERED:
            seen = self._session.counters
            self._leave(
                f"{self._path}: no answer to hello ({seen.failed_checks} lines that are none of "
                "ours); is it the sensor board, with our program on it? sprayout board install"
            )
        self._greet()

    def _refuse(self, words: str) -> None:
        """Leave this board alone until it is plugged in again."""
        self._refused = True
        self._leave(words)

    def _leave(self, words: str) -> None:
        if self._board is not None:
            self._boards.release(self._board.device, self._path)
        self._board = None
        self._unnamed.clear()
        self._status(online=False, words=words)

    def _forget_session(self) -> None:
        with self._lock:
            events = self._session.reset()
        self._greeting = False
        for event in events:
            if isinstance(event, link.RequestTimedOut):
                self._fail(event.request_id, LinkError(f"{self._device}: {event.words}"))

    def _watch_silence(self) -> None:
        quiet_ms = monotonic_ms() - self._heard_ms
        waiting = self._greeting or self._refused or bool(self._asked)
        if self._board is not None and not waiting and quiet_ms > self._silence_ms():
            self._greet()

    def _silence_ms(self) -> int:
        periods = (self._streaming.colour_ms, self._streaming.climate_ms) if self._streaming else ()
        active = [period for period in periods if period]
        return self._patience.stream_ms + 3 * min(active) if active else self._patience.idle_ms

    # -- telling --------------------------------------------------------------------------

    def _count(self) -> None:
        counters, now_ms = self._session.counters, monotonic_ms()
        due = now_ms - self._counted_ms >= COUNTERS_EVERY_MS
        if due and is_worse(counters, self._counted):
            self._counted, self._counted_ms = counters, now_ms
            self._deliver([counted(*self._named(), counters, self._clock_ms())])

    def _status(self, *, online: bool, words: str) -> None:
        self._deliver([DeviceStatus(*self._named(), self._clock_ms(), online, words)])

    def _named(self) -> tuple[str, str]:
        return self._bench, self._device

    def _deliver(self, events: Iterable[Event]) -> None:
        for event in events:
            self._deliver_to(event, None)


def _fault_of(code: int, words: str) -> SprayoutError:
    return BadInput(words) if code == WRONG_PARAMS else BoardFault(words)
