"""Check sums of the chips: CRC-8, one bit at a time (a table would cost 256 bytes of heap)."""


def crc8(octets, polynomial, start):
    """CRC-8, most significant bit first, no reflection, no final exclusive-or.

    Climate and airflow chips: polynomial 0x31, start 0xFF; BE EF gives 92.
    SMBus packet error code: polynomial 0x07, start 0.
    """
    crc = start
    for octet in octets:
        crc ^= octet
        for _ in range(8):
            crc = ((crc << 1) ^ polynomial if crc & 0x80 else crc << 1) & 0xFF
    return crc


def checked_words(octets):
    """16-bit words of an answer in which each word is followed by its CRC-8; None if one fails."""
    words = []
    for at in range(0, len(octets), 3):
        if crc8(octets[at : at + 2], 0x31, 0xFF) != octets[at + 2]:
            return None
        words.append(octets[at] << 8 | octets[at + 1])
    return words
