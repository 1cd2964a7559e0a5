"""Infrared thermometer (MLX90614 class, 0x5A): SMBus words with a packet error code.

Facts: Melexis MLX90614 data sheet rev 13.  The bus must run at 100 kHz or less.
"""

from checks import crc8
from registers import PartFault

_OBJECT = 0x07
_EMISSIVITY = 0x24
_ERROR = 0x8000


class MLX90614:
    name = "mlx90614"
    addresses = (0x5A,)

    def __init__(self, bus, address):
        self.bus = bus
        self.address = address

    def identify(self):
        """Its ID words say nothing of the type; its emissivity is never 0 and carries a PEC."""
        emissivity = self._word(_EMISSIVITY)
        if emissivity == 0:
            raise PartFault("mlx90614 at 0x%02x: emissivity word is 0" % self.address)
        return "0x%04x" % emissivity

    def start_up(self):
        yield 1

    def measure(self):
        raw = self._word(_OBJECT)
        if raw & _ERROR:
            raise PartFault("mlx90614 at 0x%02x: says its reading is in error" % self.address)
        yield 0
        return (("part_temperature", "Cel", round(raw / 50 - 273.15, 2)),)

    def _word(self, command):
        octets = self.bus.readfrom_mem(self.address, command, 3)
        sent = bytes((self.address << 1, command, self.address << 1 | 1)) + octets[:2]
        if crc8(sent, 0x07, 0) != octets[2]:
            raise PartFault("mlx90614 at 0x%02x: word fails its check sum" % self.address)
        return octets[0] | octets[1] << 8
