"""Registers as a table: a driver names its fields, these classes move the bits.

Plain ``read(chip)`` and ``write(chip, value)``: descriptors are a build option of MicroPython
that small boards may lack.
"""


class PartFault(Exception):  # noqa: N818 - the protocol calls it a fault
    """A chip does not do its part; the message says which and how."""


class WrongChip(PartFault):
    """Something else answers where the chip should be."""


class Field:
    """Bits ``low`` and up of an 8-bit register, ``width`` of them, in register bank ``bank``."""

    def __init__(self, register, low=0, width=8, bank=0):
        self.register = register
        self.low = low
        self.mask = (1 << width) - 1
        self.bank = bank

    def read(self, chip):
        chip.select(self.bank)
        return (chip.read(self.register, 1)[0] >> self.low) & self.mask

    def write(self, chip, value):
        chip.select(self.bank)
        octet = (value & self.mask) << self.low
        if self.mask != 0xFF:
            kept = chip.read(self.register, 1)[0] & ~(self.mask << self.low)
            octet |= kept & 0xFF
        chip.write(self.register, bytes((octet,)))


class Word:
    """A 16-bit register pair, low byte first."""

    def __init__(self, register):
        self.register = register

    def write(self, chip, value):
        chip.select(0)
        chip.write(self.register, bytes((value & 0xFF, value >> 8)))


class RegisterChip:
    """A chip with 8-bit register addresses.  The bus is an argument, never a global."""

    command = 0  # or-ed to each register address (the RGB chip wants a command bit)

    def __init__(self, bus, address):
        self.bus = bus
        self.address = address

    def select(self, bank):
        """Chips without register banks have only bank 0."""

    def read(self, register, count):
        return self.bus.readfrom_mem(self.address, self.command | register, count)

    def write(self, register, octets):
        self.bus.writeto_mem(self.address, self.command | register, octets)


def little_endian_words(octets):
    return [octets[at] | octets[at + 1] << 8 for at in range(0, len(octets) - 1, 2)]


def expect(name, address, identity, wanted):
    """Refuse a chip by its identity, saying what was found."""
    if identity != wanted:
        raise WrongChip(
            "%s at 0x%02x: identity is 0x%02x, wanted 0x%02x; another chip or a bad contact"
            % (name, address, identity, wanted)
        )
