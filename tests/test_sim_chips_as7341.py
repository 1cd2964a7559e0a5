"""The spectral chip at register level: switch chain, banks, timing, saturation, gains."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sprayout.sim.chips.as7341 import AS7341, GAINS_OF_64, STEP_S, connections
from sprayout.sim.chips.bus import I2cBus
from sprayout.sim.chips.led import Led
from sprayout.sim.faults import WrongIdentity
from sprayout.sim.stepped_clock import SteppedClock
from sprayout.sim.surroundings import SteadySurroundings

AT = 0x39
LOW = bytes.fromhex("3001000000420000500000002004003001500006")
HIGH = bytes.fromhex("0000004002001003501003000000240000500006")


class Chip:
    """A chip on a bus, with the steps of its start-up at hand."""

    def __init__(self, surroundings: SteadySurroundings | None = None, **given: object) -> None:
        self.clock = SteppedClock()
        self.led = Led(self.clock)
        self.chip = AS7341(surroundings or SteadySurroundings(), self.led, self.clock, **given)  # type: ignore[arg-type]
        self.bus = I2cBus([self.chip], self.clock)

    def write(self, register: int, *octets: int) -> None:
        self.bus.writeto_mem(AT, register, bytes(octets))

    def read(self, register: int, count: int = 1) -> bytes:
        return self.bus.readfrom_mem(AT, register, count)

    def set_chain(self, chain: bytes) -> None:
        self.write(0x80, 0x01)
        self.write(0xAF, 0x10)
        self.write(0x00, *chain)
        self.write(0x80, 0x11)
        self.clock.advance(0.001)
        assert self.read(0x80) == b"\x01"

    def measure(self, gain_code: int, atime: int = 29, astep: int = 599) -> list[int]:
        self.write(0x81, atime)
        self.write(0xCA, astep & 0xFF, astep >> 8)
        self.write(0xAA, gain_code)
        self.write(0x80, 0x03)
        self.clock.advance((atime + 1) * (astep + 1) * STEP_S + 1e-6)
        octets = self.read(0x94, 13)
        self.write(0x80, 0x01)
        return [octets[at] | octets[at + 1] << 8 for at in range(1, 13, 2)]


# Rows of the BSD-licensed Adafruit_AS7341 driver's two switch settings.
@pytest.mark.parametrize(
    ("chain", "expected"),
    [
        (LOW, ["f1", "f2", "f3", "f4", "clear", "nir"]),
        (HIGH, ["f5", "f6", "f7", "f8", "clear", "nir"]),
    ],
)
def test_switch_chain_puts_both_diodes_of_a_band_on_its_converter(
    chain: bytes, expected: list[str]
) -> None:
    wired = connections(chain)
    sites = {"nir": 1}
    assert wired == {at: [c] * sites.get(c, 2) for at, c in enumerate(expected)}


def test_old_switch_setting_reads_f7_high_and_f8_half() -> None:
    """0x23 at byte 0x0E, as an older driver had it, puts the right F8 diode on F7's converter."""
    old = bytearray(HIGH)
    old[0x0E] = 0x23
    chip = Chip(SteadySurroundings(ambient_share=1.0))
    chip.set_chain(HIGH)
    right = chip.measure(7)
    chip.set_chain(bytes(old))
    wrong = chip.measure(7)
    assert wrong[3] == pytest.approx(right[3] / 2, rel=0.02)
    assert wrong[2] == pytest.approx(right[2] + right[3] / 2, rel=0.02)


def test_each_band_arrives_on_its_own_converter() -> None:
    levels = SteadySurroundings(ambient_share=1.0).spectral_per_ms
    chip = Chip(SteadySurroundings(ambient_share=1.0))
    for chain, names in ((LOW, ("f1", "f2", "f3", "f4")), (HIGH, ("f5", "f6", "f7", "f8"))):
        chip.set_chain(chain)
        counts = chip.measure(7)
        for at, name in enumerate((*names, "clear", "nir")):
            assert counts[at] == pytest.approx(levels[name] * 64 * 50.04, rel=0.01), name


def test_identity_register() -> None:
    assert Chip().read(0x92)[0] >> 2 == 9
    assert Chip(faults=[WrongIdentity("as7341", 0x3F)]).read(0x92)[0] >> 2 == 0x3F


