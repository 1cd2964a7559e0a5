"""``sprayout board``: put the program on a board, test a board, or offer a virtual one."""

import json
import shutil
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from concurrent.futures import TimeoutError as NotInTime
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Annotated

import typer

from sprayout.errors import BadInput, BoardFault, LinkError
from sprayout.intake.events import Acknowledge, DeviceStatus, Event, InputRejected
from sprayout.intake.serial_intake import SerialIntake
from sprayout.link.messages import HelloAnswer, SelfTestAnswer
from sprayout.link.port import choose_path
from sprayout.sim.board_program import board_files
from sprayout.sim.surroundings import Surroundings
from sprayout.sim.virtual_board import Parts, VirtualBoard
from sprayout.sim.world import World

Serial = Annotated[str, typer.Option("--serial", metavar="PATH|auto", help="The board's port.")]

_GREETED_S = 5.0
_TESTED_S = 25.0
_COPIED_S = 120.0
_BY_BUTTON = "hold its push button while plugging it in (the program then stays out of the way)"


def register(app: typer.Typer) -> None:
    """Add the command and its three sub-commands."""
    board = typer.Typer(help="The sensor board: install, test, emulate.", no_args_is_help=True)
    board.command("install")(install)
    board.command("self-test")(self_test)
    board.command("emulate")(emulate)
    app.add_typer(board, name="board")


# install


def install(
    serial: Serial = "auto",
    show: Annotated[
        bool, typer.Option("--show", help="Only say which files go onto the board.")
    ] = False,
) -> None:
    """Copy the board's program onto a board that runs MicroPython.

    A board that already runs the program: hold its push button while plugging it in.
    """
    files = board_files()
    if show:
        typer.echo("\n".join(str(path) for path in files))
        return
    command = [*_mpremote(), "connect", choose_path(serial)]
    _copy([*command, "fs", "cp", *(str(path) for path in files), ":"])
    _copy([*command, "reset"])
    typer.echo(
        f"{len(files)} files copied; plug the board in again, then: sprayout board self-test"
    )


def _mpremote() -> list[str]:
    """The command that talks to MicroPython's prompt, from beside this Python or the path."""
    beside = Path(sys.executable).with_name("mpremote")
    found = str(beside) if beside.exists() else shutil.which("mpremote")
    if found is None:
        raise BadInput(
            "mpremote: command not found; get it with: pip install mpremote (or copy the files of "
            "`sprayout board install --show` onto the board by hand)"
        )
    return [found]


def _copy(command: list[str]) -> None:
    try:
        done = subprocess.run(command, capture_output=True, text=True, timeout=_COPIED_S)
    except subprocess.TimeoutExpired:
        raise BadInput(f"board: nothing moved for {_COPIED_S:g} s; {_BY_BUTTON}") from None
    if done.returncode:
        lines = (done.stderr or done.stdout).strip().splitlines()
        said = lines[-1] if lines else f"exit code {done.returncode}"
        raise BadInput(f"board: mpremote says {said!r}; {_BY_BUTTON}, and try again")


# self-test


def self_test(
    serial: Serial = "auto",
    as_json: Annotated[bool, typer.Option("--json", help="One JSON document.")] = False,
) -> None:
    """Have the board test its chips, lamp, readings and button; exit 1 if anything fails."""
    with _greeted(serial) as (intake, hello):
        answer = _await_test(intake)
    failed = [check.name for check in answer.checks if not check.passed]
    typer.echo(_as_json(hello, answer) if as_json else _as_text(hello, answer))
    if failed:
        raise BoardFault(
            f"{hello.device}: self-test failed: {', '.join(failed)}; see docs/board.md"
        )


@contextmanager
def _greeted(serial: str) -> Iterator[tuple[SerialIntake, HelloAnswer]]:
    """An intake whose board has introduced itself."""
    waiting = _Greeting()
    intake = SerialIntake("board", choose_path(serial), waiting.hear)
    intake.start()
    try:
        waiting.over.wait(_GREETED_S)
        hello = intake.board
        if hello is None:
            raise LinkError(waiting.words or f"{serial}: no board answers; is the program on it?")
        yield intake, hello
    finally:
        intake.stop()


