"""CRC-8 as the chips compute it in hardware, as polynomial division over the whole message.

Written apart from the board's own, so that an error in one is not in both.
"""


def remainder(message: bytes, polynomial: int, start: int) -> int:
    """CRC-8 of ``message``: ``start`` is added to the first byte, then long division."""
    value = int.from_bytes(message, "big") ^ (start << 8 * (len(message) - 1))
    value <<= 8
    divisor = 0x100 | polynomial
    for bit in range(value.bit_length() - 1, 7, -1):
        if value >> bit & 1:
            value ^= divisor << (bit - 8)
    return value


def word_with_crc(word: int) -> bytes:
    """A 16-bit word, big-endian, with the check byte of the climate and airflow chips."""
    octets = word.to_bytes(2, "big")
    return octets + bytes((remainder(octets, 0x31, 0xFF),))
