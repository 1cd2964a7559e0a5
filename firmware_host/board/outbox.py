"""What waits to be sent: a few answers in order, of each notification only the newest."""

from frames import LONGEST, encode

MOST_ANSWERS = 8
_CHUNK = 256


class Outbox:
    """Bounded, and never waits for the cable: ``send`` writes what the port takes now."""

    def __init__(self, port):
        self.port = port
        self.answers = []
        self.newest = {}
        self.frame = b""
        self.replaced = 0

    def full(self):
        return len(self.answers) >= MOST_ANSWERS

    def answer(self, request_id, result):
        self.answers.append({"jsonrpc": "2.0", "id": request_id, "result": result})

    def refuse(self, request_id, code, words):
        error = {"code": code, "message": words}
        self.answers.append({"jsonrpc": "2.0", "id": request_id, "error": error})

    def notify(self, method, topic, params):
        """Newest wins: an unsent notification of the same ``topic`` is replaced."""
        if topic in self.newest:
            self.replaced += 1
        self.newest[topic] = {"jsonrpc": "2.0", "method": method, "params": params}

    def send(self):
        """Write until the port takes no more; True when something is left."""
        while self.frame or self.answers or self.newest:
            if not self.frame:
                self.frame = self._next()
            taken = self.port.write(self.frame[:_CHUNK])
            if not taken:
                return True
            self.frame = self.frame[taken:]
        return False

    def _next(self):
        if self.answers:  # in the order of the questions
            message = self.answers.pop(0)
        else:
            topic = next(iter(self.newest))
            message = self.newest.pop(topic)
        frame = encode(message)
        if len(frame) <= LONGEST:
            return frame
        words = "answer of %d bytes is longer than a line of %d" % (len(frame), LONGEST)
        error = {"code": -32603, "message": words}
        return encode({"jsonrpc": "2.0", "id": message.get("id"), "error": error})
