"""Differential pressure chip (SDP8xx class, 0x25 or 0x26) across the booth filter.

Averages continuously until it is read; three words, each with CRC-8: pressure, temperature,
scale factor (counts per pascal).  Product numbers of the class begin with 0x0302.
"""

from checks import checked_words
from registers import PartFault, WrongChip

_START_AVERAGED = b"\x36\x15"
_STOP = b"\x3f\xf9"
_PRODUCT = (b"\x36\x7c", b"\xe1\x02")
_CLASS = 0x0302
_FIRST_RESULT_MS = 9


class SDP8xx:
    name = "sdp810"
    addresses = (0x25, 0x26)

    def __init__(self, bus, address):
        self.bus = bus
        self.address = address

    def identify(self):
        self._stop()
        for command in _PRODUCT:
            self.bus.writeto(self.address, command)
        words = self._checked(self.bus.readfrom(self.address, 18))
        if words[0] != _CLASS:
            raise WrongChip(
                "sdp810 at 0x%02x: product number begins 0x%04x, wanted 0x0302; another chip"
                % (self.address, words[0])
            )
        return "0x%04x%04x" % (words[0], words[1])

    def start_up(self):
        self._stop()
        yield 1
        self.bus.writeto(self.address, _START_AVERAGED)
        yield _FIRST_RESULT_MS

    def measure(self):
        pressure, _, scale = self._checked(self.bus.readfrom(self.address, 9))
        if scale == 0:
            raise PartFault("sdp810 at 0x%02x: scale factor is 0" % self.address)
        yield 0
        signed = pressure - 65536 if pressure & 0x8000 else pressure
        return (("booth_pressure", "Pa", round(signed / scale, 2)),)

    def _stop(self):
        try:
            self.bus.writeto(self.address, _STOP)
        except OSError:
            pass  # a chip that is not measuring may refuse to stop

    def _checked(self, octets):
        words = checked_words(octets)
        if words is None:
            raise PartFault("sdp810 at 0x%02x: answer fails its check sum" % self.address)
        return words
