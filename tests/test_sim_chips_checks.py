"""Check sums of the simulated chips against the values their data sheets print."""

import pytest

from sprayout.sim.board_program import load
from sprayout.sim.chips.checks import remainder

# polynomial, start, message, CRC-8
PRINTED = [
    (0x31, 0xFF, "BEEF", 0x92),  # Sensirion SHT3x-DIS data sheet v4, table 19
    (0x07, 0x00, "B407B5D23A", 0x30),  # Melexis MLX90614 data sheet rev 13, read word
    (0x07, 0x00, "B42207C8", 0x48),  # the same, write word
    (0x07, 0x00, "B4FF", 0xE8),  # the same, sleep
]


@pytest.mark.parametrize(("polynomial", "start", "message", "crc"), PRINTED)
def test_check_sum_of_the_simulated_chips(
    polynomial: int, start: int, message: str, crc: int
) -> None:
    assert remainder(bytes.fromhex(message), polynomial, start) == crc


@pytest.mark.parametrize(("polynomial", "start", "message", "crc"), PRINTED)
def test_check_sum_of_the_board(polynomial: int, start: int, message: str, crc: int) -> None:
    assert load()["checks"].crc8(bytes.fromhex(message), polynomial, start) == crc
