"""One board on a cable: it is greeted, kept an eye on, and asked to measure.

The intake lives in the port's thread.  Requests may come from any thread and return a
:class:`concurrent.futures.Future`, which fails with :class:`LinkError` (away, no answer),
:class:`BoardFault` (a part failed, busy) or :class:`BadInput` (the board refused what was asked).
After a re-plug or a restart the board gets its last configuration, with the gain that was in
force and never chosen anew, and its last stream.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import Future
from dataclasses import dataclass
from typing import Any, Literal

from sprayout.errors import BoardFault, LinkError
from sprayout.intake.board_events import counted, is_worse, refused, said_by_board
from sprayout.intake.clock import monotonic_ms, wall_clock_ms
from sprayout.intake.conversation import Conversation, Read
from sprayout.intake.events import Deliver, DeviceStatus, Event, ReadingsArrived
from sprayout.intake.known_boards import KnownBoards
from sprayout.intake.packs import from_board
from sprayout.link.messages import (
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
from sprayout.link.session import Said, check_hello

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
        self._board: HelloAnswer | None = None
        self._path = ""
        self._device = port
        self._open = self._greeting = self._refused = False
        self._unanswered = self._heard_ms = 0
        self._unnamed: deque[tuple[Said, int]] = deque(maxlen=UNNAMED_KEPT)
        self._configured: Configure | None = None
        self._streaming: Stream | None = None
        listener = PortListener(self._opened, self._received, self._ticked, self._lost)
        self._port = SerialPort(port, listener)
        self._talk = Conversation(self._port.send)
        self._counted, self._counted_ms = self._talk.counters, 0

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

    def _ask(self, request: Request, read: Read) -> Future[Any]:
        if self._board is not None:
            return self._talk.ask(request, read)
        future: Future[Any] = Future()
        future.set_exception(LinkError(f"{self._device}: the board is away; plug it in"))
        return future

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
        self._talk.break_off(self._device)  # half a line of before means nothing now
        self._unnamed.clear()
        self._path, self._open, self._refused, self._unanswered = path, True, False, 0
        self._greet()

    def _received(self, data: bytes) -> None:
        events, heard = self._talk.receive(data, self._device)
        if heard:
            self._heard_ms = monotonic_ms()
        for event in events:
            self._happened(event)

    def _ticked(self) -> None:
        self._talk.expire(self._device)
        if self._open and not self._refused and not self._greeting and self._is_silent():
            self._greet()
        self._count()

    def _lost(self, words: str) -> None:
        self._open = False
        self._talk.break_off(self._device)
        self._leave(words)

    def _happened(self, event: Said) -> None:
        if self._board is None:  # what a stranger says waits until it has a name
            self._unnamed.append((event, self._clock_ms()))
        else:
            self._deliver(said_by_board(*self._named(), event, self._clock_ms()))

    # -- greeting and leaving -------------------------------------------------------------

    def _greet(self) -> None:
        self._greeting = True
        asked = self._talk.ask(Hello(), self._greeted, self._patience.hello_ms)
        asked.add_done_callback(self._greeting_ended)

    def _greeted(self, hello: Answer) -> None:
        assert isinstance(hello, HelloAnswer)
        check_hello(hello)
        self._boards.claim(hello.device, self._path)
        before, self._board, self._device = self._board, hello, hello.device
        self._restore()
        if before is None:
            words = f"{hello.sensor}, firmware {hello.firmware}, on {self._path}"
            self._status(online=True, words=words)
        while self._unnamed:
            said, at_ms = self._unnamed.popleft()
            self._deliver(said_by_board(*self._named(), said, at_ms))

    def _greeting_ended(self, future: Future[None]) -> None:
        self._greeting = False
        fault = future.exception()
        if fault is None:
            self._unanswered = 0
        elif not isinstance(fault, LinkError):
            self._refused = True  # until it is plugged in again
            self._leave(str(fault), self._path)  # its name may be that of another, good board
        elif self._open:
            self._greeting_unanswered()

    def _greeting_unanswered(self) -> None:
        self._unanswered += 1
        if self._unanswered == GREETINGS_UNANSWERED:
            seen = self._talk.counters
            self._leave(
                f"{self._path}: no answer to hello ({seen.failed_checks} lines that are none of "
                "ours); is it the sensor board, with our program on it? sprayout board install"
            )

    def _leave(self, words: str, device: str | None = None) -> None:
        if self._board is not None:
            self._boards.release(self._board.device, self._path)
        self._board, self._device = None, device or self._device
        self._unnamed.clear()
        self._status(online=False, words=words)

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

    def _is_silent(self) -> bool:
        if self._board is None:
            return True
        quiet_ms = monotonic_ms() - self._heard_ms
        return not self._talk.waiting and quiet_ms > self._silence_ms()

    def _silence_ms(self) -> int:
        periods = (self._streaming.colour_ms, self._streaming.climate_ms) if self._streaming else ()
        active = [period for period in periods if period]
        return self._patience.stream_ms + 3 * min(active) if active else self._patience.idle_ms

    # -- telling --------------------------------------------------------------------------

    def _count(self) -> None:
        counters, now_ms = self._talk.counters, monotonic_ms()
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
