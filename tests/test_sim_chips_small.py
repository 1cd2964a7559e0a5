"""RGB, climate, infrared and pressure chips at register level."""

import pytest

from sprayout.sim.chips.bus import I2cBus
from sprayout.sim.chips.checks import remainder
from sprayout.sim.chips.led import Led
from sprayout.sim.chips.mlx90614 import MLX90614, packet
from sprayout.sim.chips.sdp810 import SDP810
from sprayout.sim.chips.sht31 import SHT31
from sprayout.sim.chips.tcs34725 import TCS34725
from sprayout.sim.faults import SoakedProbe
from sprayout.sim.stepped_clock import SteppedClock
from sprayout.sim.surroundings import SteadySurroundings

COMMAND = 0xA0


def rgb_chip(ambient_share: float = 1.0) -> tuple[SteppedClock, TCS34725, I2cBus]:
    clock = SteppedClock()
    chip = TCS34725(SteadySurroundings(ambient_share=ambient_share), Led(clock), clock)
    return clock, chip, I2cBus([chip], clock)


def start_rgb(clock: SteppedClock, bus: I2cBus, atime: int, gain: int) -> None:
    bus.writeto_mem(0x29, COMMAND | 0x01, bytes((atime,)))
    bus.writeto_mem(0x29, COMMAND | 0x0F, bytes((gain,)))
    bus.writeto_mem(0x29, COMMAND | 0x00, b"\x01")
    clock.advance(0.003)
    bus.writeto_mem(0x29, COMMAND | 0x00, b"\x03")
    clock.advance((256 - atime) * 2.4e-3 + 1e-6)


# ams TCS3472 data sheet v1-02: ATIME -> largest count
@pytest.mark.parametrize(
    ("atime", "largest"), [(0xFF, 1024), (0xF6, 10240), (0xEB, 21504), (0xD5, 44032), (0xC0, 65535)]
)
def test_rgb_full_scale(atime: int, largest: int) -> None:
    clock, _, bus = rgb_chip(ambient_share=500.0)
    start_rgb(clock, bus, atime, 3)
    assert bus.readfrom_mem(0x29, COMMAND | 0x14, 2) == largest.to_bytes(2, "little")


def test_rgb_channels_stand_in_the_order_clear_red_green_blue() -> None:
    clock, chip, bus = rgb_chip()
    start_rgb(clock, bus, 0xEB, 0)
    octets = bus.readfrom_mem(0x29, COMMAND | 0x14, 8)
    words = [octets[at] | octets[at + 1] << 8 for at in range(0, 8, 2)]
    levels = SteadySurroundings().rgb_per_ms
    for word, channel in zip(words, ("clear", "red", "green", "blue"), strict=True):
        assert word == pytest.approx(levels[channel] * 50.4, rel=0.02), channel
    assert chip.misuses == []


def test_rgb_low_byte_latches_the_high_byte() -> None:
    clock, _, bus = rgb_chip()
    start_rgb(clock, bus, 0xEB, 0)
    low = bus.readfrom_mem(0x29, 0x80 | 0x14, 1)[0]  # byte protocol: no increment
    clock.advance(10.0)  # many further conversions
    high = bus.readfrom_mem(0x29, 0x80 | 0x15, 1)[0]
    assert low | high << 8 == pytest.approx(19.9 * 50.4, rel=0.02)


def test_rgb_needs_the_command_bit_and_says_who_it_is() -> None:
    _, _, bus = rgb_chip()
    assert bus.readfrom_mem(0x29, 0x80 | 0x12, 1) == b"\x44"
    with pytest.raises(OSError):
        bus.readfrom_mem(0x29, 0x12, 1)


def test_rgb_started_too_early_is_noticed() -> None:
    clock, chip, bus = rgb_chip()
    bus.writeto_mem(0x29, COMMAND, b"\x01")
    clock.advance(0.001)
    bus.writeto_mem(0x29, COMMAND, b"\x03")
    assert chip.misuses == ["measurement started within 2.4 ms of power"]


def climate_chip(faults: list[SoakedProbe] | None = None) -> tuple[SteppedClock, SHT31, I2cBus]:
    clock = SteppedClock()
    chip = SHT31(SteadySurroundings(), clock, faults=faults or [])
    return clock, chip, I2cBus([chip], clock)


def climate(bus: I2cBus, clock: SteppedClock) -> tuple[float, float]:
    """°C and %RH by the data sheet's own formulas."""
    bus.writeto(0x44, b"\x24\x00")
    clock.advance(0.0151)
    octets = bus.readfrom(0x44, 6)
    assert remainder(octets[:2], 0x31, 0xFF) == octets[2]
    assert remainder(octets[3:5], 0x31, 0xFF) == octets[5]
    t, rh = int.from_bytes(octets[:2], "big"), int.from_bytes(octets[3:5], "big")
    return -45 + 175 * t / 65535, 100 * rh / 65535


