"""A served bench with a virtual board, asked over HTTP as the page asks it."""

import asyncio
import random
import threading
from collections.abc import Awaitable, Callable, Iterator
from concurrent.futures import Future
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import httpx

from sprayout.clock import SystemClock
from sprayout.commands.running import Plan, Running, running_bench
from sprayout.journal.records import Batch, BatchAddition, Coat, Paint, Reducer, Swatch, Target
from sprayout.settings import Value, override, read_settings
from sprayout.sim.world import World
from sprayout.station import Station
from tests.acts_bench import CabledBoard, Clock

WHITE = "ice-van white"
PAINTS = (WHITE, "coal-hatch black", "quay-crane ochre", "smokebox red oxide", "deep-berth blue")


class WebBench:
    """The bench over HTTP, and the world under its sensor."""

    def __init__(self, client: httpx.Client, world: World, station: Station) -> None:
        self.client, self.world, self.station = client, world, station

    def get(self, path: str) -> Any:
        answer = self.client.get(path)
        assert answer.status_code == 200, answer.text
        return answer.json()

    def post(self, path: str, **form: Any) -> Any:
        answer = self.client.post(path, json=form)
        assert answer.status_code == 200, answer.text
        return answer.json()

    def refused(self, path: str, **form: Any) -> str:
        """The one line a form is refused with."""
        answer = self.client.post(path, json=form)
        assert 400 <= answer.status_code < 500, answer.text
        assert "\n" not in answer.json()["error"]
        return str(answer.json()["error"])

    def record(self) -> list[object]:
        """All that mixing puts on record, to see that a refusal changed nothing."""
        kinds = (Paint, Reducer, Target, Swatch, Batch, BatchAddition, Coat)
        return [self.station.reader.all(kind) for kind in kinds]

    def calibrate(self) -> None:
        self.world.place("white tile")
        self.post("/api/calibration/gain")
        self.world.place("light trap")
        self.post("/api/calibration/dark")
        self.world.place("white tile")
        tile = self.world.white_certificate
        form = {"wavelength_nm": tile.wavelength_nm, "reflectance": tile.reflectance}
        self.post("/api/calibration/white", **form)

    def swatch(self, parts: dict[str, int], over: str | None = None) -> Any:
        """Draw these drops out on a card, measure them and keep them with their paint."""
        self.world.place(self.world.shelf.drawdown(parts, over=over))
        return self.post("/api/paints/swatches", parts=parts, over=over)

    def fill_shelf(self, *, swatches: bool = True) -> None:
        """The paints, each known by its masstone and one let-down with white."""
        for name in PAINTS:
            form = {"name": name, "family": "enamel", "white": name == WHITE, "new": True}
            self.post("/api/paints", **form)
        for name in PAINTS if swatches else ():
            self.swatch({name: 20})
            if name != WHITE:
                self.swatch({name: 2, WHITE: 20})

    def follow(self) -> list[Any]:
        """Do what the advice says until it says stop; returns every advice."""
        said = [self.get("/api/mixing/advice")]
        while not said[-1]["done"] and len(said) < 12:
            for dose in said[-1]["add"]:
                self.pour(dose["paint"], dose["drops"])
            self.read_cup()
            said.append(self.get("/api/mixing/advice"))
        return said

    def pour(self, paint: str, drops: int, **form: Any) -> Any:
        self.world.add_drops(paint, drops)
        self.world.stir(60)
        return self.post("/api/batches/additions", paint=paint, **(form or {"drops": drops}))

    def read_cup(self) -> Any:
        self.world.place("cup")
        return self.post("/api/swatches")


@contextmanager
def served(
    plan: Plan, prepare: Callable[[Running], Awaitable[None]] | None = None
) -> Iterator[tuple[httpx.Client, Running]]:
    """The bench of a plan in a thread of its own; `prepare` runs in its loop before any request."""
    ready: Future[tuple[Running, asyncio.AbstractEventLoop]] = Future()

    async def serve() -> None:
        async with running_bench(plan) as running:
            if prepare is not None:
                await prepare(running)
            ready.set_result((running, asyncio.get_running_loop()))
            await running.ended

    thread = threading.Thread(target=lambda: asyncio.run(serve()), name="bench")
    thread.start()
    running, loop = ready.result(30)
    try:
        with httpx.Client(base_url=running.address, timeout=60) as client:
            yield client, running
    finally:
        loop.call_soon_threadsafe(running.stop)
        thread.join(30)


def plan_of(store: Path, seed: int = 3, **given: Value) -> Plan:
    """A bench on a free port with settings of its own; the journal is a real file."""
    in_force = override(read_settings(environment={}), port=0, **given)
    return Plan(in_force, store, SystemClock(), random.Random(seed))


@contextmanager
def web_bench(store: Path, seed: int = 5) -> Iterator[WebBench]:
    """A bench with a board of its own."""
    cabled = CabledBoard(seed, Clock())

    async def meet(running: Running) -> None:
        running.station.board = cabled
        await running.station.measuring.meet_board()

    with served(plan_of(store, seed), meet) as (client, running):
        yield WebBench(client, cabled.world, running.station)
