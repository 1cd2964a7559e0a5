"""A board on a cable: greeted, asked, pulled, restored.  The far end is a scripted board."""

import os
import queue
import select
import sys
import threading
import tty
from concurrent.futures import Future
from dataclasses import replace

import pytest

from sprayout.errors import BadInput, BoardFault, LinkError
from sprayout.intake.events import (
    ButtonPressed,
    ChannelReading,
    ColourDetail,
    DeviceStatus,
    FaultReported,
    InputRejected,
    LinkCounters,
    ReadingsArrived,
    ReadingsMissing,
)
from sprayout.intake.known_boards import KnownBoards
from sprayout.intake.serial_intake import Patience, SerialIntake
from sprayout.link import rpc
from sprayout.link.frames import LineDecoder, encode_line
from sprayout.link.messages import (
    Button,
    Check,
    ClimatePack,
    ColourPack,
    Configure,
    ConfigureAnswer,
    Fault,
    Hello,
    HelloAnswer,
    Measure,
    SelfTest,
    SelfTestAnswer,
    Stream,
    StreamAnswer,
)
from sprayout.link.senml import Record

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="Windows has no pseudo-terminals")
PATIENCE_S = 10
NOW_MS = 1_764_063_600_000
HELLO = HelloAnswer(1, "0.1.0", "board-1a2b3c", "rgb", ("red", "green"), (), 5)
COLOUR = ColourPack(
    4,
    "on",
    16,
    50.0,
    1024,
    ("green",),
    (3, 5),
    (Record("red", "count", 210), Record("green", "count", 1024)),
)
CLIMATE = ClimatePack(5, (Record("air_temperature", "Cel", 21.5, -2),))
ANSWERS = {
    Hello: HELLO,
    Configure: ConfigureAnswer(16, 50, 1024, 12),
    Stream: StreamAnswer(120, 1000),
    SelfTest: SelfTestAnswer(True, (Check("bus", True, "three chips"),)),
}
COLOUR_ARRIVED = ReadingsArrived(
    "hall",
    "board-1a2b3c",
    NOW_MS,
    (
        ChannelReading("red", 210, "count", NOW_MS),
        ChannelReading("green", 1024, "count", NOW_MS),
    ),
    ColourDetail(16, 50.0, 1024, ("green",), (3, 5), "on"),
    4,
)
CLIMATE_ARRIVED = ReadingsArrived(
    "hall",
    "board-1a2b3c",
    NOW_MS - 2000,
    (ChannelReading("air_temperature", 21.5, "Cel", NOW_MS - 2000),),
    None,
    5,
)


class ScriptedBoard:
    """Answers requests from a table, over a pseudo-terminal under a lasting name."""

    def __init__(self, link, answers):
        self.link, self.answers = link, answers
        self.asked = queue.Queue()
        self.plug()

    def plug(self):
        self.far, self._near = os.openpty()
        tty.setraw(self._near)
        self._wake_read, self._wake_write = os.pipe()
        self.link.symlink_to(os.ttyname(self._near))
        self._thread = threading.Thread(target=self._listen, daemon=True)
        self._thread.start()

    def pull(self):
        self.link.unlink()
        os.write(self._wake_write, b"x")
        self._thread.join(PATIENCE_S)
        for end in (self._near, self.far, self._wake_read, self._wake_write):
            os.close(end)
        self.far = -1

    def say(self, *notifications):
        for said in notifications:
            os.write(self.far, encode_line(rpc.notification_json(said)))

    def _listen(self):
        decoder = LineDecoder()
        while True:
            ready, _, _ = select.select([self.far, self._wake_read], [], [])
            if self._wake_read in ready:
                return
            for line in decoder.receive(os.read(self.far, 4096)):
                self._answer(rpc.parse_message(line))

    def _answer(self, message):
        self.asked.put(message.request)
        answer = self.answers.get(type(message.request))
        if isinstance(answer, tuple):
            os.write(self.far, encode_line(rpc.failure_json(message.id, *answer)))
        elif answer is not None:
            os.write(self.far, encode_line(rpc.result_json(message.id, answer)))


class Received:
    """What an intake delivers, and a way to wait for one kind of it."""

    def __init__(self):
        self.events = queue.Queue()

    def __call__(self, event, acknowledge):
        assert acknowledge is None
        self.events.put(event)

    def next(self, kind):
        while not isinstance(event := self.events.get(timeout=PATIENCE_S), kind):
            pass
        return event


