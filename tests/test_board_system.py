"""The cable's promises on whatever board is there: ``pytest --board PORT``, else the virtual one.

Nothing here knows the light or the air around the board: a real one on a desk must pass too.
"""

import time
from collections.abc import Iterator

import pytest
import serial

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
from sprayout.link.session import (
    Answered,
    Event,
    HostSession,
    PackReceived,
    RequestFailed,
    RequestTimedOut,
    SequenceGap,
    check_hello,
)
from sprayout.sim.pty_cable import serve_on_pty
from sprayout.sim.surroundings import SteadySurroundings
from sprayout.sim.virtual_board import VirtualBoard


@pytest.fixture(scope="module")
def board_port(request: pytest.FixtureRequest) -> Iterator[str]:
    """The port given with ``--board``, else that of a virtual board."""
    given = request.config.getoption("--board")
    if given:
        yield str(given)
        return
    with serve_on_pty(VirtualBoard(SteadySurroundings())) as cable:
        yield cable.path


class Bench:
    """A host session on a serial port; events are kept."""

    def __init__(self, path: str) -> None:
        self.port = serial.Serial(path, baudrate=115200, timeout=0.02)
        self.session = HostSession()
        self.events: list[Event] = []

    def now_ms(self) -> int:
        return int(time.monotonic() * 1000)

    def turn(self) -> list[Event]:
        events = self.session.receive(self.port.read(4096)) + self.session.expire(self.now_ms())
        self.events += events
        return events

    def ask(self, request: Request) -> Answer:
        sent = self.session.request(request, self.now_ms())
        self.port.write(sent.data)
        while True:
            for event in self.turn():
                if isinstance(event, RequestFailed | RequestTimedOut):
                    pytest.fail(f"{request}: {event.words}")
                if isinstance(event, Answered) and event.request_id == sent.request_id:
                    return event.answer


@pytest.fixture
def bench(board_port: str) -> Iterator[Bench]:
    bench = Bench(board_port)
    bench.ask(Stream(0, 0))
    yield bench
    bench.ask(Stream(0, 0))
    bench.port.close()


def test_board_introduces_itself(bench: Bench) -> None:
    answer = bench.ask(Hello())
    assert isinstance(answer, HelloAnswer)
    check_hello(answer)
    assert {chip.role for chip in answer.chips} >= {"colour", "climate"}
    assert answer.sensor in ("spectral-8", "rgb")


def test_board_passes_its_self_test(bench: Bench) -> None:
    answer = bench.ask(SelfTest())
    assert isinstance(answer, SelfTestAnswer)
    assert answer.passed, [check.words for check in answer.checks if not check.passed]


def test_automatic_gain_leaves_headroom(bench: Bench) -> None:
    chosen = bench.ask(Configure(gain="auto"))
    assert isinstance(chosen, ConfigureAnswer)
    pack = bench.ask(Measure(("colour",)))
    assert isinstance(pack, ColourPack)
    assert (pack.gain, pack.full_scale) == (chosen.gain, chosen.full_scale)
    assert pack.saturated == ()
    assert max(record.value for record in pack.records) < 0.9 * chosen.full_scale


def test_repeats_of_one_surface_agree(bench: Bench) -> None:
    bench.ask(Configure(gain="auto"))
    packs = [bench.ask(Measure(("colour",))) for _ in range(5)]
    clear = []
    for pack in packs:
        assert isinstance(pack, ColourPack)
        clear += [record.value for record in pack.records if record.name == "clear"]
    assert max(clear) - min(clear) < 0.02 * max(clear)


def test_climate_is_that_of_a_room(bench: Bench) -> None:
    pack = bench.ask(Measure(("climate",)))
    assert isinstance(pack, ClimatePack)
    by_name = {record.name: record.value for record in pack.records}
    assert 0 < by_name["air_temperature"] < 50
    assert 5 < by_name["relative_humidity"] <= 100


def test_stream_runs_without_gaps_and_stops(bench: Bench) -> None:
    in_force = bench.ask(Stream(0, 100))
    assert isinstance(in_force, StreamAnswer) and in_force.climate_ms == 100
    bench.events.clear()
    packs = 0
    while packs < 10:
        packs += sum(isinstance(event, PackReceived) for event in bench.turn())
    bench.ask(Stream(0, 0))
    assert not [event for event in bench.events if isinstance(event, SequenceGap)]


def test_rubbish_and_halves_do_not_stop_it(bench: Bench) -> None:
    half = bench.session.request(Hello(), bench.now_ms()).data
    bench.session.reset()
    for cut in (1, len(half) // 2, len(half) - 1):
        bench.port.write(bytes(range(256)) + half[:cut])
        assert isinstance(bench.ask(Hello()), HelloAnswer)
    assert bench.session.counters.failed_checks == 0


def test_port_closed_and_opened_again_goes_on(bench: Bench, board_port: str) -> None:
    bench.port.close()
    bench.port = serial.Serial(board_port, baudrate=115200, timeout=0.02)
    bench.session.reset()
    assert isinstance(bench.ask(Hello()), HelloAnswer)
