"""Lines on the cable: JSON, a space, an asterisk, eight hex digits of CRC-32, a newline."""

import json
from binascii import crc32

LONGEST = 1024
_TAIL = 10  # " *" and the digits
_OPENING = b'{"jsonrpc"'


def encode(message):
    text = json.dumps(message, separators=(",", ":")).encode()
    return text + (" *%08x\n" % (crc32(text) & 0xFFFFFFFF)).encode()


def checked(line):
    """The text of a line whose check sum holds, else None."""
    if line[-_TAIL:-8] != b" *":
        return None
    try:
        wanted = int(line[-8:], 16)
    except ValueError:
        return None
    text = line[:-_TAIL]
    # An empty text has check sum 0: eight zeros in the noise are no frame.
    return text if text and crc32(text) & 0xFFFFFFFF == wanted else None


class Receiver:
    """Bytes in, checked lines out.  Holds one line at most; rubbish is dropped and counted."""

    def __init__(self):
        self.buffer = bytearray()
        self.overrun = False
        self.dropped = 0

    def feed(self, octets):
        """Checked texts that ``octets`` complete."""
        texts = []
        for at, piece in enumerate(bytes(octets).split(b"\n")):
            if at:
                self._end_line(texts)
            self.buffer += piece
            if len(self.buffer) >= LONGEST:
                # The newest bytes stay: a good frame may follow noise without a newline.
                self.buffer = self.buffer[1 - LONGEST :]
                self.overrun = True
        return texts

    def _end_line(self, texts):
        line = bytes(self.buffer).rstrip(b"\r")
        self.buffer = bytearray()
        overrun, self.overrun = self.overrun, False
        if not line.strip():
            return
        text = checked(line)
        if text is None:
            # Half a frame and a whole one on a line: the whole one begins last.
            begins = line.rfind(_OPENING)
            text = checked(line[begins:]) if begins > 0 else None
            overrun = True
        if overrun:
            self.dropped += 1
        if text is not None:
            texts.append(text)
