"""MQTT 3.1.1 packets, the few that a sensor needs (OASIS standard, section 3).  Bytes only."""

CONNACK, PUBACK, PINGRESP = 2, 4, 13
_LONGEST = 64  # nothing a broker sends us is longer
PING = b"\xc0\x00"
DISCONNECT = b"\xe0\x00"


def connect(client, user, password, will_topic, will, keep_alive_s):
    """Clean session; ``will`` is retained and sent with QoS 1 when we vanish."""
    flags = 0x02 | 0x04 | 0x08 | 0x20
    body = _text(client) + _text(will_topic) + _text(will)
    if user:
        flags |= 0x80
        body += _text(user)
        if password:
            flags |= 0x40
            body += _text(password)
    head = _text("MQTT") + bytes((4, flags)) + keep_alive_s.to_bytes(2, "big")
    return _packet(0x10, head + body)


def publish(topic, payload, number, retain=False):
    """QoS 1: the broker acknowledges ``number``."""
    kind = 0x30 | 0x02 | (0x01 if retain else 0)
    return _packet(kind, _text(topic) + number.to_bytes(2, "big") + payload)


def _packet(kind, body):
    return bytes((kind,)) + _length(len(body)) + body


def _length(count):
    octets = bytearray()
    while True:
        count, digit = count >> 7, count & 0x7F
        octets.append(digit | 0x80 if count else digit)
        if not count:
            return bytes(octets)


def _text(text):
    octets = text.encode()
    return len(octets).to_bytes(2, "big") + octets


class Broken(Exception):  # noqa: N818 - the state of the connection
    """What arrived is not MQTT, or more than a broker should send."""


class Reader:
    """Bytes in, (kind, body) out."""

    def __init__(self):
        self.buffer = bytearray()

    def feed(self, octets):
        self.buffer += octets
        packets = []
        while len(self.buffer) >= 2:
            count = self.buffer[1]
            if count > _LONGEST:
                raise Broken("a packet of more than %d bytes" % _LONGEST)
            if len(self.buffer) < 2 + count:
                break
            packets.append((self.buffer[0] >> 4, bytes(self.buffer[2 : 2 + count])))
            self.buffer = self.buffer[2 + count :]
        return packets