@pytest.fixture
def plugged(tmp_path):
    """Plug in scripted boards; pulls them at the end."""
    boards = []

    def plug(name="board", **changes):
        answers = ANSWERS | {Hello: replace(HELLO, **changes)}
        boards.append(ScriptedBoard(tmp_path / name, answers))
        return boards[-1]

    yield plug
    for board in boards:
        if board.far >= 0:
            board.pull()


@pytest.fixture
def reading():
    """Start intakes; stops them at the end."""
    intakes = []

    def read(board, *, online=True, **more):
        received = Received()
        intake = SerialIntake("hall", str(board.link), received, clock_ms=lambda: NOW_MS, **more)
        intakes.append(intake)
        intake.start()
        if online:
            status = received.next(DeviceStatus)
            assert status.online, status.words
        return intake, received

    yield read
    for intake in intakes:
        intake.stop()


def result(future: Future):
    return future.result(timeout=PATIENCE_S)


def test_a_board_is_greeted_and_named(plugged, reading):
    board = plugged()
    received = Received()
    intake = SerialIntake("hall", str(board.link), received, clock_ms=lambda: NOW_MS)
    assert (intake.board, intake.device) == (None, str(board.link))
    intake.start()
    assert received.next(DeviceStatus) == DeviceStatus(
        "hall", "board-1a2b3c", NOW_MS, True, f"rgb, firmware 0.1.0, on {board.link}"
    )
    assert intake.board == HELLO
    intake.stop()
    assert received.next(DeviceStatus).words == f"serial port {board.link}: closed"
    assert intake.board is None


def test_what_the_board_says_by_itself_is_delivered(plugged, reading):
    board = plugged()
    _, received = reading(board)
    board.say(COLOUR, CLIMATE, Button(6, 2), Fault(7, "part", "no answer at 0x5a", 1))
    assert received.next(ReadingsArrived) == COLOUR_ARRIVED
    assert received.next(ReadingsArrived) == CLIMATE_ARRIVED
    assert received.next(ButtonPressed) == ButtonPressed("hall", "board-1a2b3c", NOW_MS, 2, 6)
    assert received.next(FaultReported) == FaultReported(
        "hall", "board-1a2b3c", NOW_MS, "part", "no answer at 0x5a", 1, 7
    )


class TestAsking:
    def test_measure(self, plugged, reading):
        board = plugged()
        intake, received = reading(board)
        board.answers[Measure] = COLOUR
        assert result(intake.measure(["colour"])) == COLOUR_ARRIVED
        board.answers[Measure] = CLIMATE
        assert result(intake.measure(["climate"])) == CLIMATE_ARRIVED
        assert received.events.empty()  # what was asked for goes to who asked

    def test_configure_stream_and_self_test(self, plugged, reading):
        intake, _ = reading(plugged())
        assert result(intake.configure("auto", led_ma=12)) == ANSWERS[Configure]
        assert result(intake.stream(100, 1000)) == ANSWERS[Stream]
        assert result(intake.self_test()) == ANSWERS[SelfTest]

    @pytest.mark.parametrize(
        ("code", "kind"), [(-32602, BadInput), (-32001, BoardFault), (-32002, BoardFault)]
    )
    def test_a_refusal_fails_the_future_with_the_boards_words(self, plugged, reading, code, kind):
        board = plugged()
        intake, _ = reading(board)
        board.answers[Configure] = (code, "gain 3: wanted one of 1, 4, 16, 60")
        with pytest.raises(kind, match="board-1a2b3c: gain 3: wanted one of"):
            result(intake.configure(3))

    def test_what_cannot_be_sent_fails_too(self, plugged, reading):
        intake, _ = reading(plugged())
        with pytest.raises(BadInput, match="leave the value out"):
            result(intake.configure(float("nan")))

    def test_nothing_can_be_asked_of_a_board_that_is_away(self, plugged, reading):
        board = plugged()
        intake, received = reading(board)
        board.answers[SelfTest] = None
        open_request = intake.self_test()
        board.pull()
        assert not received.next(DeviceStatus).online
        with pytest.raises(LinkError, match="went away before it answered"):
            result(open_request)
        with pytest.raises(LinkError, match="the board is away; plug it in"):
            result(intake.measure(["colour"]))

    def test_a_pack_of_nothing_good_is_a_fault(self, plugged, reading):
        board = plugged()
        intake, received = reading(board)
        board.answers[Measure] = ClimatePack(9, (Record("air_temperature", "Cel", -300),))
        with pytest.raises(BoardFault, match="no value came back"):
            result(intake.measure(["climate"]))
        refused = received.next(InputRejected)
        assert refused.source == "hall/board-1a2b3c"
        assert "air_temperature reads -300 Cel, wanted -60 to 150 Cel" in refused.words