# Longest conversion times: Sensirion SHT3x-DIS data sheet v4, table 4.
@pytest.mark.parametrize(
    ("command", "longest_s"), [(b"\x24\x00", 0.015), (b"\x24\x0b", 0.006), (b"\x24\x16", 0.004)]
)
def test_climate_read_early_is_not_acknowledged(command: bytes, longest_s: float) -> None:
    clock, _, bus = climate_chip()
    bus.writeto(0x44, command)
    clock.advance(longest_s - 0.0005)
    with pytest.raises(OSError):
        bus.readfrom(0x44, 6)
    clock.advance(0.001)
    assert len(bus.readfrom(0x44, 6)) == 6
    with pytest.raises(OSError):
        bus.readfrom(0x44, 6)  # once is all there is


def test_climate_values_and_repeatability() -> None:
    """High repeatability: 3 sigma is 0.06 K and 0.10 %RH (the same sheet)."""
    clock, _, bus = climate_chip()
    values = [climate(bus, clock) for _ in range(300)]
    for at, (there, three_sigma) in enumerate(((21.3, 0.06), (48.2, 0.10))):
        column = [row[at] for row in values]
        mean = sum(column) / len(column)
        sd = (sum((v - mean) ** 2 for v in column) / len(column)) ** 0.5
        assert mean == pytest.approx(there, abs=three_sigma / 5)
        assert 3 * sd == pytest.approx(three_sigma, rel=0.15)


def test_soaked_probe_reads_3_pct_high_and_dries_slowly() -> None:
    clock, _, bus = climate_chip([SoakedProbe(from_s=0.0, to_s=10.0)])
    assert climate(bus, clock)[1] == pytest.approx(51.2, abs=0.2)
    clock.advance(6 * 3600.0)
    assert climate(bus, clock)[1] == pytest.approx(48.2 + 3 / 2.718, abs=0.2)


def test_climate_status_heater_and_unknown_commands() -> None:
    clock, _, bus = climate_chip()
    bus.writeto(0x44, b"\x30\x6d")
    bus.writeto(0x44, b"\xf3\x2d")
    assert bus.readfrom(0x44, 3)[0] & 0x20
    with pytest.raises(OSError):
        bus.writeto(0x44, b"\x12\x34")
    bus.writeto(0x44, b"\x30\xa2")
    with pytest.raises(OSError):  # a millisecond for the reset
        bus.writeto(0x44, b"\x24\x00")
    clock.advance(0.0011)
    bus.writeto(0x44, b"\x24\x00")


def test_infrared_packet_of_the_data_sheet() -> None:
    """Melexis MLX90614 data sheet rev 13: B4 07 B5 D2 3A -> 30, which is 28.01 °C."""
    assert packet(0x5A, 0x07, 0x3AD2) == bytes.fromhex("D23A30")
    raw_c = 0x3AD2 * 0.02 - 273.15
    assert raw_c == pytest.approx(28.01, abs=0.005)


def test_infrared_needs_a_slow_bus_and_a_repeated_start() -> None:
    clock = SteppedClock()
    slow = I2cBus([MLX90614(SteadySurroundings(), clock)], clock)
    octets = slow.readfrom_mem(0x5A, 0x07, 3)
    raw = octets[0] | octets[1] << 8
    assert raw * 0.02 - 273.15 == pytest.approx(20.9, abs=0.15)
    slow.writeto(0x5A, b"\x07")  # with a stop
    with pytest.raises(OSError):
        slow.readfrom(0x5A, 3)
    fast = I2cBus([MLX90614(SteadySurroundings(), clock, bus_hz=400_000)], clock)
    with pytest.raises(OSError):
        fast.readfrom_mem(0x5A, 0x07, 3)


@pytest.mark.parametrize("part_c", [-80.0, 400.0])
def test_infrared_out_of_range_sets_the_error_flag(part_c: float) -> None:
    clock = SteppedClock()
    bus = I2cBus([MLX90614(SteadySurroundings(part_temperature_c=part_c), clock)], clock)
    assert bus.readfrom_mem(0x5A, 0x07, 2)[1] & 0x80


def test_pressure_words_scale_and_sign() -> None:
    clock = SteppedClock()
    bus = I2cBus([SDP810(SteadySurroundings(pressure_pa=-3.5), clock)], clock)
    with pytest.raises(OSError):
        bus.readfrom(0x25, 9)  # not started
    bus.writeto(0x25, b"\x36\x15")
    with pytest.raises(OSError):
        bus.readfrom(0x25, 9)  # not ready
    clock.advance(0.0081)
    octets = bus.readfrom(0x25, 9)
    for at in (0, 3, 6):
        assert remainder(octets[at : at + 2], 0x31, 0xFF) == octets[at + 2]
    pressure = int.from_bytes(octets[:2], "big", signed=True)
    assert int.from_bytes(octets[6:8], "big") == 60
    assert pressure / 60 == pytest.approx(-3.5, abs=0.5)
    with pytest.raises(OSError):
        bus.writeto(0x25, b"\x36\x7c")  # not while measuring
    bus.writeto(0x25, b"\x3f\xf9")
    bus.writeto(0x25, b"\x36\x7c")
