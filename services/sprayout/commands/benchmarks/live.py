"""How long a reading takes from the cable to the live stream, and what an idle bench costs.

The board's real program runs on simulated chips behind a pty; the bench runs as ``sprayout serve``
would, in a process of its own; the stream is read over HTTP as a browser reads it.
"""

import contextlib
import json
import os
import statistics
import subprocess
import sys
import tempfile
import threading
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from pathlib import Path

from sprayout.errors import LinkError
from sprayout.sim.pty_cable import serve_on_pty
from sprayout.sim.virtual_board import Port, VirtualBoard
from sprayout.sim.world import World

HZ = 10
GOAL_P99_MS = 20.0
GOAL_CPU_PCT = 5.0
GOAL_MEMORY_MB = 120.0


def run(quick: bool) -> dict[str, object]:
    """Return the figures; `quick` reads 10 s of stream instead of 60 s."""
    return measured(10.0 if quick else 60.0)


def measured(seconds: float) -> dict[str, object]:
    """Read the stream for so long, then leave the bench alone for as long again."""
    with (
        tempfile.TemporaryDirectory() as folder,
        _board() as (cable_path, written, world),
        _serve(Path(folder), cable_path) as (process, address),
    ):
        _calibrate(address, world)
        before = len(written)
        latencies_ms = _latencies_ms(address, written, seconds)
        frames = len(written) - before
        cpu_pct, memory_mb = _idle_cost(process.pid, seconds)
    if len(latencies_ms) < max(0.8 * frames, 2):
        # A frame without its event would be measured as the next one, and look fast.
        raise LinkError(f"benchmark: {frames} frames gave {len(latencies_ms)} events; run it again")
    p99 = statistics.quantiles(latencies_ms, n=100)[98]
    return {
        "frames": frames,
        "events": len(latencies_ms),
        "figures": [
            _figure("cable to live stream, p50, ms", statistics.median(latencies_ms), None),
            _figure("cable to live stream, p99, ms", p99, GOAL_P99_MS),
            _figure(
                "serve, one board at 10 Hz, no page open: % of one core", cpu_pct, GOAL_CPU_PCT
            ),
            _figure("serve, resident memory, MB", memory_mb, GOAL_MEMORY_MB),
        ],
    }


def _figure(name: str, value: float, goal: float | None) -> dict[str, object]:
    return {
        "figure": name,
        "value": round(value, 2),
        "goal": None if goal is None else f"<= {goal:g}",
        "met": None if goal is None else value <= goal,
    }


class TimedPort:
    """The board's end of the cable; notes when a climate frame is handed to it."""

    def __init__(self, port: Port, written: list[float]) -> None:
        self._port, self._written = port, written

    def read(self) -> bytes:
        return self._port.read()

    def write(self, octets: bytes) -> int:
        if b'"air_temperature"' in octets:
            self._written.append(time.monotonic())
        return self._port.write(octets)


@contextlib.contextmanager
def _board() -> Iterator[tuple[str, list[float], World]]:
    """A virtual board over a white tile; the list takes the time of each climate frame written."""
    written: list[float] = []

    class TimedBoard(VirtualBoard):
        def restart(self, port: Port | None = None) -> None:
            super().restart(None if port is None else TimedPort(port, written))

    world = World(1, time.monotonic)
    world.place("light trap")
    with serve_on_pty(TimedBoard(world, seed=1)) as cable:
        yield cable.path, written, world


@contextlib.contextmanager
def _serve(folder: Path, cable_path: str) -> Iterator[tuple[subprocess.Popen[str], str]]:
    settings = folder / "bench.toml"
    settings.write_text(f"colour_interval_s = {1 / HZ}\nclimate_interval_s = {1 / HZ}\n")
    command = [
        sys.executable, "-c", "from sprayout.cli import main; main()", "serve",
        "--store", str(folder / "bench.sqlite"), "--serial", cable_path, "--port", "0",
        "--settings", str(settings),
    ]  # fmt: skip
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join(sys.path), "PYTHONUNBUFFERED": "1"}
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True, env=environment) as process:
        assert process.stdout is not None
        first = process.stdout.readline()
        address = first.rpartition(" ")[2].strip()
        if not address.startswith("http"):
            process.kill()
            raise LinkError(f"benchmark: the bench did not start: {first!r}")
        try:
            yield process, address
        finally:
            process.terminate()
            process.wait(10)


def _calibrate(address: str, world: World) -> None:
    while _ask(address, "/api/bench")["calibration"]["state"] == "no board":
        time.sleep(0.05)
    _ask(address, "/api/calibration/dark", {})
    world.place("white tile")
    _ask(address, "/api/calibration/white", {})


def _ask(address: str, path: str, form: object = None) -> dict:  # type: ignore[type-arg]
    data = None if form is None else json.dumps(form).encode()
    request = urllib.request.Request(
        address.rstrip("/") + path, data=data, headers={"Content-Type": "application/json"}
    )
    try:
        with urllib.request.urlopen(request, timeout=30) as answer:
            return dict(json.load(answer))
    except urllib.error.HTTPError as refused:
        with refused:
            raise LinkError(f"benchmark: {path}: {json.load(refused)['error']}") from refused


def _latencies_ms(address: str, written: list[float], seconds: float) -> list[float]:
    """Time from the newest climate frame written before an event to the event's arrival.

    Colour goes the same way, but a colour takes the chip some 250 ms, so it cannot come at 10 Hz.
    """
    latencies: list[float] = []
    end = threading.Timer(seconds, lambda: None)
    end.start()
    with urllib.request.urlopen(address.rstrip("/") + "/api/live", timeout=30) as stream:
        while end.is_alive():
            line = stream.readline()
            if line.startswith(b"event: booth"):
                now = time.monotonic()
                before = [at for at in written[-3:] if at <= now]
                if before:
                    latencies.append((now - before[-1]) * 1000)
    return latencies


def _idle_cost(pid: int, seconds: float) -> tuple[float, float]:
    """CPU in per cent of one core over the time, and resident memory; from /proc (Linux)."""
    ticks = os.sysconf("SC_CLK_TCK")

    def used_s() -> float:
        fields = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
        return (int(fields[11]) + int(fields[12])) / ticks

    before, from_s = used_s(), time.monotonic()
    time.sleep(seconds)
    cpu_pct = 100 * (used_s() - before) / (time.monotonic() - from_s)
    status = Path(f"/proc/{pid}/status").read_text()
    rss_kb = next(int(row.split()[1]) for row in status.splitlines() if row.startswith("VmRSS"))
    return cpu_pct, rss_kb / 1024
