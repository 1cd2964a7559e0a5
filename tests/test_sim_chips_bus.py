"""The bus: who answers, what is stuck, who lost power."""

import pytest

from sprayout.errors import BadInput
from sprayout.sim.chips.bus import I2cBus
from sprayout.sim.chips.led import Led
from sprayout.sim.chips.sht31 import SHT31
from sprayout.sim.faults import DriftingLed, Fault, NoAnswer, StuckBus, WrongIdentity
from sprayout.sim.stepped_clock import SteppedClock
from sprayout.sim.surroundings import SteadySurroundings


def bus_with(*faults: Fault) -> tuple[SteppedClock, I2cBus]:
    clock = SteppedClock()
    return clock, I2cBus([SHT31(SteadySurroundings(), clock)], clock, faults)


def test_an_empty_address_is_not_acknowledged() -> None:
    _, bus = bus_with()
    assert bus.scan() == [0x44]
    with pytest.raises(OSError):
        bus.writeto(0x45, b"\x24\x00")


def test_a_silent_chip_comes_back() -> None:
    clock, bus = bus_with(NoAnswer("sht31", from_s=1.0, to_s=2.0))
    seen = []
    for _ in range(3):
        seen.append(bus.scan())
        clock.advance(1.0)
    assert seen == [[0x44], [], [0x44]]


@pytest.mark.parametrize("frees", [False, True])
def test_nine_clock_pulses_free_the_bus_only_if_the_chip_lets_go(frees: bool) -> None:
    _, bus = bus_with(StuckBus(frees=frees))
    assert bus.scan() == [] and bus.stuck()
    bus.clock_out()
    assert (bus.scan() == [0x44]) is frees


def test_led_warms_up_and_ages() -> None:
    clock = SteppedClock()
    led = Led(clock, [DriftingLed(per_hour=0.03)])
    led.set_ma(12.0)
    assert led.light_ma(0.0) == pytest.approx(12.0)
    assert led.light_ma(3.0) == pytest.approx(12.0 * 0.98, rel=1e-3)
    assert led.light_ma(7200.0) == pytest.approx(12.0 * 0.98 * 0.94, rel=1e-3)
    clock.advance(10.0)
    led.set_ma(0.0)
    assert led.light_ma(9.0) > 0.0  # a conversion may ask for the past
    assert led.light_ma(10.0) == 0.0


def test_faults_are_checked_when_they_are_made() -> None:
    with pytest.raises(BadInput, match="from_s is 5"):
        NoAnswer("sht31", from_s=5.0, to_s=5.0)
    with pytest.raises(BadInput, match="unknown chip"):
        WrongIdentity("thermometer", 1)
