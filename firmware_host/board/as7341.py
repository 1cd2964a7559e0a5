"""8-channel spectral chip (AS7341 class, address 0x39).

Six converters, ten kinds of photodiode: a spectrum takes two passes with the switch chain (SMUX)
set differently.  Both passes carry *clear* and *nir*; those of the first are kept.
Register facts: ams AS7341L data sheet DS000718 v1-00; SMUX rows after the BSD-licensed Adafruit
driver, with F8's right-hand diode on converter 3.
"""

from registers import Field, PartFault, RegisterChip, Word, expect, little_endian_words

CONFIG_LED_SEL = Field(0x70, 3, 1, bank=1)
LED = Field(0x74, bank=1)  # b7 on, b6:0 (mA - 4) / 2
ENABLE = Field(0x80)
ATIME = Field(0x81)
ID = Field(0x92, 2, 6)
STATUS2 = Field(0xA3)
CFG0 = Field(0xA9)
AGAIN = Field(0xAA, 0, 5)
SMUX_CMD = Field(0xAF)
ASTEP = Word(0xCA)
DATA = 0x94  # ASTATUS, whose reading latches CH0..CH5 behind it

_POWER, _MEASURE, _SMUX = 0x01, 0x02, 0x10
_SMUX_WRITE = 0x10
_STEP_US = 2.78
_ATIME = 29
# Every converter is placed in each pass: 0 off, 1..6 = ADC0..ADC5, two nibbles a byte.
_PASSES = (
    (
        bytes.fromhex("3001000000420000500000002004003001500006"),
        ("f1", "f2", "f3", "f4", "clear", "nir"),
    ),
    (
        bytes.fromhex("0000004002001003501003000000240000500006"),
        ("f5", "f6", "f7", "f8", None, None),
    ),
)


class AS7341(RegisterChip):
    name = "as7341"
    addresses = (0x39,)
    sensor = "spectral-8"
    channels = ("f1", "f2", "f3", "f4", "f5", "f6", "f7", "f8", "clear", "nir")
    gains = (0.5, 1, 2, 4, 8, 16, 32, 64, 128, 256, 512)
    default_gain = 64
    integration_limits_ms = (1, 500)
    lamp_limits_ma = (4, 258)
    passes = len(_PASSES)

    def __init__(self, bus, address):
        RegisterChip.__init__(self, bus, address)
        self.bank = None
        self.expose(self.default_gain, 50)

    def select(self, bank):
        if bank != self.bank:
            self.write(0xA9, bytes((bank << 4,)))
            self.bank = bank

    def identify(self):
        self.bank = None
        identity = ID.read(self)
        expect(self.name, self.address, identity, 0x09)
        return "0x%02x" % identity

    def start_up(self):
        ENABLE.write(self, _POWER)
        yield 1
        self.set_lamp(0)

    def expose(self, gain, integration_ms):
        """Take gain and integration time for the next measurement; says what they become."""
        steps = round(integration_ms * 1000 / (_STEP_US * (_ATIME + 1)))
        steps = min(max(steps, 2), 65535)
        self.gain = gain
        self.gain_code = self.gains.index(gain)
        self.steps = steps
        self.integration_ms = round((_ATIME + 1) * steps * _STEP_US / 1000, 2)
        self.full_scale = min(65535, (_ATIME + 1) * steps)

    def begin(self, number):
        """Start pass ``number``.  All settings are written again: a chip may have lost them."""
        self.bank = None
        ENABLE.write(self, _POWER)
        ATIME.write(self, _ATIME)  # first: it tells, afterwards, whether the rest was kept
        ASTEP.write(self, self.steps - 1)
        AGAIN.write(self, self.gain_code)
        SMUX_CMD.write(self, _SMUX_WRITE)
        self.write(0x00, _PASSES[number][0])
        ENABLE.write(self, _POWER | _SMUX)
        for _ in range(10):
            yield 1
            if not ENABLE.read(self) & _SMUX:
                break
        ENABLE.write(self, _POWER | _MEASURE)

    def ready(self):
        return bool(STATUS2.read(self) & 0x40)

    def take(self, number, counts, saturated):
        """Put the counts of a finished pass into ``counts``, clipped channels in ``saturated``."""
        octets = self.read(DATA, 13)
        overflow = octets[0] & 0x80 or STATUS2.read(self) & 0x18
        ENABLE.write(self, _POWER)
        if octets[0] & 0x0F != self.gain_code or ATIME.read(self) != _ATIME:
            raise PartFault("as7341 at 0x%02x: lost its settings while measuring" % self.address)
        values = little_endian_words(octets[1:])
        clipped = [value >= self.full_scale for value in values]
        for at, channel in enumerate(_PASSES[number][1]):
            if channel:
                counts[channel] = values[at]
                # A flag without a channel at the top: the chip does not say which, so all.
                if clipped[at] or (overflow and True not in clipped):
                    saturated.append(channel)

    def nearest_lamp_ma(self, ma):
        return 4 + 2 * round((ma - 4) / 2)

    def set_lamp(self, ma):
        CONFIG_LED_SEL.write(self, 1)
        LED.write(self, _drive(ma))

    def lamp_is(self, ma):
        """Whether the LED is still set as it was: after a dip of the supply it is dark."""
        return CONFIG_LED_SEL.read(self) == 1 and LED.read(self) == _drive(ma)


def _drive(ma):
    return 0x80 | (ma - 4) // 2 if ma else 0
