"""Lines on the cable: one JSON object, a space, ``*``, eight hex digits of CRC-32, a newline.

Bytes in, messages out; no I/O.  A line counts only when its CRC-32 (IEEE 802.3, as in
``zlib.crc32``) *and* its JSON object hold, so noise never becomes a message.  Whatever fails is
counted and dropped, and the next newline resynchronises.  Rubbish that runs into a good frame on
the same line is cut off in front of it: a cable plugged in mid-sentence costs half a frame, not
one and a half.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from zlib import crc32

from sprayout.errors import BadInput

LINE_BYTES_MAX = 1024
"""Longest line, its newline included."""

_TAIL = re.compile(rb" \*([0-9a-f]{8})\r?\Z")
_KEPT_BYTES = LINE_BYTES_MAX  # of an endless line: a good frame may still stand at its end


@dataclass(frozen=True, slots=True)
class FrameCounters:
    """What a decoder met since it was made."""

    good: int = 0
    failed_checks: int = 0
    overlong: int = 0


def encode_line(message: Mapping[str, object]) -> bytes:
    """The line for one JSON object; :class:`BadInput` if it is too long or holds NaN."""
    try:
        text = json.dumps(message, ensure_ascii=False, separators=(",", ":"), allow_nan=False)
    except ValueError as fault:
        raise BadInput(f"message for the cable: {fault}; leave the value out instead") from fault
    body = text.encode()
    line = b"%s *%08x\n" % (body, crc32(body))
    if len(line) > LINE_BYTES_MAX:
        raise BadInput(
            f"message for the cable: {len(line)} bytes, wanted at most {LINE_BYTES_MAX}; "
            "ask for fewer channels at once"
        )
    return line


class LineDecoder:
    """Turns chunks of bytes, cut anywhere, into the messages they hold."""

    def __init__(self) -> None:
        self._rest = bytearray()
        self._overflowing = False
        self._good = self._failed = self._overlong = 0

    @property
    def counters(self) -> FrameCounters:
        """Good lines, lines (or beginnings of lines) dropped, lines beyond the longest."""
        return FrameCounters(self._good, self._failed, self._overlong)

    def receive(self, data: bytes) -> list[dict[str, object]]:
        """The messages completed by ``data``, in order."""
        *lines, rest = (bytes(self._rest) + data).split(b"\n")
        self._rest = bytearray(rest)
        messages = []
        for line in lines:
            message = self._read(line)
            if message is not None:
                messages.append(message)
        self._limit_rest()
        return messages

    def _limit_rest(self) -> None:
        if len(self._rest) > _KEPT_BYTES:
            self._overflowing = True
            del self._rest[:-_KEPT_BYTES]

    def _read(self, line: bytes) -> dict[str, object] | None:
        overlong = self._overflowing or len(line.rstrip(b"\r")) >= LINE_BYTES_MAX
        self._overflowing = False
        self._overlong += overlong
        found = _frame_in(line[-_KEPT_BYTES:])
        if found is None:
            self._failed += bool(line.strip()) and not overlong
            return None
        message, at_start = found
        self._good += 1
        self._failed += not (at_start or overlong)
        return message


def _frame_in(line: bytes) -> tuple[dict[str, object], bool] | None:
    """The good frame that ends this line, and whether it is the whole line."""
    tail = _TAIL.search(line)
    if tail is None:
        return None
    body, wanted = line[: tail.start()], int(tail[1], 16)
    for start in _openings(body):
        candidate = body[start:]
        if crc32(candidate) == wanted and len(candidate) + len(b" *00000000\n") <= LINE_BYTES_MAX:
            message = _json_object(candidate)
            if message is not None:
                return message, start == 0
    return None


def _openings(body: bytes) -> Iterator[int]:
    start = body.find(b"{")
    while start >= 0:
        yield start
        start = body.find(b"{", start + 1)


def _json_object(body: bytes) -> dict[str, object] | None:
    try:
        value = json.loads(body.decode(), parse_constant=_refuse_constant)
    except (ValueError, RecursionError):
        return None
    return value if isinstance(value, dict) else None


def _refuse_constant(name: str) -> object:
    raise ValueError(f"{name} is not JSON")
