"""The host's side of the talk, without a port: bytes in, events out, time handed in."""

import random
from itertools import pairwise

import pytest

from sprayout.errors import BoardFault
from sprayout.link import rpc, session
from sprayout.link.frames import encode_line
from sprayout.link.messages import (
    SEQUENCE_MODULUS,
    Button,
    ClimatePack,
    Configure,
    Fault,
    Hello,
    HelloAnswer,
    Measure,
    SelfTest,
    Stream,
    StreamAnswer,
)
from sprayout.link.senml import Record

HELLO = HelloAnswer(1, "0.1.0", "board-1a2b3c", "rgb", ("red", "green", "blue"), (), 5)


def climate(sequence: int) -> ClimatePack:
    return ClimatePack(sequence, (Record("air_temperature", "Cel", 21.5),))


def notification(said) -> bytes:
    return encode_line(rpc.notification_json(said))


def result(request_id: int, answer) -> bytes:
    return encode_line(rpc.result_json(request_id, answer))


def failure(request_id: int | None, code: int, words: str) -> bytes:
    return encode_line(rpc.failure_json(request_id, code, words))


def opened(*requests) -> session.HostSession:
    host = session.HostSession()
    for request in requests:
        host.request(request, now_ms=0)
    return host


UNKNOWN = encode_line({"jsonrpc": "2.0", "method": "scream", "params": {}})
CASES = [
    ((Hello(),), result(1, HELLO), [session.Answered(1, Hello(), HELLO)]),
    (
        (Stream(100, 0), Measure(("climate",))),
        result(2, climate(4)) + result(1, StreamAnswer(150, 0)),
        [
            session.Answered(2, Measure(("climate",)), climate(4)),
            session.Answered(1, Stream(100, 0), StreamAnswer(150, 0)),
        ],
    ),
    (
        (Measure(("part",)),),
        failure(1, -32001, "part: no answer at 0x5a"),
        [session.RequestFailed(1, Measure(("part",)), -32001, "part: no answer at 0x5a")],
    ),
    ((), notification(climate(3)), [session.PackReceived(climate(3))]),
    ((), notification(Button(3, 1)), [session.ButtonSeen(Button(3, 1))]),
    (
        (),
        notification(Fault(3, "climate", "no answer", 2)),
        [session.FaultSeen(Fault(3, "climate", "no answer", 2))],
    ),
    (
        (),
        notification(Button(3, 1)) + notification(climate(7)),
        [
            session.ButtonSeen(Button(3, 1)),
            session.SequenceGap(3),
            session.PackReceived(climate(7)),
        ],
    ),
    (
        (),
        result(9, HELLO),
        [session.NotUnderstood("an answer to request 9, which is not open")],
    ),
    (
        (),
        failure(None, -32700, "not JSON"),
        [session.NotUnderstood("the board says: not JSON (-32700)")],
    ),
    (
        (),
        UNKNOWN,
        [session.NotUnderstood("method 'scream': unknown, wanted one of reading, button, fault")],
    ),
    (
        (),
        encode_line(rpc.request_json(1, Hello())),
        [session.NotUnderstood("the other end asks hello: two hosts on one cable?")],
    ),
]


@pytest.mark.parametrize(("requests", "data", "events"), CASES)
class TestThreeWays:
    def test_whole(self, requests, data, events):
        assert opened(*requests).receive(data) == events

    def test_one_byte_at_a_time(self, requests, data, events):
        host = opened(*requests)
        assert [event for byte in data for event in host.receive(bytes([byte]))] == events

    def test_with_rubbish_before_and_after(self, requests, data, events):
        host = opened(*requests)
        noise = random.Random(1).randbytes(500)
        assert host.receive(noise + b'{"jsonrpc"' + data + noise) == events
        assert host.counters.failed_checks > 0


