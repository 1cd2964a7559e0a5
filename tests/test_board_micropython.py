"""The same files under a real MicroPython with a small heap, its console on a pty."""

import json
from collections.abc import Iterator
from pathlib import Path
from zlib import crc32

import pytest
import serial

from sprayout.sim.board_talk import BoardTalk
from sprayout.sim.faults import NoAnswer, WrongIdentity
from sprayout.sim.micropython_board import MicropythonBoard, serve_micropython
from sprayout.sim.stepped_clock import SteppedClock
from sprayout.sim.surroundings import SPECTRAL_CHANNELS, SteadySurroundings
from sprayout.sim.virtual_board import Parts

pytestmark = pytest.mark.needs("micropython")
ON_BOARD = Path(__file__).with_name("board")
RGB = Parts(colour="tcs34725", part=None, airflow=None)
Json = dict[str, object]


def frame(method: str, params: object, number: int) -> bytes:
    request = {"jsonrpc": "2.0", "id": number, "method": method, "params": params}
    text = json.dumps(request).encode()
    return text + b" *%08x\n" % crc32(text)


class Line:
    """A serial port and the lines on it, each with its check sum."""

    def __init__(self, board: MicropythonBoard) -> None:
        self.port = serial.Serial(board.path, timeout=10, exclusive=True)

    def next(self) -> Json:
        line = self.port.readline()
        assert line[-11:-9] == b" *" and int(line[-9:-1], 16) == crc32(line[:-11]), line
        return json.loads(line[:-11])  # type: ignore[no-any-return]

    def ask(self, method: str, params: object, number: int = 1) -> Json:
        self.port.write(frame(method, params, number))
        while (message := self.next()).get("id") != number:
            pass
        return message


@pytest.fixture(scope="module")
def board() -> Iterator[MicropythonBoard]:
    with serve_micropython(SteadySurroundings()) as running:
        yield running


@pytest.fixture
def line(board: MicropythonBoard) -> Iterator[Line]:
    line = Line(board)
    yield line
    line.port.close()


REQUESTS: list[tuple[str, object]] = [
    ("hello", {"protocol": 1}),
    ("measure", {"of": ["colour"]}),
    ("configure", {"gain": "auto", "integration_ms": 30}),
    ("measure", {"of": ["colour"]}),
    ("measure", {"of": ["climate"]}),
    ("measure", {"of": ["climate", "part", "airflow"]}),
    ("self_test", {}),
    ("configure", {"gain": 3}),
    ("measure", {"of": ["colour", "climate"]}),
    ("paint", {}),
    ("hello", {"protocol": 9}),
    ("stream", {"colour_ms": 0, "climate_ms": 0}),
]


def through_micropython(parts: Parts, seed: int) -> list[Json]:
    clock = SteppedClock(0.0)
    program = ON_BOARD / "lockstep.py"
    with serve_micropython(
        SteadySurroundings(), parts=parts, seed=seed, program=program, clock=clock
    ) as board:
        line = Line(board)
        answers = [line.ask(method, params, n) for n, (method, params) in enumerate(REQUESTS)]
        line.port.close()
    return answers


def through_cpython(parts: Parts, seed: int) -> list[Json]:
    talk = BoardTalk(SteadySurroundings(), parts=parts, seed=seed)
    answers: list[Json] = []
    for number, (method, params) in enumerate(REQUESTS):
        talk.send(frame(method, params, number))
        output = b""
        while not output.endswith(b"\n"):
            talk.clock.advance(max(talk.board.step(), 1) / 1000)
            output += talk.board.take_output()
        answers.append(json.loads(output[:-11]))
    return answers


@pytest.mark.parametrize("parts", [Parts(), RGB], ids=["spectral", "rgb"])
def test_both_pythons_give_the_same_answers(parts: Parts) -> None:
    """To the last count and digit, on the same simulated clock and seed."""
    ours = through_micropython(parts, seed=11)
    for micropython, cpython in zip(ours, through_cpython(parts, seed=11), strict=True):
        assert micropython == cpython


