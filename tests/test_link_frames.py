"""Lines on the cable: every case whole, byte by byte, and with rubbish around it."""

import json
import random
from binascii import crc32
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sprayout.errors import BadInput
from sprayout.link.frames import LINE_BYTES_MAX, FrameCounters, LineDecoder, encode_line

MESSAGES: list[dict[str, object]] = [
    {"jsonrpc": "2.0", "id": 1, "method": "hello", "params": {"protocol": 1}},
    {"jsonrpc": "2.0", "method": "fault", "params": {"words": "no answer at 0x44 *deadbeef"}},
    {"jsonrpc": "2.0", "method": "fault", "params": {"words": "grün, 22 °C\n\x03\x00"}},
    {"nested": {"nested": {"nested": [{}, {"v": -1.5e-7}]}}},
    {},
]


def decoded(*chunks: bytes) -> tuple[list[dict[str, object]], FrameCounters]:
    decoder = LineDecoder()
    return [message for chunk in chunks for message in decoder.receive(chunk)], decoder.counters


def bytewise(data: bytes) -> list[bytes]:
    return [data[at : at + 1] for at in range(len(data))]


def test_the_check_is_the_crc32_of_its_published_check_value():
    """CRC-32/ISO-HDLC: the check value of the nine digits is 0xCBF43926 (Williams' parameters)."""
    assert crc32(b"123456789") == 0xCBF43926
    assert encode_line({"a": 1}) == b'{"a":1} *%08x\n' % crc32(b'{"a":1}')


@pytest.mark.parametrize("message", MESSAGES)
class TestThreeWays:
    def test_whole(self, message):
        assert decoded(encode_line(message)) == ([message], FrameCounters(good=1))

    def test_one_byte_at_a_time(self, message):
        assert decoded(*bytewise(encode_line(message))) == ([message], FrameCounters(good=1))

    @pytest.mark.parametrize("before", [b"\xff\x00\n", b"no frame *00000000\r\n", b'{"half":\n'])
    @pytest.mark.parametrize("after", [b"", b"\x80{{{", b" *00000000\n"])
    def test_rubbish_before_and_after(self, message, before, after):
        messages, counters = decoded(before + encode_line(message) + after)
        assert messages == [message]
        assert counters == FrameCounters(good=1, failed_checks=1 + after.endswith(b"\n"))

    def test_rubbish_that_runs_into_it(self, message):
        messages, counters = decoded(b'{"half": {"a' + encode_line(message))
        assert messages == [message]
        assert counters == FrameCounters(good=1, failed_checks=1)

    def test_a_terminal_that_adds_carriage_returns(self, message):
        line = encode_line(message).replace(b"\n", b"\r\n")
        assert decoded(line, b"\r\n") == ([message], FrameCounters(good=1))


@pytest.mark.parametrize("message", MESSAGES[:3])
def test_half_a_frame_at_every_byte_offset(message):
    """Cut anywhere, with or without a newline: the frames around the half one stand."""
    line, before, after = encode_line(message), encode_line({"n": 1}), encode_line({"n": 2})
    for cut in range(1, len(line) - 1):
        for half in (line[:cut], line[cut:], line[:cut] + b"\n"):
            messages, counters = decoded(before + half + after)
            assert messages == [{"n": 1}, {"n": 2}], half
            assert counters.good == 2
            assert counters.failed_checks == 1


@pytest.mark.parametrize("message", MESSAGES[:3])
def test_every_flipped_bit_is_noticed(message):
    """CRC-32 finds all single-bit errors; a flip in the newline joins two lines and costs one."""
    line = encode_line(message)
    for at in range(len(line)):
        for bit in range(8):
            spoilt = bytearray(line)
            spoilt[at] ^= 1 << bit
            messages, _ = decoded(bytes(spoilt) + b"\n" + encode_line({"n": 2}))
            assert messages == [{"n": 2}], (at, bit)


