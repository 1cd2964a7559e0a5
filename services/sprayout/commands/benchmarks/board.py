"""``sprayout benchmark board``: the board over a pty, and the heap that a real MicroPython needs.

Round trips a second and the slowest hundredth of the measure requests, with pyserial on one end
and the board's program on the other: in this process, and under MicroPython with a heap of 192 kB
where it is installed.
"""

import json
import statistics
import time
from collections.abc import Callable
from pathlib import Path
from zlib import crc32

import serial

from sprayout.errors import BadInput, LinkError
from sprayout.sim.micropython_board import micropython_command, serve_micropython
from sprayout.sim.pty_cable import serve_on_pty
from sprayout.sim.surroundings import SteadySurroundings
from sprayout.sim.virtual_board import VirtualBoard

Figure = dict[str, object]
Json = dict[str, object]

HEAP_KB = 192
_HEAP_WATCH = Path(__file__).parents[4] / "tests" / "board" / "heap_watch.py"
_SMALLER_KB = (128, 96, 80, 72, 64, 56, 48, 40)


def run(quick: bool) -> dict[str, object]:
    """Measure; ``quick`` asks a tenth as often."""
    times = 10 if quick else 1
    with serve_on_pty(VirtualBoard(SteadySurroundings())) as cable:
        figures = _over_the_cable("CPython", cable.path, times)
    try:
        micropython_command()
    except BadInput as missing:
        return {"figures": figures, "left_out": str(missing)}
    with serve_micropython(SteadySurroundings(), heap=f"{HEAP_KB}k") as board:
        figures += _over_the_cable("MicroPython", board.path, times)
    return {"figures": figures + _heap(times)}


def _figure(name: str, value: float, goal: str | None = None, met: bool | None = None) -> Figure:
    return {"figure": name, "value": float(f"{value:.4g}"), "goal": goal, "met": met}


class _Line:
    """A port with a request and its answer on it."""

    def __init__(self, path: str) -> None:
        self.port = serial.Serial(path, timeout=5)
        self.number = 0

    def ask(self, method: str, params: Json) -> Json:
        self.number += 1
        request = {"jsonrpc": "2.0", "id": self.number, "method": method, "params": params}
        text = json.dumps(request).encode()
        self.port.write(text + b" *%08x\n" % crc32(text))
        while line := self.port.readline():
            answer: Json = json.loads(line[:-11])
            if answer.get("id") == self.number:
                return answer
        raise LinkError(f"{self.port.port}: no answer to {method}")

    def took_ms(self, rounds: int, method: str, params: Json) -> list[float]:
        took = []
        for _ in range(rounds):
            begun_s = time.perf_counter()
            self.ask(method, params)
            took.append(1e3 * (time.perf_counter() - begun_s))
        return took


def _over_the_cable(name: str, path: str, times: int) -> list[Figure]:
    line = _Line(path)
    line.ask("hello", {"protocol": 1})
    bare = line.took_ms(2000 // times, "stream", {})
    part = line.took_ms(1000 // times, "measure", {"of": ["part"]})
    climate = line.took_ms(300 // times, "measure", {"of": ["climate"]})
    colour = line.took_ms(100 // times, "measure", {"of": ["colour"]})
    line.port.close()
    return [
        _figure(f"{name}: round trips a second", 1e3 * len(bare) / sum(bare)),
        *_spread(f"{name}: stream request (no chip)", bare),
        *_spread(f"{name}: measure part (no waiting)", part),
        *_spread(f"{name}: measure climate (16 ms conversion)", climate),
        *_spread(f"{name}: measure colour (240 ms of light)", colour),
    ]


def _spread(name: str, took_ms: list[float]) -> list[Figure]:
    return [
        _figure(f"{name}, median ms", statistics.median(took_ms)),
        _figure(f"{name}, p99 ms", statistics.quantiles(took_ms, n=100, method="inclusive")[98]),
    ]


def _heap(times: int) -> list[Figure]:
    """Live objects under load, and the smallest heap in which the load still runs."""
    if not _HEAP_WATCH.exists():
        return []
    idle, live, whole = _watched(times)
    smallest = HEAP_KB
    for heap_kb in _SMALLER_KB:
        if not _runs_in(heap_kb):
            break
        smallest = heap_kb
    return [
        _figure("heap with the program loaded, kB", idle / 1e3),
        _figure(
            "highest live heap under load, kB",
            live / 1e3,
            f"below {whole / 1e3:.0f}",
            live < whole,
        ),
        _figure("smallest heap that runs the load, kB", smallest, "192", smallest <= HEAP_KB),
    ]


def _watched(times: int) -> tuple[int, int, int]:
    with serve_micropython(SteadySurroundings(), heap=f"{HEAP_KB}k", program=_HEAP_WATCH) as board:
        _load(board.path, 100 // times)
        board.hang_up()
        idle, live, whole = map(int, board.said().split())
    return idle, live, whole


def _runs_in(heap_kb: int) -> bool:
    with serve_micropython(SteadySurroundings(), heap=f"{heap_kb}k") as board:
        return not _failure_of(lambda: _load(board.path, 10))


def _failure_of(work: Callable[[], None]) -> str:
    try:
        work()
    except (LinkError, ValueError, serial.SerialException) as failure:
        return str(failure) or type(failure).__name__
    return ""


def _load(path: str, rounds: int) -> None:
    """Everything at once: both streams, automatic gain, self-test, requests in between."""
    line = _Line(path)
    try:
        _succeed(line, "self_test", {})
        _succeed(line, "configure", {"gain": "auto", "integration_ms": 5})
        _succeed(line, "stream", {"colour_ms": 100, "climate_ms": 50})
        for number in range(rounds):
            _succeed(line, "measure", {"of": ["colour"] if number % 2 else ["climate", "part"]})
    finally:
        line.port.close()


def _succeed(line: _Line, method: str, params: Json) -> None:
    answer = line.ask(method, params)
    if "result" not in answer:
        raise LinkError(f"{method}: {answer.get('error')}")