def test_a_half_read_answer_fails_its_request_and_is_named():
    host = opened(Hello())
    failed, not_understood = host.receive(encode_line({"jsonrpc": "2.0", "id": 1, "result": {}}))
    assert failed == session.RequestFailed(1, Hello(), 0, 'answer to hello: "protocol" is missing')
    assert isinstance(not_understood, session.NotUnderstood)
    assert host.counters.unexpected == 1


class TestTime:
    def test_a_request_expires_once_and_its_late_answer_is_not_understood(self):
        host = opened(Hello())
        assert host.expire(session.TIMEOUT_MS[Hello] - 1) == []
        assert host.expire(1500) == [
            session.RequestTimedOut(1, Hello(), "no answer to hello within 1.5 s")
        ]
        assert host.expire(10**9) == []
        assert isinstance(host.receive(result(1, HELLO))[0], session.NotUnderstood)

    def test_every_request_has_its_time(self):
        for request in (Hello(), Configure(), Measure(("part",)), Stream(0, 0), SelfTest()):
            host = opened(request)
            assert len(host.expire(20_000)) == 1

    def test_a_time_may_be_given(self):
        host = session.HostSession()
        host.request(Hello(), now_ms=100, timeout_ms=50)
        assert host.expire(149) == []
        assert len(host.expire(150)) == 1


class TestSequence:
    @pytest.mark.parametrize(
        ("numbers", "missing"),
        [
            ((5, 6, 7), 0),
            ((5, 9), 3),
            ((SEQUENCE_MODULUS - 1, 0, 1), 0),
            ((SEQUENCE_MODULUS - 2, 1), 2),
            ((500, 0, 1), 0),  # the board started anew
            ((5, 5), 0),
        ],
    )
    def test_gaps(self, numbers, missing):
        host = session.HostSession()
        for number in numbers:
            host.receive(notification(climate(number)))
        assert host.counters.missing == missing

    def test_measures_and_notifications_share_the_counter(self):
        host = opened(Measure(("climate",)))
        events = host.receive(notification(climate(1)) + result(1, climate(3)))
        assert events[1] == session.SequenceGap(1)

    def test_lost_lines_are_found_as_gaps(self):
        """Spoil one line in ten; what is missing in the numbers is what was spoilt."""
        chance, host, spoilt = random.Random(7), session.HostSession(), 0
        for number in range(500):
            line = bytearray(notification(climate(number)))
            if 0 < number < 499 and chance.random() < 0.1:
                line[chance.randrange(len(line) - 1)] ^= 0x10
                spoilt += 1
            host.receive(bytes(line))
        assert host.counters.missing == spoilt > 20
        assert host.counters.failed_checks == spoilt
        assert host.counters.good == 500 - spoilt


def test_a_pulled_cable_fails_what_was_asked_and_forgets_half_a_line():
    host = opened(Hello(), SelfTest())
    host.receive(notification(climate(5)) + notification(climate(6))[:20])
    lost = host.reset()
    assert [event.request for event in lost] == [Hello(), SelfTest()]
    assert host.receive(notification(climate(900))) == [session.PackReceived(climate(900))]
    assert host.counters.missing == 0


def test_request_numbers_do_not_repeat():
    host = session.HostSession()
    numbers = [host.request(Hello(), 0).request_id for _ in range(50)]
    assert all(later == sooner + 1 for sooner, later in pairwise(numbers))


@pytest.mark.parametrize(
    ("hello", "words"),
    [
        (HelloAnswer(2, "0.1.0", "b", "rgb", (), (), 0), "b speaks protocol 2, wanted 1; put the"),
        (HelloAnswer(1, "0.2.0", "b", "rgb", (), (), 0), "b runs firmware 0.2.0, wanted 0.1.x"),
    ],
)
def test_another_protocol_or_program_is_named(hello, words):
    with pytest.raises(BoardFault, match=words):
        session.check_hello(hello)


def test_our_own_program_is_welcome():
    session.check_hello(HELLO)