def test_a_megabyte_of_noise_between_frames():
    """Every good frame is found and no false one, whatever the cuts."""
    chance = random.Random(20261125)
    wanted = [{"n": n, "words": "x" * chance.randrange(200)} for n in range(200)]
    stream = bytearray()
    for message in wanted:
        stream += chance.randbytes(1_000_000 // len(wanted)) + encode_line(message)
    decoder, found, at = LineDecoder(), [], 0
    while at < len(stream):
        size = chance.randrange(1, 4096)
        found += decoder.receive(bytes(stream[at : at + size]))
        at += size
    assert found == wanted
    assert decoder.counters.good == len(wanted)
    assert decoder.counters.failed_checks > 1000


def test_noise_made_of_our_own_letters_gives_no_false_frame():
    chance = random.Random(4)
    letters = b'{}":, *0123456789abcdef\n'
    noise = bytes(chance.choices(letters, k=300_000))
    assert decoded(noise)[0] == []


def test_a_true_check_over_what_is_no_object_is_no_frame():
    for body in (
        b"1",
        b"[]",
        b'"text"',
        b"{]",
        b'{"v":NaN}',
        b'{"v":Infinity}',
        b"\xff",
        b"[" * 990,
    ):
        line = b"%s *%08x\n" % (body, crc32(body))
        assert decoded(line) == ([], FrameCounters(failed_checks=1)), body


def test_the_longest_line_passes_and_one_byte_more_does_not():
    room = LINE_BYTES_MAX - len(encode_line({"w": ""}))
    longest = encode_line({"w": "x" * room})
    assert len(longest) == LINE_BYTES_MAX
    assert decoded(longest)[1] == decoded(*bytewise(longest))[1] == FrameCounters(good=1)
    with pytest.raises(BadInput, match="1025 bytes, wanted at most 1024"):
        encode_line({"w": "x" * (room + 1)})
    body = json.dumps({"w": "x" * (room + 1)}, separators=(",", ":")).encode()
    too_long = b"%s *%08x\n" % (body, crc32(body))
    assert decoded(too_long) == ([], FrameCounters(overlong=1))
    assert decoded(*bytewise(too_long)) == ([], FrameCounters(overlong=1))


def test_an_endless_line_is_counted_once_and_keeps_no_memory():
    decoder = LineDecoder()
    for _ in range(2000):
        assert decoder.receive(b"{" * 1000) == []
    assert len(decoder._rest) <= LINE_BYTES_MAX
    assert decoder.receive(b"\n" + encode_line({"n": 1})) == [{"n": 1}]
    assert decoder.counters == FrameCounters(good=1, overlong=1)


def test_nan_cannot_be_sent():
    with pytest.raises(BadInput, match="leave the value out"):
        encode_line({"v": float("nan")})


numbers = st.integers(-(2**53), 2**53) | st.floats(allow_nan=False, allow_infinity=False)
json_values = st.recursive(
    st.none() | st.booleans() | numbers | st.text(max_size=20),
    lambda inner: (
        st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=5), inner, max_size=3)
    ),
    max_leaves=8,
)
json_objects = st.dictionaries(st.text(max_size=8), json_values, max_size=3)


@settings(deadline=None, max_examples=60)
@given(
    st.lists(st.dictionaries(st.text(max_size=8), json_values, max_size=3), max_size=4), st.data()
)
def test_what_is_encoded_comes_back_however_it_is_cut(messages, data):
    stream = b"".join(encode_line(message) for message in messages)
    cuts = sorted(data.draw(st.lists(st.integers(0, len(stream)), max_size=6)))
    edges = [0, *cuts, len(stream)]
    chunks = [stream[a:b] for a, b in pairwise(edges)]
    assert decoded(*chunks) == (messages, FrameCounters(good=len(messages)))


@settings(deadline=None, max_examples=60)
@given(st.binary(max_size=3000), st.data())
def test_the_cuts_make_no_difference_to_what_is_found(noise, data):
    stream = noise + encode_line({"n": 1}) + noise
    cut = data.draw(st.integers(0, len(stream)))
    assert decoded(stream) == decoded(stream[:cut], stream[cut:])
