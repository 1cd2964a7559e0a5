"""A part of the board: the role it plays, the chip found for it, and what is wrong with it.

A part starts, works, and may fail; a failed part gives no values and is started again later.
It never gives a made-up or an old value.
"""

from registers import PartFault

_RETRY_MS = 1000
_QUIET_MS = 10000  # at most one fault message a part in this time


class Part:
    """``drivers`` are tried in order at each of their addresses; the first that identifies wins.

    ``needed``: its absence is a fault.  Otherwise it is reported only once it has been there.
    """

    def __init__(self, role, drivers, needed, bus, clock, recover_bus, report):
        self.role = role
        self.drivers = [driver(bus, at) for driver in drivers for at in driver.addresses]
        self.needed = needed
        self.clock = clock
        self.recover_bus = recover_bus
        self.report = report  # called with (role, words, count)
        self.chip = None
        self.identity = None
        self.words = "not started yet"
        self.count = 0
        self._retry_at = clock.ticks_ms()
        self._quiet_until = None

    def working(self):
        """The chip, or PartFault with the reason why there is none."""
        if self.chip is None:
            raise PartFault(self.words)
        return self.chip

    def due(self):
        """Whether a start should be tried now.  Called often: it also forgets old deadlines,
        which would come back to life when the tick counter wraps after 12 days."""
        now = self.clock.ticks_ms()
        if self._quiet_until is not None and self.clock.ticks_diff(now, self._quiet_until) >= 0:
            self._quiet_until = None
        if self.chip is not None:
            return False
        if self._retry_at is not None and self.clock.ticks_diff(now, self._retry_at) >= 0:
            self._retry_at = None
        return self._retry_at is None

    def start(self):
        """Look for the chip: identity first, then start-up."""
        problem = None
        for chip in self.drivers:
            try:
                identity = chip.identify()
                for wait_ms in chip.start_up():
                    yield wait_ms
            except (OSError, PartFault) as failure:
                # Something that answers wrongly says more than an address without an answer.
                if problem is None or isinstance(failure, PartFault):
                    problem = _words(chip, failure)
            else:
                self.chip, self.identity = chip, identity
                self.needed = True
                return
        self.fail(problem)

    def use(self, work):
        """Run the steps ``work(chip)`` and return their result; a single failure is tried again."""
        for attempt in range(2):
            chip = self.working()
            try:
                return (yield from work(chip))
            except (OSError, PartFault) as failure:
                if attempt:
                    self.fail(_words(chip, failure))
                else:
                    self.recover_bus()
                    yield 2
        raise PartFault(self.words)

    def fail(self, words):
        """Count a failure, say it (not too often), and plan the next start."""
        self.chip = None
        self.words = words
        now = self.clock.ticks_ms()
        self._retry_at = self.clock.ticks_add(now, _RETRY_MS)
        self.recover_bus()
        if not self.needed:
            return
        self.count += 1
        if self._quiet_until is None:
            self._quiet_until = self.clock.ticks_add(now, _QUIET_MS)
            self.report(self.role, words, self.count)


def _words(chip, failure):
    if isinstance(failure, PartFault):
        return str(failure)
    return "%s: no answer at 0x%02x" % (chip.name, chip.address)
