"""Climate chip (SHT3x class, 0x44 or 0x45): single shots of high repeatability, no stretching.

Facts: Sensirion SHT3x-DIS data sheet v4.  Read before the 15 ms are over, it gives no answer.
"""

from checks import checked_words
from registers import PartFault

_SINGLE_SHOT = b"\x24\x00"
_SOFT_RESET = b"\x30\xa2"
_STATUS = b"\xf3\x2d"
_CONVERSION_MS = 16


class SHT3x:
    name = "sht31"
    addresses = (0x44, 0x45)

    def __init__(self, bus, address):
        self.bus = bus
        self.address = address

    def identify(self):
        """The class has no identity register: a status word with a good check sum stands in."""
        self.bus.writeto(self.address, _STATUS)
        words = checked_words(self.bus.readfrom(self.address, 3))
        if words is None:
            raise PartFault(
                "sht31 at 0x%02x: status word fails its check sum; another chip or a bad contact"
                % self.address
            )
        return "0x%04x" % words[0]

    def start_up(self):
        self.bus.writeto(self.address, _SOFT_RESET)
        yield 2

    def measure(self):
        self.bus.writeto(self.address, _SINGLE_SHOT)
        yield _CONVERSION_MS
        words = checked_words(self.bus.readfrom(self.address, 6))
        if words is None:
            raise PartFault("sht31 at 0x%02x: reading fails its check sum" % self.address)
        return (
            ("air_temperature", "Cel", round(-45 + 175 * words[0] / 65535, 2)),
            ("relative_humidity", "%RH", round(100 * words[1] / 65535, 2)),
        )
