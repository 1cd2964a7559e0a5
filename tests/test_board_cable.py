"""The board's end of the cable: halves, noise, endless lines."""

import random
from zlib import crc32

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sprayout.link.frames import LINE_BYTES_MAX, LineDecoder, encode_line
from sprayout.sim.board_program import load
from sprayout.sim.board_talk import BoardTalk
from sprayout.sim.faults import CableNoise
from sprayout.sim.stepped_clock import SteppedClock
from sprayout.sim.surroundings import SteadySurroundings
from sprayout.sim.virtual_board import BoardTicks, NullModem

FRAME = encode_line({"jsonrpc": "2.0", "id": 5, "method": "hello", "params": {"protocol": 1}})
TEXT = FRAME[:-11]


def received(octets: bytes, chunk: int | None = None) -> list[bytes]:
    receiver = load()["frames"].Receiver()
    texts: list[bytes] = []
    for at in range(0, len(octets), chunk or len(octets) or 1):
        texts += receiver.feed(octets[at : at + (chunk or len(octets))])
    return texts


def test_host_and_board_write_the_same_line() -> None:
    message = {"jsonrpc": "2.0", "id": 1, "method": "measure", "params": {"of": ["colour"]}}
    assert load()["frames"].encode(message) == encode_line(message)


def test_check_value_of_the_line_check_sum() -> None:
    """CRC-32 of "123456789" is cbf43926 (catalogue check value of CRC-32/ISO-HDLC)."""
    assert load()["frames"].checked(b"123456789 *cbf43926") == b"123456789"
    assert load()["frames"].checked(b"123456789 *cbf43927") is None
    assert load()["frames"].checked(b"123456789 *cbf4392x") is None


@pytest.mark.parametrize("chunk", [None, 1, 7])
def test_whole_frames_arrive_however_they_are_cut(chunk: int | None) -> None:
    assert received(FRAME * 3, chunk) == [TEXT] * 3


@pytest.mark.parametrize("at", range(len(FRAME)))
def test_half_a_frame_costs_no_whole_one(at: int) -> None:
    """Half a frame, cut at every offset, before a whole one, with and without a newline."""
    talk = BoardTalk(SteadySurroundings())
    talk.send(FRAME[:at] + FRAME)
    assert talk.answer_to(5)["result"]["protocol"] == 1  # type: ignore[index]
    assert received(FRAME[at:] + FRAME) == [TEXT] * (1 if at else 2)


def test_a_megabyte_of_noise_between_frames() -> None:
    noise = random.Random(20260904).randbytes(1_000_000)
    pieces = [noise[at : at + 10_000] for at in range(0, len(noise), 10_000)]
    assert received(b"".join(piece + FRAME for piece in pieces), 256) == [TEXT] * 100


def test_endless_line_takes_no_more_than_a_line_of_memory() -> None:
    receiver = load()["frames"].Receiver()
    for _ in range(1000):
        assert receiver.feed(b"x" * 997) == []
        assert len(receiver.buffer) < LINE_BYTES_MAX
    assert receiver.feed(FRAME) == [TEXT]
    assert receiver.dropped == 1


def test_what_is_dropped_is_counted() -> None:
    receiver = load()["frames"].Receiver()
    receiver.feed(b"\n\r\n" + FRAME + b"rubbish\n" + FRAME[:-3] + b"0\n" + b"half " + FRAME)
    assert receiver.dropped == 3


@settings(deadline=None, max_examples=100)
@given(st.binary(max_size=1500).filter(lambda noise: b"jsonrpc" not in noise))
def test_noise_is_never_a_frame(noise: bytes) -> None:
    assert received(noise + b"\n" + FRAME) == [TEXT]


@settings(deadline=None, max_examples=100)
@given(st.integers(0, len(FRAME) - 2), st.integers(1, 255))
def test_one_wrong_byte_is_found(at: int, change: int) -> None:
    spoiled = bytearray(FRAME)
    spoiled[at] ^= change
    if spoiled[at] == 0x0A:
        return  # two lines, then; see the halves
    # In the check digits, another case of the same digit is the same number.
    same = bytes(spoiled).lower() == FRAME.lower() and at > len(TEXT)
    assert received(bytes(spoiled)) == ([TEXT] if same else [])


@pytest.mark.parametrize("per_byte", [1e-4, 1e-3, 5e-3])
def test_noisy_cable_loses_frames_but_never_invents_one(per_byte: float) -> None:
    talk = BoardTalk(SteadySurroundings(), faults=[CableNoise(per_byte)], seed=3)
    decoder, good = LineDecoder(), 0
    asked = 300
    for number in range(asked):
        talk.send(encode_line({"jsonrpc": "2.0", "id": number, "method": "stream", "params": {}}))
        for _ in range(3):
            talk.clock.advance(max(talk.board.step(), 0.25) / 1000)
            for message in decoder.receive(talk.board.take_output()):
                assert message == {
                    "jsonrpc": "2.0",
                    "id": message["id"],
                    "result": {"colour_ms": 0, "climate_ms": 0},
                }
                good += 1
    # A request of some 70 bytes and an answer of some 80 must both come through unspoiled.
    expected = asked * (1 - per_byte) ** 150
    assert expected * 0.9 - 5 <= good <= asked


def test_check_sum_is_crc32_of_what_stands_before_the_space() -> None:
    assert int(FRAME[-9:-1], 16) == crc32(TEXT)


@pytest.mark.parametrize(("away_ms", "first"), [(500, 0), (1500, 5)])
def test_frame_that_nobody_took_for_a_second_is_given_up(away_ms: int, first: int) -> None:
    """Not even a whole frame at the very edge of what the cable held comes out late."""
    clock, modem = SteppedClock(), NullModem()
    outbox = load()["outbox"].Outbox(modem, BoardTicks(clock))
    modem.from_board += bytes(4096)
    for sequence in range(6):
        outbox.notify("reading", "climate", {"sequence": sequence})
        outbox.send()
        clock.advance(away_ms / 5000)
    outbox.send()
    modem.from_board.clear()
    outbox.send()
    messages = LineDecoder().receive(bytes(modem.from_board))
    assert [m["params"]["sequence"] for m in messages] == sorted({first, 5})  # type: ignore[index]
