"""What an act needs of the running bench; :class:`sprayout.station.Station` is one."""

from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import Future
from typing import Literal, ParamSpec, Protocol, TypeVar

from sprayout.intake.events import ReadingsArrived
from sprayout.journal.reader import Reader
from sprayout.journal.records import Record
from sprayout.link.messages import ConfigureAnswer, HelloAnswer, SelfTestAnswer, StreamAnswer
from sprayout.settings import Settings

P = ParamSpec("P")
T = TypeVar("T")


class Board(Protocol):
    """What is asked of a board on the cable; ``intake.serial_intake.SerialIntake`` is one."""

    @property
    def board(self) -> HelloAnswer | None: ...

    def measure(self, of: Sequence[str]) -> Future[ReadingsArrived]: ...

    def configure(
        self,
        gain: float | Literal["auto"] | None = None,
        integration_ms: float | None = None,
        led_ma: float | None = None,
    ) -> Future[ConfigureAnswer]: ...

    def stream(self, colour_ms: int, climate_ms: int) -> Future[StreamAnswer]: ...

    def self_test(self) -> Future[SelfTestAnswer]: ...


class Bench(Protocol):
    """The running bench, as an act sees it."""

    bench: str
    settings: Settings
    reader: Reader

    def now_ms(self) -> int:
        """Return the wall clock."""

    def monotonic_ms(self) -> int:
        """Return the clock that never runs backwards."""

    def new_id(self, prefix: str) -> str:
        """Return an id for a new record."""

    async def commit(self, records: Iterable[Record]) -> None:
        """Return once the records are on disk; raises StoreError where they are not kept."""

    def keep(self, records: Iterable[Record]) -> None:
        """Queue records that nobody waits for: kept as soon as the store can be written."""

    def tell(self, kind: str, value: object = None) -> None:
        """Inform the listeners: ``colour``, ``booth`` or ``state``."""

    def notice(self, source: str, words: str, at_ms: int | None = None) -> None:
        """Show the person at the bench one line."""

    async def apart(self, work: Callable[P, T], *given: P.args, **named: P.kwargs) -> T:
        """Return what `work` returns, from a process of its own whose memory is given back."""

    async def configure_board(self, gain: float, integration_ms: float) -> None:
        """Set the board's gain and integration time."""

    def connected_board(self) -> tuple[Board, HelloAnswer]:
        """Return the board and what it said of itself; raises LinkError where there is none."""
