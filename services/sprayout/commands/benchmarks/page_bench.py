"""A bench to look at: a virtual board on a pty, and ``sprayout serve`` in a process of its own."""

import contextlib
import json
import os
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from sprayout.errors import LinkError
from sprayout.sim.pty_cable import serve_on_pty
from sprayout.sim.virtual_board import VirtualBoard
from sprayout.sim.world import World

TARGET = "pilot cutter hull blue"
STARTED_WITHIN_S = 30.0
BOARD_AWAY = "no board on the cable"


@dataclass(slots=True)
class PageBench:
    """The world on the bench and the address of its page; the server can be ended and begun."""

    world: World
    cable_path: str
    folder: Path
    settings: str
    port: int = 0
    process: subprocess.Popen[str] | None = None

    @property
    def address(self) -> str:
        """The page's address."""
        return f"http://127.0.0.1:{self.port}/"

    def begin(self) -> None:
        """Start the server; the port stays the same after the first start."""
        file = self.folder / "bench.toml"
        file.write_text(self.settings)
        command = [
            sys.executable, "-c", "from sprayout.cli import main; main()", "serve",
            "--store", str(self.folder / "bench.sqlite"), "--serial", self.cable_path,
            "--port", str(self.port), "--settings", str(file),
        ]  # fmt: skip
        path = os.pathsep.join(sys.path)
        environment = {**os.environ, "PYTHONPATH": path, "PYTHONUNBUFFERED": "1"}
        self.process = subprocess.Popen(command, stdout=subprocess.PIPE, text=True, env=environment)
        assert self.process.stdout is not None
        said = self.process.stdout.readline()
        address = said.rpartition(" ")[2].strip()
        if not address.startswith("http"):
            self.end()
            raise LinkError(f"the bench did not start: {said!r}")
        self.port = int(address.rstrip("/").rpartition(":")[2])

    def end(self) -> None:
        """End the server."""
        if self.process is not None:
            self.process.terminate()
            self.process.wait(15)
            if self.process.stdout is not None:
                self.process.stdout.close()
            self.process = None

    def ask(self, path: str, form: object = None) -> Any:
        """Return the JSON answer to a form (None: a look); a refusal raises LinkError."""
        request = urllib.request.Request(
            self.address.rstrip("/") + path,
            data=None if form is None else json.dumps(form).encode(),
            headers={"Content-Type": "application/json"},
        )
        try:
            with urllib.request.urlopen(request, timeout=60) as answer:
                return json.load(answer)
        except urllib.error.HTTPError as refused:
            with refused:
                raise LinkError(f"{path}: {json.load(refused)['error']}") from refused

    def until(self, holds: str) -> None:
        """Wait until the calibration is in one of the states that stand in `holds`."""
        end_s = time.monotonic() + STARTED_WITHIN_S
        while self.ask("/api/bench")["calibration"]["state"] not in holds:
            if time.monotonic() > end_s:
                raise LinkError(f"the bench did not come to {holds} in {STARTED_WITHIN_S:g} s")
            time.sleep(0.05)

    def calibrate(self) -> None:
        """Dark and white tile, as a person does it."""
        self.until("none, dark measured, ready")
        self.world.place("light trap")
        self.ask_again("/api/calibration/dark", {})
        self.world.place("white tile")
        self.ask_again("/api/calibration/white", {})

    def ask_again(self, path: str, form: object) -> Any:
        """Ask, and again while the board is away: a busy machine may lose it for a moment."""
        end_s = time.monotonic() + STARTED_WITHIN_S
        while True:
            try:
                return self.ask(path, form)
            except LinkError as refused:
                if BOARD_AWAY not in str(refused) or time.monotonic() > end_s:
                    raise
            time.sleep(0.2)

    def set_target(self) -> None:
        """Measure the old finish as the target."""
        self.world.place(TARGET)
        self.ask("/api/targets", {"name": TARGET, "measure": True})


@contextlib.contextmanager
def page_bench(
    folder: Path, settings: str = "", seed: int = 1, speed: float = 1.0
) -> Iterator[PageBench]:
    """Run a bench with a virtual board, `speed` times as fast as a real one, for the block."""

    begun_s = time.monotonic()

    def clock() -> float:
        # From nought: the world's evening is over after two days, a machine may be up for longer.
        return (time.monotonic() - begun_s) * speed

    world = World(seed, clock)
    world.place("light trap")
    with serve_on_pty(VirtualBoard(world, clock=clock, speed=speed, seed=seed)) as cable:
        bench = PageBench(world, cable.path, folder, settings)
        bench.begin()
        try:
            yield bench
        finally:
            bench.end()
