"""RGB chip (TCS34725 class, address 0x29), lit by an LED on a pin of the board.

Register facts: ams TCS3472 data sheet v1-02.  The chip has no saturation flag: full scale is
1,024 counts a cycle, 65,535 at most.
"""

from registers import Field, PartFault, RegisterChip, expect, little_endian_words

ENABLE = Field(0x00)
ATIME = Field(0x01)
GAIN = Field(0x0F, 0, 2)
ID = Field(0x12)
STATUS = Field(0x13)
DATA = 0x14

_POWER, _MEASURE = 0x01, 0x02
_CYCLE_MS = 2.4
_IDENTITIES = (0x44, 0x4D)


class TCS34725(RegisterChip):
    name = "tcs34725"
    addresses = (0x29,)
    sensor = "rgb"
    channels = ("red", "green", "blue", "clear")
    gains = (1, 4, 16, 60)
    default_gain = 16
    integration_limits_ms = (2.4, 614.4)
    lamp_limits_ma = (1, 50)
    passes = 1
    command = 0xA0  # command bit, auto-increment

    def __init__(self, bus, address):
        RegisterChip.__init__(self, bus, address)
        self.lamp = None  # the board's own LED pin, given by whoever builds the board
        self.expose(self.default_gain, 50)

    def identify(self):
        identity = ID.read(self)
        if identity not in _IDENTITIES:
            expect(self.name, self.address, identity, _IDENTITIES[0])
        return "0x%02x" % identity

    def start_up(self):
        self.set_lamp(0)
        ENABLE.write(self, _POWER)
        yield 3

    def expose(self, gain, integration_ms):
        cycles = min(max(round(integration_ms / _CYCLE_MS), 1), 256)
        self.gain = gain
        self.gain_code = self.gains.index(gain)
        self.cycles = cycles
        self.integration_ms = round(cycles * _CYCLE_MS, 2)
        self.full_scale = min(65535, 1024 * cycles)

    def begin(self, number):
        ENABLE.write(self, _POWER)
        ATIME.write(self, 256 - self.cycles)
        GAIN.write(self, self.gain_code)
        yield 3  # at least 2.4 ms between power and measurement
        ENABLE.write(self, _POWER | _MEASURE)

    def ready(self):
        return bool(STATUS.read(self) & 0x01)

    def take(self, number, counts, saturated):
        octets = self.read(DATA, 8)
        ENABLE.write(self, _POWER)
        if GAIN.read(self) != self.gain_code or ATIME.read(self) != 256 - self.cycles:
            raise PartFault("tcs34725 at 0x%02x: lost its settings while measuring" % self.address)
        values = little_endian_words(octets)
        for at, channel in enumerate(("clear", "red", "green", "blue")):
            counts[channel] = values[at]
            if values[at] >= self.full_scale:
                saturated.append(channel)

    def nearest_lamp_ma(self, ma):
        return round(ma)

    def set_lamp(self, ma):
        if self.lamp:
            self.lamp.set(ma)

    def lamp_is(self, ma):
        """The pin keeps what it was set to."""
        return True
