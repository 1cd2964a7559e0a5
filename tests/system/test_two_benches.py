"""One bench sends its board on to the club's broker; another bench records it under its name."""

import asyncio
import contextlib
import random
from contextlib import ExitStack
from pathlib import Path

from sprayout.clock import SystemClock
from sprayout.commands.embedded_broker import embedded_broker
from sprayout.commands.running import Plan, running_bench
from sprayout.intake.broker import Broker
from sprayout.journal.reader import Reader
from sprayout.settings import override, read_settings
from sprayout.sim.pty_cable import serve_on_pty
from sprayout.sim.surroundings import SteadySurroundings
from sprayout.sim.virtual_board import VirtualBoard

WAIT_S = 30.0


def test_the_clubs_bench_records_what_a_sending_bench_forwards(tmp_path: Path) -> None:
    async def run() -> None:
        with ExitStack() as stack:
            broker = Broker("127.0.0.1", stack.enter_context(embedded_broker()))
            board = VirtualBoard(SteadySurroundings(), device="board-yard01")
            cable = stack.enter_context(serve_on_pty(board))
            usual = override(read_settings(environment={}), port=0)
            club = Plan(
                override(usual, bench="club"), tmp_path / "club.sqlite", SystemClock(),
                random.Random(1), broker=broker,
            )  # fmt: skip
            yard = Plan(
                override(usual, bench="yard", mqtt_forward=True), tmp_path / "yard.sqlite",
                SystemClock(), random.Random(2), serial=cable.path, broker=broker,
            )  # fmt: skip
            async with running_bench(club), running_bench(yard):
                await asyncio.wait_for(_recorded(tmp_path / "club.sqlite"), WAIT_S)

    asyncio.run(run())
    for store, bench in (("club", "yard"), ("yard", "yard")):
        with contextlib.closing(Reader(tmp_path / f"{store}.sqlite")) as reader:
            found = {(c.bench, c.device) for c in reader.channels()}
            assert found == {(bench, "board-yard01")}


async def _recorded(store: Path) -> None:
    """Wait until the club's store holds air and colour of the yard's board."""
    with contextlib.closing(Reader(store)) as reader:
        while True:
            channels = {c.channel for c in reader.channels("yard")}
            if {"air_temperature", "f1", "gain"} <= channels:
                return
            await asyncio.sleep(0.1)