def test_pulled_and_plugged_in_again_the_board_goes_on_as_it_was(plugged, reading):
    board = plugged()
    intake, received = reading(board)
    result(intake.configure("auto"))
    result(intake.stream(100, 1000))
    board.say(CLIMATE)
    received.next(ReadingsArrived)
    board.pull()
    assert not received.next(DeviceStatus).online
    while not board.asked.empty():
        board.asked.get()
    board.plug()
    while not received.next(DeviceStatus).online:
        pass
    wanted = [Hello(), Configure(16, 50, 12), Stream(120, 1000)]
    assert [board.asked.get(timeout=PATIENCE_S) for _ in wanted] == wanted
    board.say(replace(CLIMATE, sequence=0))
    assert received.next(ReadingsArrived) == replace(CLIMATE_ARRIVED, sequence=0)


def test_a_board_that_falls_silent_and_starts_anew_is_restored(plugged, reading):
    """Its USB chip kept the port alive while the program started anew: no stream, no word."""
    board = plugged()
    intake, _ = reading(board, patience=Patience(stream_ms=100))
    result(intake.stream(100, 1000))
    asked = [board.asked.get(timeout=PATIENCE_S) for _ in range(4)]
    assert asked == [Hello(), Stream(100, 1000), Hello(), Stream(120, 1000)]


class TestTrouble:
    def test_noise_and_gaps_are_counted(self, plugged, reading):
        board = plugged()
        _, received = reading(board)
        board.say(CLIMATE)
        os.write(board.far, b"\xff static \x00\n" + b"x" * 3000 + b"\n")
        board.say(replace(CLIMATE, sequence=9))
        assert received.next(ReadingsMissing).count == 3
        counters = received.next(LinkCounters)
        while counters.missing < 3 or counters.overlong < 1:
            counters = received.next(LinkCounters)
        assert (counters.failed_checks, counters.overlong, counters.missing) == (1, 1, 3)

    def test_a_message_we_do_not_know_is_named(self, plugged, reading):
        board = plugged()
        _, received = reading(board)
        os.write(board.far, encode_line({"jsonrpc": "2.0", "method": "scream"}))
        assert "method 'scream': unknown" in received.next(InputRejected).words

    @pytest.mark.parametrize(
        ("changes", "words"),
        [
            ({"protocol": 2}, "speaks protocol 2, wanted 1"),
            ({"firmware": "9.9.9"}, "runs firmware"),
        ],
    )
    def test_another_program_is_named_and_left_alone(self, plugged, reading, changes, words):
        board = plugged(**changes)
        intake, received = reading(board, online=False)
        status = received.next(DeviceStatus)
        assert not status.online
        assert words in status.words
        assert "sprayout board install" in status.words
        board.say(CLIMATE)
        with pytest.raises(LinkError):
            result(intake.measure(["colour"]))
        assert received.events.empty()

    def test_what_is_no_board_is_named(self, plugged, reading):
        board = plugged()
        board.answers[Hello] = None
        os.write(board.far, b"another machine says hello\n")
        _, received = reading(board, online=False, patience=Patience(hello_ms=50))
        words = received.next(DeviceStatus).words
        assert "no answer to hello" in words
        assert "is it the sensor board, with our program on it?" in words
        board.answers[Hello] = HELLO
        assert received.next(DeviceStatus).online

    def test_two_boards_with_one_name(self, plugged, reading):
        known = KnownBoards()
        first, second = plugged("first"), plugged("second")
        _, received = reading(first, boards=known)
        intake, received_second = reading(second, online=False, boards=known)
        status = received_second.next(DeviceStatus)
        assert status.device == str(second.link)
        assert f"two boards call themselves board-1a2b3c, on {first.link} and" in status.words
        first.pull()
        assert not received.next(DeviceStatus).online
        second.pull()
        second.plug()
        while not received_second.next(DeviceStatus).online:
            pass
        assert intake.board == HELLO

    def test_an_unknown_port_is_refused_at_start(self, tmp_path):
        intake = SerialIntake("hall", str(tmp_path / "nothing"), Received())
        with pytest.raises(BadInput, match="it is not there"):
            intake.start()

    def test_or_waited_for(self, tmp_path):
        received = Received()
        intake = SerialIntake("hall", str(tmp_path / "board"), received)
        intake.start(wait_for_port=True)
        assert "it is not there" in received.next(DeviceStatus).words
        board = ScriptedBoard(tmp_path / "board", ANSWERS)
        assert received.next(DeviceStatus).online
        intake.stop()
        board.pull()