def test_led_registers_need_the_other_bank() -> None:
    chip = Chip()
    chip.write(0x74, 0x84)
    assert chip.led.light_ma(0.0) == 0.0
    assert chip.chip.misuses == ["write to 0x74 in the wrong bank"]
    chip.write(0xA9, 0x10)
    chip.write(0x70, 0x08)
    chip.write(0x74, 0x84)
    assert chip.led.light_ma(0.0) == 12.0  # mA = 4 + 2n
    assert chip.read(0x92) == b"\0"  # the upper bank is out of reach now


def test_data_are_ready_after_the_integration_time_and_not_before() -> None:
    chip = Chip()
    chip.set_chain(LOW)
    chip.write(0x81, 29)
    chip.write(0xCA, 599 & 0xFF, 599 >> 8)
    chip.write(0x80, 0x03)
    chip.clock.advance(0.0499)
    assert chip.read(0xA3)[0] & 0x40 == 0
    chip.clock.advance(0.0002)
    assert chip.read(0xA3)[0] & 0x40


def test_reading_the_status_latches_all_six_channels() -> None:
    chip = Chip()
    chip.set_chain(LOW)
    chip.measure(9)
    before = chip.read(0x95, 12)
    chip.write(0x80, 0x03)
    chip.clock.advance(1.0)
    assert chip.read(0x95, 12) == before  # not latched: old data stay
    assert chip.read(0x94, 13)[1:] != before


@pytest.mark.parametrize(
    ("atime", "astep", "full_scale", "flag"),
    [(29, 599, 18000, 0x08), (99, 999, 65535, 0x10), (0, 999, 1000, 0x08)],
)
def test_full_scale_follows_the_integration_time_and_is_flagged(
    atime: int, astep: int, full_scale: int, flag: int
) -> None:
    """Full scale = min(65535, (ATIME+1)(ASTEP+1)): ams AS7341L data sheet."""
    chip = Chip(SteadySurroundings(ambient_share=20.0))
    chip.set_chain(LOW)
    assert max(chip.measure(10, atime, astep)) == full_scale
    assert chip.read(0xA3)[0] & 0x18 == flag


@pytest.mark.parametrize("code", range(11))
@pytest.mark.parametrize("seed", range(3))
def test_gain_ratios_stay_within_the_data_sheet(code: int, seed: int) -> None:
    """Ratios to 64x: lowest and highest of the ams AS7341L data sheet; measured on clear."""
    low, _, high = GAINS_OF_64[code]
    surroundings = SteadySurroundings(ambient_share=0.1 if code > 6 else 1.0)
    chip = Chip(surroundings, seed=seed)
    chip.set_chain(LOW)
    ratio = chip.measure(code)[4] / chip.measure(7)[4]
    assert low * 0.99 - 0.001 <= ratio <= high * 1.01 + 0.001


def test_two_highest_gains_are_not_exact_doublings() -> None:
    chip = Chip(SteadySurroundings(ambient_share=0.05))
    chip.set_chain(LOW)
    at_64, at_512 = chip.measure(7)[4], chip.measure(10)[4]
    assert at_512 / at_64 == pytest.approx(7.75, rel=0.05)
    assert abs(at_512 / at_64 - 8) > 0.05


def test_dark_counts_within_the_data_sheet() -> None:
    """512x, 98 ms: 3 counts at most, 5 on ADC5."""
    chip = Chip(SteadySurroundings(ambient_share=0.0))
    chip.set_chain(LOW)
    for _ in range(20):
        counts = chip.measure(10, 29, 1174)
        # Read noise of ours stands on top of the sheet's offset.
        assert all(
            value <= limit + 30 for value, limit in zip(counts, (3,) * 5 + (5,), strict=True)
        )


def test_same_seed_same_counts() -> None:
    def counts(seed: int) -> list[int]:
        chip = Chip(seed=seed)
        chip.set_chain(LOW)
        return chip.measure(9)

    assert counts(4) == counts(4)
    assert counts(4) != counts(5)


@settings(deadline=None, max_examples=60)
@given(st.binary(min_size=20, max_size=20))
def test_any_switch_setting_wires_only_real_diodes(chain: bytes) -> None:
    wired = connections(chain)
    assert set(wired) <= set(range(6))
    assert sum(len(channels) for channels in wired.values()) <= 19
