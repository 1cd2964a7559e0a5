"""The messages of protocol 1 as JSON-RPC: there and back, and what is refused."""

import json

import pytest

from sprayout.errors import BadInput
from sprayout.link import rpc
from sprayout.link.colour_senml import colour_to_records, setting_of, split_colour
from sprayout.link.frames import LineDecoder, encode_line
from sprayout.link.messages import (
    Button,
    Check,
    Chip,
    ClimatePack,
    ColourPack,
    Configure,
    ConfigureAnswer,
    FailureMessage,
    Fault,
    Hello,
    HelloAnswer,
    Measure,
    NotificationMessage,
    RequestMessage,
    ResultMessage,
    SelfTest,
    SelfTestAnswer,
    Stream,
    StreamAnswer,
)
from sprayout.link.senml import Record

CHANNELS = ("f1", "f2", "f3", "f4", "f5", "f6", "f7", "f8", "clear", "nir")
COLOUR = ColourPack(
    sequence=2**29 - 1,
    light="on",
    gain=64,
    integration_ms=50.04,
    full_scale=18000,
    saturated=("f5",),
    ambient=tuple(range(10)),
    records=tuple(Record(name, "count", 17_000 + n) for n, name in enumerate(CHANNELS)),
)
CLIMATE = ClimatePack(
    7, (Record("air_temperature", "Cel", 21.3), Record("relative_humidity", "%RH", 48.2, -2))
)
EXCHANGES = [
    (
        Hello(),
        HelloAnswer(
            1,
            "0.1.0",
            "board-1a2b3c",
            "spectral-8",
            CHANNELS,
            (Chip("colour", "as7341", 57, "0x09"), Chip("climate", "sht31", 0x44, "")),
            12,
        ),
    ),
    (Configure("auto", None, 12), ConfigureAnswer(0.5, 50.04, 18000, 12)),
    (Configure(64, 50, None), ConfigureAnswer(64, 50.04, 18000, 0)),
    (Measure(("colour",)), COLOUR),
    (Measure(("climate", "part", "airflow")), CLIMATE),
    (Stream(100, 0), StreamAnswer(150, 0)),
    (SelfTest(), SelfTestAnswer(False, (Check("led", False, "no light"), Check("bus", True, "")))),
]
NOTIFICATIONS = [COLOUR, CLIMATE, Button(3, 9), Fault(4, "climate", "no answer at 0x44", 1)]


def over_the_cable(message):
    (received,) = LineDecoder().receive(encode_line(message))
    return rpc.parse_message(received)


@pytest.mark.parametrize(("request_", "answer"), EXCHANGES)
def test_requests_and_answers_there_and_back(request_, answer):
    assert over_the_cable(rpc.request_json(5, request_)) == RequestMessage(5, request_)
    message = over_the_cable(rpc.result_json(5, answer))
    assert isinstance(message, ResultMessage)
    assert message.id == 5
    assert rpc.parse_answer(request_, message.result) == answer


@pytest.mark.parametrize("said", NOTIFICATIONS)
def test_notifications_there_and_back(said):
    assert over_the_cable(rpc.notification_json(said)) == NotificationMessage(said)


@pytest.mark.parametrize("request_id", [9, None])
def test_failures_there_and_back(request_id):
    failure = FailureMessage(request_id, -32001, "climate: no answer at 0x44")
    assert over_the_cable(rpc.failure_json(request_id, failure.code, failure.words)) == failure


def test_the_json_is_that_of_the_protocol():
    """The lines as the protocol's description writes them."""
    assert rpc.request_json(1, Hello()) == {
        "jsonrpc": "2.0",
        "id": 1,
        "method": "hello",
        "params": {"protocol": 1},
    }
    assert rpc.to_json(CLIMATE) == {
        "sequence": 7,
        "senml": [
            {"n": "air_temperature", "u": "Cel", "v": 21.3},
            {"n": "relative_humidity", "u": "%RH", "v": 48.2, "t": -2},
        ],
    }
    assert rpc.to_json(Configure("auto")) == {"gain": "auto"}


def call(method: object, params: object, **more: object) -> dict[str, object]:
    return {"jsonrpc": "2.0", "method": method, "params": params, **more}


REFUSED = [
    ({"id": 1, "result": {}}, '"jsonrpc" is None, wanted "2.0"'),
    ({"jsonrpc": "2.0"}, "says nothing"),
    ({"jsonrpc": "2.0", "id": "x", "result": {}}, "\"id\" is 'x', wanted a whole number"),
    ({"jsonrpc": "2.0", "id": True, "result": {}}, "wanted a whole number"),
    (call("format", {}, id=1), "method 'format': unknown, wanted one of hello"),
    (call("scream", {}), "method 'scream': unknown, wanted one of reading"),
    (call(5, {}), '"method" is 5, wanted text'),
    (call("button", []), "button: got [], wanted an object"),
    (call("button", {"sequence": 1}), 'button: "count" is missing'),
    (call("button", {"sequence": -1, "count": 1}), "wanted 0 or more"),
    (call("reading", {"sequence": 1}), "wanted an array of records"),
    (call("reading", {"sequence": 1, "senml": [{"n": "t", "vs": ""}]}), "SenML record 1 (t)"),
    (call("measure", {"of": ["mood"]}, id=1), "colour alone"),
    (call("measure", {"of": ["colour", "part"]}, id=1), "colour alone"),
    (call("measure", {"of": []}, id=1), "colour alone"),
    (call("configure", {"gain": 0}, id=1), "wanted above 0"),
    (call("configure", {"gain": "high"}, id=1), "wanted a number"),
    (call("stream", {"colour_ms": 1.5, "climate_ms": 0}, id=1), "wanted a whole number"),
]


@pytest.mark.parametrize(("message", "words"), REFUSED)
def test_what_is_refused_is_named(message, words):
    with pytest.raises(BadInput) as refused:
        rpc.parse_message(message)
    assert words in str(refused.value)


def test_a_newer_board_may_say_more():
    written = rpc.result_json(1, EXCHANGES[0][1])
    assert isinstance(written["result"], dict)
    written["result"]["mood"] = "good"
    assert rpc.parse_answer(Hello(), written["result"]) == EXCHANGES[0][1]


def test_the_largest_colour_pack_fits_a_line():
    full = tuple(Record(name, "count", 65535) for name in CHANNELS)
    pack = ColourPack(2**29 - 1, "on", 512, 999.99, 65535, CHANNELS, (65535,) * 10, full)
    assert len(encode_line(rpc.notification_json(pack))) <= 1024


class TestColourAsPlainSenml:
    def test_there_and_back(self):
        counts, setting = split_colour(colour_to_records(COLOUR.records, setting_of(COLOUR)))
        assert counts == COLOUR.records
        assert setting == setting_of(COLOUR)

    def test_counts_without_their_gain_have_no_setting(self):
        assert split_colour(COLOUR.records) == (COLOUR.records, None)

    def test_climate_of_several_times_stays_whole(self):
        history = tuple(Record("air_temperature", "Cel", n, -n) for n in range(5))
        assert split_colour(history) == (history, None)

    def test_it_is_json(self):
        records = colour_to_records(COLOUR.records, setting_of(COLOUR))
        assert json.loads(json.dumps(rpc.format_pack(records)))[10] == {
            "n": "gain",
            "u": "/",
            "v": 64,
        }
