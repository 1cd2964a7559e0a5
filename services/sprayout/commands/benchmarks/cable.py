"""``sprayout benchmark cable``: what a pulled cable and a noisy one cost.

The board's real program on simulated chips behind a pty, the host's own intake on the other end;
the noise goes through the host's own decoder.
"""

import queue
import random
import statistics
import time

from sprayout.errors import LinkError
from sprayout.intake.events import Event, ReadingsArrived
from sprayout.intake.serial_intake import SerialIntake
from sprayout.link.frames import LineDecoder, encode_line
from sprayout.sim.pty_cable import PtyCable, serve_on_pty
from sprayout.sim.surroundings import SteadySurroundings
from sprayout.sim.virtual_board import VirtualBoard

WAIT_S = 20.0
GOAL_REPLUG_S = 2.0
NOISE_BYTES = 1_000_000
FRAMES = 1_000
STREAM_MS = 50


def run(quick: bool) -> dict[str, object]:
    """Return the figures; `quick` pulls the cable five times instead of twenty."""
    back_s = replugs(5 if quick else 20)
    found, false, failed = noise(FRAMES, NOISE_BYTES)
    pure = noise(0, NOISE_BYTES if quick else 20 * NOISE_BYTES)[1]
    return {
        "figures": [
            _figure("replugged to the next reading, median, s", statistics.median(back_s)),
            _at_most("replugged to the next reading, worst, s", max(back_s), GOAL_REPLUG_S),
            _at_most(f"good frames lost of {FRAMES} in 1 MB of noise", FRAMES - found, 0),
            _at_most("false frames in that noise", false, 0),
            _figure("failed lines counted in that noise", failed),
            _at_most("false frames in noise alone", pure, 0),
        ]
    }


def _figure(name: str, value: float) -> dict[str, object]:
    return {"figure": name, "value": round(value, 3), "goal": None, "met": None}


def _at_most(name: str, value: float, goal: float) -> dict[str, object]:
    return {**_figure(name, value), "goal": f"<= {goal:g}", "met": value <= goal}


def replugs(rounds: int) -> list[float]:
    """Seconds from the port being back to the first reading, for each of so many pulls."""
    arrived: queue.Queue[float] = queue.Queue()

    def deliver(event: Event, _: object) -> None:
        if isinstance(event, ReadingsArrived):
            arrived.put(time.monotonic())

    with serve_on_pty(VirtualBoard(SteadySurroundings())) as cable:
        board = SerialIntake("bench", cable.path, deliver)
        board.start()
        try:
            _ask_for_readings(board)
            arrived.get(timeout=WAIT_S)
            return [_replug(cable, board, arrived) for _ in range(rounds)]
        except queue.Empty as error:
            raise LinkError("benchmark: no reading came; run it again") from error
        finally:
            board.stop()


def _ask_for_readings(board: SerialIntake) -> None:
    """Ask for readings as soon as the board has said hello."""
    _wait_for(board, there=True)
    board.stream(0, STREAM_MS).result(WAIT_S)


def _wait_for(board: SerialIntake, *, there: bool) -> None:
    end_s = time.monotonic() + WAIT_S
    while (board.board is not None) != there:
        if time.monotonic() > end_s:
            raise LinkError("benchmark: the board did not come or go; run it again")
        time.sleep(0.002)


def _replug(cable: PtyCable, board: SerialIntake, arrived: "queue.Queue[float]") -> float:
    cable.pull()
    # Only once the host has noticed: what it had buffered must not pass for a new reading.
    _wait_for(board, there=False)
    while not arrived.empty():
        arrived.get_nowait()
    back_s = time.monotonic()
    cable.replug()
    return arrived.get(timeout=WAIT_S) - back_s


def noise(frames: int, noise_bytes: int, seed: int = 1) -> tuple[int, int, int]:
    """Return good frames found, false ones, and failed lines; noise stands right before each."""
    chance, decoder = random.Random(seed), LineDecoder()
    sent = [{"jsonrpc": "2.0", "id": n, "result": {"n": n}} for n in range(frames)]
    got: list[dict[str, object]] = []
    pieces = max(frames, 1)
    for n in range(pieces):
        got += decoder.receive(chance.randbytes(noise_bytes // pieces))
        if n < frames:
            got += decoder.receive(encode_line(sent[n]))
    good = sum(message in sent for message in got)
    return good, len(got) - good, decoder.counters.failed_checks