def test_boots_and_answers_with_a_heap_of_192_kb(line: Line) -> None:
    hello = line.ask("hello", {"protocol": 1})["result"]
    assert hello["channels"] == list(SPECTRAL_CHANNELS)  # type: ignore[index]
    assert [chip["role"] for chip in hello["chips"]] == ["colour", "climate", "part", "airflow"]  # type: ignore[index]
    assert line.ask("self_test", {})["result"]["passed"]  # type: ignore[index]


def test_each_band_is_reported_under_its_own_name(line: Line) -> None:
    pack = line.ask("measure", {"of": ["colour"]})["result"]
    levels = SteadySurroundings().spectral_per_ms
    for record in pack["senml"]:  # type: ignore[index]
        expected = levels[record["n"]] * 64 * 50.04 * 1.01
        assert record["v"] == pytest.approx(expected, rel=0.02), record["n"]


def test_control_c_is_data(line: Line) -> None:
    line.port.write(b"\x03\x03\x03")
    assert line.ask("hello", {"protocol": 1})["result"]["protocol"] == 1  # type: ignore[index]


def test_half_frames_and_noise(line: Line) -> None:
    whole = frame("hello", {"protocol": 1}, 7)
    for at in range(0, len(whole), 5):
        line.port.write(whole[:at])
        assert line.ask("hello", {"protocol": 1}, 8)["result"]["protocol"] == 1  # type: ignore[index]
    for value in range(256):
        line.port.write(bytes((value,)) * 40)
    line.port.write(b"\n")
    assert line.ask("hello", {"protocol": 1}, 9)["result"]["protocol"] == 1  # type: ignore[index]


def test_stream_of_both_kinds(line: Line) -> None:
    line.ask("configure", {"integration_ms": 10})
    line.ask("stream", {"colour_ms": 100, "climate_ms": 50})
    packs = [line.next() for _ in range(30)]
    line.ask("stream", {"colour_ms": 0, "climate_ms": 0})
    line.ask("configure", {"integration_ms": 50})
    colours = [pack for pack in packs if "gain" in pack["params"]]  # type: ignore[operator]
    assert 3 <= len(colours) <= 15
    sequences = [pack["params"]["sequence"] for pack in packs]  # type: ignore[index]
    assert sequences == sorted(set(sequences))


def test_faults_are_said_and_survived() -> None:
    faults = [NoAnswer("sht31", from_s=0.0), WrongIdentity("as7341", 0x12)]
    with serve_micropython(SteadySurroundings(), faults=faults) as board:
        line = Line(board)
        first = line.ask("hello", {"protocol": 1})["result"]
        assert first["sensor"] == "none"  # type: ignore[index]
        error = line.ask("measure", {"of": ["colour"]})["error"]
        assert "identity is 0x12, wanted 0x09" in error["message"]  # type: ignore[index]
        error = line.ask("measure", {"of": ["climate"]})["error"]
        assert error == {"code": -32001, "message": "sht31: no answer at 0x44"}
        line.port.close()


def test_half_the_heap_is_enough() -> None:
    """A workload of everything at once, measured inside: live objects after a collection."""
    with serve_micropython(SteadySurroundings(), program=ON_BOARD / "heap_watch.py") as board:
        line = Line(board)
        line.ask("self_test", {})
        line.ask("configure", {"gain": "auto", "integration_ms": 5})
        line.ask("stream", {"colour_ms": 100, "climate_ms": 50})
        for number in range(100, 120):
            line.ask("measure", {"of": ["colour"] if number % 2 else ["climate"]}, number)
        line.port.close()
        board.hang_up()
        idle, live, whole = map(int, board.said().split())
    assert whole < 200_000
    assert idle < live < whole / 2


def test_twelve_minutes_of_packs_fit_beside_the_program() -> None:
    """A board with a radio, its broker away: the full buffer leaves a quarter of the heap."""
    with serve_micropython(SteadySurroundings(), program=ON_BOARD / "heap_radio.py") as board:
        waiting, lost, used, free = map(int, board.said().split())
    assert waiting == 150 and lost > 0
    assert free > 0.25 * (used + free)


def test_button_held_at_power_up_leaves_the_prompt_alone() -> None:
    """The way in for installing: the program does not start, Ctrl-C stays as it was."""
    with serve_micropython(SteadySurroundings(pressed=True)) as board:
        assert board.process.wait(timeout=20) == 0
        assert board.said() == ""
