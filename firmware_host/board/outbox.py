"""What waits to be sent: every answer, of each notification only the newest, in order."""

from frames import LONGEST, encode

MOST_ANSWERS = 8
_CHUNK = 256
_STALE_MS = 1000
_ENDED = b"\n"  # ends a frame that was cut short; the check sum tells


class Outbox:
    """Bounded, and never waits for the cable: ``send`` writes what the port takes now.

    Where nothing was taken for a second, nobody reads.  The frame under way is given up then:
    whoever reads next must not take it for a reading of now.
    """

    def __init__(self, port, clock):
        self.port = port
        self.clock = clock
        self._stuck_since = None
        self.waiting = []  # (topic of a notification or None, message)
        self.frame = b""
        self.replaced = 0

    def full(self):
        return sum(1 for topic, _ in self.waiting if topic is None) >= MOST_ANSWERS

    def answer(self, request_id, result):
        self.waiting.append((None, {"jsonrpc": "2.0", "id": request_id, "result": result}))

    def refuse(self, request_id, code, words):
        error = {"code": code, "message": words}
        self.waiting.append((None, {"jsonrpc": "2.0", "id": request_id, "error": error}))

    def notify(self, method, topic, params):
        """Newest wins: an unsent notification of the same ``topic`` makes room.

        The newer one goes to the end, so that sequence numbers leave the board in order.
        """
        kept = [item for item in self.waiting if item[0] != topic]
        self.replaced += len(self.waiting) - len(kept)
        kept.append((topic, {"jsonrpc": "2.0", "method": method, "params": params}))
        self.waiting = kept

    def send(self):
        """Write until the port takes no more; True when something is left."""
        while self.frame or self.waiting:
            if not self.frame:
                self.frame = _line(self.waiting.pop(0)[1])
            taken = self.port.write(self.frame[:_CHUNK])
            if not taken:
                self._stuck()
                return True
            self._stuck_since = None
            self.frame = self.frame[taken:]
        return False

    def _stuck(self):
        now = self.clock.ticks_ms()
        if self._stuck_since is None:
            self._stuck_since = now
        elif self.clock.ticks_diff(now, self._stuck_since) > _STALE_MS and self.frame != _ENDED:
            self.frame = _ENDED


def _line(message):
    frame = encode(message)
    if len(frame) <= LONGEST:
        return frame
    words = "answer of %d bytes is longer than a line of %d" % (len(frame), LONGEST)
    error = {"code": -32603, "message": words}
    return encode({"jsonrpc": "2.0", "id": message.get("id"), "error": error})
