"""The intake with the board's real program at the other end: simulated chips, a pty, pyserial."""

import queue
import sys
import time
from concurrent.futures import Future

import pytest

from sprayout.errors import BadInput, BoardFault
from sprayout.intake.events import (
    DeviceStatus,
    FaultReported,
    LinkCounters,
    ReadingsArrived,
    ReadingsMissing,
)
from sprayout.intake.serial_intake import SerialIntake
from sprayout.sim.faults import CableNoise, NoAnswer
from sprayout.sim.pty_cable import serve_on_pty
from sprayout.sim.surroundings import SteadySurroundings
from sprayout.sim.virtual_board import VirtualBoard

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="Windows has no pseudo-terminals")
PATIENCE_S = 20


class Received:
    def __init__(self):
        self.events, self.all = queue.Queue(), []

    def __call__(self, event, acknowledge):
        self.all.append(event)
        self.events.put(event)

    def next(self, *kinds):
        while not isinstance(event := self.events.get(timeout=PATIENCE_S), kinds):
            pass
        return event

    def until(self, kind, holds):
        while not holds(event := self.next(kind)):
            pass
        return event


def result(future: Future):
    return future.result(timeout=PATIENCE_S)


@pytest.fixture
def bench(tmp_path):
    """Start a virtual board and an intake that reads it; gives cable, intake and what it says."""
    ends = []

    def start(*faults):
        board = VirtualBoard(SteadySurroundings(), faults=faults)
        serving = serve_on_pty(board, tmp_path / "board")
        cable = serving.__enter__()
        ends.append(lambda: serving.__exit__(None, None, None))
        received = Received()
        intake = SerialIntake("hall", cable.path, received)
        intake.start()
        ends.append(intake.stop)
        received.until(DeviceStatus, lambda status: status.online)
        return cable, intake, received

    yield start
    for end in reversed(ends):
        end()


def test_everything_a_bench_asks_of_its_board(bench):
    _, intake, _ = bench()
    assert intake.board.sensor == "spectral-8"
    set_ = result(intake.configure("auto"))
    colour = result(intake.measure(["colour"]))
    assert colour.colour.gain == set_.gain
    assert [reading.channel for reading in colour.readings] == list(intake.board.channels)
    assert len(colour.colour.ambient) == len(colour.readings)
    assert all(reading.value < set_.full_scale for reading in colour.readings)
    climate = result(intake.measure(["climate", "part", "airflow"]))
    units = {reading.channel: reading.unit for reading in climate.readings}
    assert units["air_temperature"] == units["part_temperature"] == "Cel"
    assert units["relative_humidity"] == "%RH"
    assert units["booth_pressure"] == "Pa"
    assert result(intake.self_test()).passed


def test_what_the_board_refuses_is_the_persons_to_correct(bench):
    _, intake, _ = bench()
    with pytest.raises(BadInput, match="gain"):
        result(intake.configure(3.3))


def test_pulled_and_plugged_in_again_it_streams_as_before(bench):
    cable, intake, received = bench()
    set_ = result(intake.configure(8, 29))
    result(intake.stream(100, 100))
    for _ in range(3):
        cable.pull()
        received.until(DeviceStatus, lambda status: not status.online)
        cable.replug()
        received.until(DeviceStatus, lambda status: status.online)
        colour = received.until(ReadingsArrived, lambda arrival: arrival.colour is not None)
        assert colour.colour.gain == set_.gain
        received.until(ReadingsArrived, lambda arrival: arrival.colour is None)


def test_static_on_the_cable_is_counted_and_its_gaps_are_told(bench):
    """One byte in two thousand is spoilt: no false reading, every loss seen as a gap."""
    _, intake, received = bench(CableNoise(per_byte=1 / 2000))
    result(intake.stream(0, 50))
    received.until(LinkCounters, lambda counters: counters.failed_checks >= 5)
    seen = list(received.all)
    missing = sum(event.count for event in seen if isinstance(event, ReadingsMissing))
    air = [
        reading.value
        for event in seen
        if isinstance(event, ReadingsArrived)
        for reading in event.readings
        if reading.channel == "air_temperature"
    ]
    assert missing >= 1
    assert len(air) > missing
    assert air == pytest.approx([air[0]] * len(air), abs=0.5)


def test_a_probe_that_dies_is_a_fault_and_no_reading(bench):
    _, intake, received = bench(NoAnswer("sht31", from_s=time.monotonic() + 1))
    result(intake.stream(0, 50))
    assert received.next(ReadingsArrived).readings[0].channel == "air_temperature"
    fault = received.next(FaultReported)
    assert fault.part == "climate"
    assert "0x44" in fault.words
    with pytest.raises(BoardFault, match="0x44"):
        result(intake.measure(["climate"]))
