"""The board's place at an MQTT broker: connects, keeps alive, and publishes one pack at a time.

What is given to ``send`` counts as delivered when the broker has acknowledged it, and not before;
after a broken connection the same bytes are sent again.
"""

from mqtt_packets import CONNACK, PING, PUBACK, Broken, Reader, connect, publish

_KEEP_ALIVE_S = 30
_PING_MS = 15000
_PATIENCE_MS = 10000
_RETRY_MS = 2000
_REFUSALS = ("", "protocol", "client name", "server not ready", "user or password", "not allowed")
_AWAY, _GREETING, _UP = range(3)


class Broker:
    """``dial()`` opens a ``Tcp``; ``topic`` is ``sprayout/<bench>/<device>``."""

    def __init__(self, dial, clock, device, topic, user="", password=""):
        self.dial = dial
        self.clock = clock
        self.topic = topic
        self.words = "not connected yet"
        self.payload = None  # given and not acknowledged yet
        self._hello = connect(device, user, password, topic + "/status", "offline", _KEEP_ALIVE_S)
        self._state = _AWAY
        self._tcp = None
        self._reader = None
        self._unsent = b""
        self._number = 0
        self._awaited = 0  # number of the packet whose acknowledgement we wait for
        self._deadline = self._ping_at = clock.ticks_ms()

    def up(self):
        return self._state == _UP

    def send(self, payload):
        """Give the next payload; only while ``payload`` is None."""
        self.payload = payload
        if self._state == _UP:
            self._publish("/senml", payload)

    def step(self):
        if self._tcp is None:
            if self._passed(self._deadline):
                self._open()
            return
        try:
            self._move()
        except (OSError, Broken) as failure:
            self._lost(str(failure) or "connection lost")

    def rest(self):
        """There is no network: let go, and dial at once when there is one."""
        if self._tcp is not None:
            self._lost("no network")
        self._deadline = self.clock.ticks_ms()

    def _open(self):
        try:
            self._tcp = self.dial()
        except OSError:
            self._lost("no broker at that address")
            return
        self._reader = Reader()
        self._unsent = self._hello
        self._awaited = 0
        self._deadline = self._after(_PATIENCE_MS)

    def _move(self):
        waits = self._state != _UP or self._awaited
        if waits and self._passed(self._deadline):
            raise OSError("the broker does not answer")
        if not self._tcp.writable():
            return
        if self._unsent:
            self._unsent = self._unsent[self._tcp.write(self._unsent) :]
        octets = self._tcp.read()
        if octets is None:
            raise OSError("the broker hung up")
        for kind, body in self._reader.feed(octets):
            self._received(kind, body)
        if self._state == _UP and not self._unsent and self._passed(self._ping_at):
            self._ping_at = self._after(_PING_MS)
            self._unsent = PING

    def _received(self, kind, body):
        if kind == CONNACK and self._state == _AWAY:
            code = body[1]
            if code:
                reason = _REFUSALS[code] if code < len(_REFUSALS) else "unknown reason"
                raise OSError("the broker refuses: " + reason)
            self._state = _GREETING
            self._publish("/status", b"online", retain=True)
        elif kind == PUBACK and self._awaited and body == self._awaited.to_bytes(2, "big"):
            self._awaited = 0
            if self._state == _UP:
                self.payload = None
                return
            self._state, self.words = _UP, "connected"
            self._ping_at = self._after(_PING_MS)
            if self.payload is not None:  # from before the connection broke
                self._publish("/senml", self.payload)

    def _publish(self, below, payload, retain=False):
        self._number = self._awaited = self._number % 65535 + 1
        self._unsent += publish(self.topic + below, payload, self._number, retain)
        self._deadline = self._after(_PATIENCE_MS)

    def _lost(self, words):
        if self._tcp is not None:
            self._tcp.close()
        self._tcp, self._unsent, self._state = None, b"", _AWAY
        self.words = words
        self._deadline = self._after(_RETRY_MS)

    def _after(self, ms):
        return self.clock.ticks_add(self.clock.ticks_ms(), ms)

    def _passed(self, deadline):
        return self.clock.ticks_diff(self.clock.ticks_ms(), deadline) >= 0
