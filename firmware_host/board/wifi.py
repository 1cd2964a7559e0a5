"""Wi-Fi and the time, for boards that have a radio.  Joins, rejoins, asks for the time; waits for
none of it, but for the second that a time server may take to answer."""

import time

import network
import ntptime

_REJOIN_MS = 15000
_ASK_AGAIN_MS = 10000
_RENEW_MS = 3600000
# Boards count from 1970 or from 2000; the year of their zero says which.
_EPOCH_S = 946684800 if time.gmtime(0)[0] == 2000 else 0


class Wifi:
    """``up`` and ``unix_ms`` as the telemetry wants them."""

    def __init__(self, name, password, time_host):
        self._name, self._password = name, password
        ntptime.host = time_host
        ntptime.timeout = 1
        self._radio = network.WLAN(network.STA_IF)
        self._radio.active(True)
        self._next_join = self._next_time = time.ticks_ms()
        self._known = None  # (unix seconds, ticks) of the same moment

    def up(self):
        return self._radio.isconnected()

    def step(self):
        now = time.ticks_ms()
        if not self.up():
            self._carry_on()
            if time.ticks_diff(now, self._next_join) >= 0:
                self._next_join = time.ticks_add(now, _REJOIN_MS)
                self._radio.connect(self._name, self._password)
            return
        self._next_join = now  # else it would come back to life when the counter wraps
        if time.ticks_diff(now, self._next_time) >= 0:
            self._ask_time()

    def unix_ms(self):
        """(Unix seconds, milliseconds) now; None until a time server has answered."""
        if self._known is None:
            return None
        seconds, ticks = self._known
        passed = time.ticks_diff(time.ticks_ms(), ticks)
        return seconds + passed // 1000, passed % 1000

    def _ask_time(self):
        try:
            ntptime.settime()
        except OSError:
            self._next_time = time.ticks_add(time.ticks_ms(), _ASK_AGAIN_MS)
            self._carry_on()
            return
        self._next_time = time.ticks_add(time.ticks_ms(), _RENEW_MS)
        # A time server's answer is kept in whole seconds: right to within one.
        self._known = (int(time.time()) + _EPOCH_S, time.ticks_ms())

    def _carry_on(self):
        """Count on from now, before the tick counter wraps."""
        known = self.unix_ms()
        if known:
            self._known = (known[0], time.ticks_add(time.ticks_ms(), -known[1]))