class _Greeting:
    """Waits until the board is known, or refused in words."""

    def __init__(self) -> None:
        self.over = threading.Event()
        self.words = ""

    def hear(self, event: Event, acknowledge: Acknowledge | None) -> None:
        if acknowledge is not None:
            acknowledge()
        if isinstance(event, InputRejected) or (
            isinstance(event, DeviceStatus) and not event.online
        ):
            self.words = event.words
        elif not isinstance(event, DeviceStatus):
            return
        self.over.set()


def _await_test(intake: SerialIntake) -> SelfTestAnswer:
    try:
        return intake.self_test().result(_TESTED_S)
    except NotInTime:
        raise LinkError(f"{intake.device}: no answer to the self-test; plug it in again") from None


def _as_json(hello: HelloAnswer, answer: SelfTestAnswer) -> str:
    checks = [{"name": c.name, "passed": c.passed, "words": c.words} for c in answer.checks]
    document = {"device": hello.device, "firmware": hello.firmware, "sensor": hello.sensor}
    return json.dumps(document | {"passed": answer.passed, "checks": checks})


def _as_text(hello: HelloAnswer, answer: SelfTestAnswer) -> str:
    width = max(len(check.name) for check in answer.checks)
    lines = [f"{hello.device}, program {hello.firmware}, sensor {hello.sensor}"]
    lines += [
        f"  {'ok  ' if check.passed else 'FAIL'}  {check.name:<{width}}  {check.words}"
        for check in answer.checks
    ]
    return "\n".join(lines)


# emulate


def emulate(
    link: Annotated[
        Path | None, typer.Option(metavar="PATH", help="Name of the port; a temporary one else.")
    ] = None,
    seed: Annotated[int, typer.Option(help="Fixes tolerances, noise and weather.")] = 0,
    sensor: Annotated[str, typer.Option(help="spectral-8 or rgb.")] = "spectral-8",
    surface: Annotated[
        str, typer.Option(help="What lies under the sensor, or `nothing`.")
    ] = "white tile",
    real_micropython: Annotated[
        bool, typer.Option("--micropython", help="Run it under a real MicroPython.")
    ] = False,
) -> None:
    """Offer a virtual board as a serial port, until interrupted; prints the port."""
    parts = _parts(sensor)
    begun_s = time.monotonic()
    world = World(seed, lambda: time.monotonic() - begun_s)
    world.place(None if surface == "nothing" else surface)
    signal.signal(signal.SIGTERM, signal.default_int_handler)
    with (
        suppress(KeyboardInterrupt),
        _served(world, parts, seed, link, real_micropython, begun_s) as path,
    ):
        typer.echo(path)
        threading.Event().wait()


def _parts(sensor: str) -> Parts:
    chips = {"spectral-8": "as7341", "rgb": "tcs34725"}
    if sensor not in chips:
        raise BadInput(f"--sensor: got {sensor!r}, wanted one of {', '.join(chips)}")
    return Parts(colour=chips[sensor])


@contextmanager
def _served(
    world: Surroundings,
    parts: Parts,
    seed: int,
    link: Path | None,
    real_micropython: bool,
    begun_s: float,
) -> Iterator[str]:
    try:  # here, because install and self-test work without ptys, too
        from sprayout.sim.micropython_board import serve_micropython
        from sprayout.sim.pty_cable import serve_on_pty
    except ImportError as missing:
        raise BadInput(
            f"emulate: this system has no ptys ({missing.name}); use Linux or macOS"
        ) from None

    def clock() -> float:
        return time.monotonic() - begun_s

    if real_micropython:
        with serve_micropython(world, parts=parts, seed=seed, clock=clock, link=link) as running:
            yield running.path
    else:
        board = VirtualBoard(world, parts=parts, seed=seed, clock=clock)
        with serve_on_pty(board, link) as cable:
            yield cable.path
