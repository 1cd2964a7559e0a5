"""Measuring a colour: ambient light with the LED off, warm-up, the surface with the LED on.

The work is written as generators that yield the milliseconds they want to wait, so that the
board goes on answering meanwhile.
"""

from registers import PartFault

WARM_UP_MS = 40
_HEADROOM = 0.8  # of full scale, for the brightest channel at automatic gain


class ColourMeter:
    """Gain, integration time and lamp current as asked for, and the part that carries them out.

    Gain changes when it is configured, never by itself: gains are not exact multiples of each
    other, so a change between white tile and sample would falsify the colour.
    """

    def __init__(self, part, lamp_ma, lamp_limit_ma):
        self.part = part
        self.gain = None  # the chip's own default
        self.integration_ms = 50
        self.led_ma = lamp_ma
        self.lamp_limit_ma = lamp_limit_ma

    def measuring_ms(self):
        chip = self.part.chip
        if chip is None:
            return 0
        one = chip.integration_ms + 6
        return WARM_UP_MS + int(2 * chip.passes * one)

    def set_up(self, chip):
        chip.expose(self.gain or chip.default_gain, self.integration_ms)

    def in_force(self, chip):
        self.set_up(chip)
        return {
            "gain": chip.gain,
            "integration_ms": chip.integration_ms,
            "full_scale": chip.full_scale,
            "led_ma": self.led_ma,
        }

    def measure(self):
        """One colour: a dictionary as it travels in a pack, without its sequence number."""
        return (yield from self.part.use(self._colour))

    def choose_gain(self):
        """The highest gain that keeps the surface now under the sensor below 80 % of full scale.

        By bisection on real measurements.  Integration time stays: full scale grows with it.
        """
        return (yield from self.part.use(self._bisect))

    def lamp_works(self):
        """Whether the LED makes a difference: (clear count lit, clear count dark)."""
        return (yield from self.part.use(self._lit_and_dark))

    def _colour(self, chip):
        self.set_up(chip)
        ambient = yield from self._spectrum(chip, 0)
        lit = yield from self._spectrum(chip, self.led_ma)
        return {
            "light": "on",
            "gain": chip.gain,
            "integration_ms": chip.integration_ms,
            "full_scale": chip.full_scale,
            "saturated": [c for c in chip.channels if c in lit[1]],
            "ambient": [ambient[0][c] for c in chip.channels],
            "senml": [{"n": c, "u": "count", "v": lit[0][c]} for c in chip.channels],
        }

    def _bisect(self, chip):
        fits, too_high = -1, len(chip.gains)
        while too_high - fits > 1:
            at = (fits + too_high) // 2
            chip.expose(chip.gains[at], self.integration_ms)
            counts, saturated = yield from self._spectrum(chip, self.led_ma)
            if saturated or max(counts.values()) >= _HEADROOM * chip.full_scale:
                too_high = at
            else:
                fits = at
        if fits < 0:
            self.set_up(chip)
            return None
        self.gain = chip.gains[fits]
        return self.in_force(chip)

    def _lit_and_dark(self, chip):
        self.set_up(chip)
        dark = yield from self._spectrum(chip, 0)
        lit = yield from self._spectrum(chip, self.led_ma)
        return lit[0]["clear"], dark[0]["clear"]

    def _spectrum(self, chip, ma):
        """Counts of all channels and the set of clipped ones, with the LED at ``ma``."""
        counts, saturated = {}, []
        try:
            chip.set_lamp(ma)
            if ma:
                yield WARM_UP_MS
            for number in range(chip.passes):
                yield from chip.begin(number)
                yield int(chip.integration_ms) + 1
                yield from _until_ready(chip)
                chip.take(number, counts, saturated)
            if not chip.lamp_is(ma):
                raise PartFault("%s: LED went out while measuring" % chip.name)
        finally:
            if ma:
                chip.set_lamp(0)
        return counts, saturated


def _until_ready(chip):
    # The chip's own clock may be some per cent slow.
    for _ in range(20 + int(chip.integration_ms) // 4):
        if chip.ready():
            return
        yield 1
    raise PartFault("%s at 0x%02x: does not finish a measurement" % (chip.name, chip.address))
