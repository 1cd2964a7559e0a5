"""A board computer without a clock battery: noticed at its start, its record dated anew."""

import asyncio
import random
from pathlib import Path

from sprayout.bench.record_clock import RecordClock
from sprayout.journal import records as r
from sprayout.journal.reader import Reader
from sprayout.journal.store import prepare_store
from sprayout.journal.writer import Writer
from sprayout.settings import override, read_settings
from sprayout.station import Station

T0 = 1_788_540_000_000
WAIT_S = 30.0


class SetLater:
    """Starts in 1970; the monotonic clock only ever runs on."""

    def __init__(self) -> None:
        self.wall_ms = 40_000
        self.passed_ms = 0

    def now_ms(self) -> int:
        return self.wall_ms

    def monotonic_ms(self) -> int:
        return self.passed_ms

    def real_s(self, clock_s: float) -> float:
        return 0.0

    def pass_on(self, ms: int) -> None:
        self.wall_ms += ms
        self.passed_ms += ms


async def run(store: Path, clock: SetLater) -> list[str]:
    with Writer(store, every_s=0.01) as writer, Reader(store) as reader:
        settings = override(read_settings(environment={}), bench="quay")
        station = Station(settings, RecordClock(clock, None), writer, reader, random.Random(1))
        await station.open()
        said = [notice.words for notice in station.notices]
        watching = asyncio.create_task(station.run())
        for n in range(5):
            clock.pass_on(1000)
            reading = r.Reading("quay", "probe", "air_speed", float(n), "m/s", station.now_ms())
            await station.commit([reading])
        clock.wall_ms = T0
        async with asyncio.timeout(WAIT_S):
            while not any(x.at_ms >= T0 - 10_000 for x in reader.latest("quay")):
                await asyncio.sleep(0.01)
        watching.cancel()
        await asyncio.gather(watching, return_exceptions=True)
        station.close()
    return said


def test_a_clock_without_battery_is_noticed_and_its_record_dated_anew(tmp_path: Path) -> None:
    store = tmp_path / "a.db"
    prepare_store(store)
    said = asyncio.run(run(store, SetLater()))
    assert len(said) == 1 and "this machine's clock said 1970-01-01" in said[0]
    assert "no clock battery" in said[0] and "set it" in said[0]
    with Reader(store) as reader:
        times = [x.at_ms for x in reader.readings("quay", 0, 2**62)]
        (step,) = reader.all(r.ClockStep)
    assert times == [T0 - 4000 + 1000 * n for n in range(5)]
    assert step.reason == "the clock was set forward"
