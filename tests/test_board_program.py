"""The board's program on simulated chips, in process, on a stepped clock."""

import json
from itertools import pairwise
from zlib import crc32

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sprayout.link.frames import LINE_BYTES_MAX, encode_line
from sprayout.link.messages import ClimatePack, ColourPack, Configure, Hello, Measure, SelfTest
from sprayout.link.rpc import parse_answer, parse_notification
from sprayout.sim.board_talk import BoardRefusal, BoardTalk
from sprayout.sim.chips.as7341 import AS7341
from sprayout.sim.chips.tcs34725 import TCS34725
from sprayout.sim.surroundings import SPECTRAL_CHANNELS, SteadySurroundings
from sprayout.sim.virtual_board import Parts

RGB = Parts(colour="tcs34725", part=None, airflow=None)


def values(pack: dict[str, object]) -> dict[str, float]:
    records = pack["senml"]
    assert isinstance(records, list)
    return {record["n"]: record["v"] for record in records}


def misuses(talk: BoardTalk) -> list[str]:
    chips = talk.board.hardware.chips.values()
    return [words for c in chips if isinstance(c, AS7341 | TCS34725) for words in c.misuses]


def test_hello_says_who_and_what() -> None:
    answer = parse_answer(Hello(), BoardTalk(SteadySurroundings()).ask("hello", {"protocol": 1}))
    assert (answer.protocol, answer.firmware, answer.sensor) == (1, "0.1.0", "spectral-8")
    assert answer.channels == SPECTRAL_CHANNELS
    assert [(chip.role, chip.chip, chip.address, chip.identity) for chip in answer.chips] == [
        ("colour", "as7341", 0x39, "0x09"),
        ("climate", "sht31", 0x44, "0x8010"),
        ("part", "mlx90614", 0x5A, "0xffff"),
        ("airflow", "sdp810", 0x25, "0x03020a01"),
    ]


def test_each_band_is_reported_under_its_own_name() -> None:
    """Different light on every band: a wrong channel map cannot pass."""
    surroundings = SteadySurroundings()
    talk = BoardTalk(surroundings)
    pack = talk.ask("measure", {"of": ["colour"]})
    counts, ambient = values(pack), pack["ambient"]
    assert list(counts) == list(SPECTRAL_CHANNELS)
    for at, channel in enumerate(SPECTRAL_CHANNELS):
        expected = surroundings.spectral_per_ms[channel] * 64 * 50.04
        assert counts[channel] == pytest.approx(expected * 1.01, rel=0.02), channel
        assert ambient[at] == pytest.approx(expected * 0.01, abs=12), channel
    assert misuses(talk) == []


def test_rgb_board_reports_its_four_channels() -> None:
    talk = BoardTalk(SteadySurroundings(), parts=RGB)
    hello = talk.ask("hello", {"protocol": 1})
    assert (hello["sensor"], hello["channels"]) == ("rgb", ["red", "green", "blue", "clear"])
    pack = talk.ask("measure", {"of": ["colour"]})
    for channel, level in SteadySurroundings().rgb_per_ms.items():
        assert values(pack)[channel] == pytest.approx(level * 16 * 50.4 * 1.01, rel=0.04), channel
    assert misuses(talk) == []


def test_answers_read_as_the_host_reads_them() -> None:
    talk = BoardTalk(SteadySurroundings())
    colour = parse_answer(Measure(("colour",)), talk.ask("measure", {"of": ["colour"]}))
    assert isinstance(colour, ColourPack)
    assert (colour.light, colour.gain, colour.full_scale) == ("on", 64, 18000)
    climate = parse_answer(
        Measure(("climate", "part", "airflow")),
        talk.ask("measure", {"of": ["climate", "part", "airflow"]}),
    )
    assert isinstance(climate, ClimatePack)
    by_name = {record.name: (record.value, record.unit) for record in climate.records}
    assert by_name["air_temperature"] == (pytest.approx(21.3, abs=0.1), "Cel")
    assert by_name["relative_humidity"] == (pytest.approx(48.2, abs=0.2), "%RH")
    assert by_name["part_temperature"] == (pytest.approx(20.9, abs=0.2), "Cel")
    assert by_name["booth_pressure"] == (pytest.approx(14.2, abs=0.5), "Pa")
    assert climate.sequence == colour.sequence + 1
    tested = parse_answer(SelfTest(), talk.ask("self_test"))
    assert tested.passed and len(tested.checks) == 11
    configured = parse_answer(Configure(), talk.ask("configure", {"gain": 128}))
    assert (configured.gain, configured.integration_ms, configured.full_scale) == (
        128,
        50.04,
        18000,
    )


@pytest.mark.parametrize("parts", [Parts(), RGB])
def test_every_line_fits_the_longest(parts: Parts) -> None:
    """With the largest counts, the longest names and a negative pressure."""
    bright = SteadySurroundings(ambient_share=500.0, pressure_pa=-499.99, air_temperature_c=-19.5)
    talk = BoardTalk(bright, parts=parts)
    talk.ask("configure", {"gain": talk_gains(parts)[-1], "integration_ms": 200})
    everything = ["climate", "part", "airflow"]
    for method, params in (
        ("hello", {"protocol": 1}),
        ("measure", {"of": ["colour"]}),
        ("self_test", {}),
        ("measure", {"of": everything if parts.part else ["climate"]}),
    ):
        answer = talk.exchange(1, method, params)
        assert "result" in answer, answer
        assert len(encode_line(answer)) <= LINE_BYTES_MAX


def talk_gains(parts: Parts) -> tuple[float, ...]:
    if parts.colour == "tcs34725":
        return (1, 4, 16, 60)
    return (0.5, 1, 2, 4, 8, 16, 32, 64, 128, 256, 512)


@settings(deadline=None, max_examples=40)
@given(
    brightness=st.floats(1e-3, 80.0),
    ambient_share=st.floats(0.0, 2.0),
    integration_ms=st.floats(5, 200),
    parts=st.sampled_from([Parts(), RGB]),
    seed=st.integers(0, 5),
)
def test_automatic_gain_never_clips_and_is_the_highest_that_does_not(
    brightness: float, ambient_share: float, integration_ms: float, parts: Parts, seed: int
) -> None:
    steady = SteadySurroundings()
    surroundings = SteadySurroundings(
        {c: level * brightness for c, level in steady.spectral_per_ms.items()},
        {c: level * brightness for c, level in steady.rgb_per_ms.items()},
        ambient_share,
    )
    talk, gains = BoardTalk(surroundings, parts=parts, seed=seed), talk_gains(parts)
    talk.ask("configure", {"integration_ms": integration_ms})
    try:
        chosen = talk.ask("configure", {"gain": "auto"})
    except BoardRefusal as refusal:
        assert "too much light" in refusal.words
        talk.ask("configure", {"gain": gains[0]})
        pack = talk.ask("measure", {"of": ["colour"]})
        assert max(values(pack).values()) >= 0.78 * pack["full_scale"]  # type: ignore[operator]
        return
    pack = talk.ask("measure", {"of": ["colour"]})
    full_scale = chosen["full_scale"]
    assert pack["gain"] == chosen["gain"] and pack["saturated"] == []
    assert max(values(pack).values()) < 0.82 * full_scale  # type: ignore[operator]
    at = gains.index(chosen["gain"])  # type: ignore[arg-type]
    if at + 1 < len(gains):
        talk.ask("configure", {"gain": gains[at + 1]})
        higher = talk.ask("measure", {"of": ["colour"]})
        assert max(values(higher).values()) > 0.77 * full_scale  # type: ignore[operator]


def test_gain_is_changed_by_nothing_but_configure() -> None:
    talk = BoardTalk(SteadySurroundings())
    talk.ask("configure", {"gain": 512})
    pack = talk.ask("measure", {"of": ["colour"]})
    assert pack["gain"] == 512
    assert "clear" in pack["saturated"]  # type: ignore[operator]


@pytest.mark.parametrize("parts", [Parts(), RGB])
def test_saturated_channels_are_named_and_only_they(parts: Parts) -> None:
    talk = BoardTalk(SteadySurroundings(), parts=parts)
    talk.ask("configure", {"gain": talk_gains(parts)[-2 if parts.part else -1]})
    pack = talk.ask("measure", {"of": ["colour"]})
    full = {name for name, count in values(pack).items() if count >= pack["full_scale"]}
    assert full and set(pack["saturated"]) == full  # type: ignore[call-overload]


def test_ambient_light_is_measured_with_the_led_off() -> None:
    dark = BoardTalk(SteadySurroundings(ambient_share=0.0)).ask("measure", {"of": ["colour"]})
    assert max(dark["ambient"]) <= 5  # type: ignore[call-overload]
    lamp = BoardTalk(SteadySurroundings(ambient_share=0.4)).ask("measure", {"of": ["colour"]})
    counts = values(lamp)
    for channel, ambient in zip(SPECTRAL_CHANNELS, lamp["ambient"], strict=True):  # type: ignore[call-overload]
        assert ambient / counts[channel] == pytest.approx(0.4 / 1.4, rel=0.03)


def test_led_is_lit_only_while_measuring() -> None:
    talk = BoardTalk(SteadySurroundings())
    led, lit_s = talk.board.hardware.led, 0.0
    talk.send(encode_line(request("measure", {"of": ["colour"]}, 9)))
    while not talk.answers:
        before_s = talk.clock.now_s
        talk.step()
        lit_s += (talk.clock.now_s - before_s) * (led.light_ma(before_s) > 0)
    assert 0.04 + 2 * 0.05 <= lit_s < 0.2  # warm-up and two passes
    assert led.light_ma(talk.clock.now_s) == 0.0


@pytest.mark.parametrize(("asked", "in_force"), [(4, 4), (7.4, 8), (20, 20)])
def test_lamp_current_is_what_the_chip_can_do(asked: float, in_force: int) -> None:
    talk = BoardTalk(SteadySurroundings())
    assert talk.ask("configure", {"led_ma": asked})["led_ma"] == in_force
    clear = values(talk.ask("measure", {"of": ["colour"]}))["clear"]
    twelve = SteadySurroundings().spectral_per_ms["clear"] * 64 * 50.04
    assert clear == pytest.approx(min(18000, twelve * in_force / 12), rel=0.03)


def request(method: object, params: object, request_id: object = 1) -> dict[str, object]:
    return {"jsonrpc": "2.0", "id": request_id, "method": method, "params": params}


@pytest.mark.parametrize(
    ("method", "params", "code", "words"),
    [
        ("hello", {"protocol": 2}, -32602, "protocol must be 1, firmware 0.1.0"),
        ("hello", {}, -32602, "protocol must be 1"),
        ("paint", {}, -32601, "unknown method; known: "),
        (7, {}, -32600, "method must be a name"),
        ("measure", {"of": []}, -32602, "of must be"),
        ("measure", {"of": "colour"}, -32602, "of must be"),
        ("measure", {"of": ["colour", "climate"]}, -32602, "of must be"),
        ("measure", {"of": ["climate", "climate"]}, -32602, "each once"),
        ("measure", {"of": [{}]}, -32602, "of must be"),
        ("measure", {"of": ["climate"], "times": 3}, -32602, "unknown parameter times; known: of"),
        ("measure", [], -32602, "params must be an object"),
        ("measure", None, -32602, "params must be an object"),
        ("configure", {"gain": 3}, -32602, "gain must be auto or one of: 0.5, 1, 2"),
        ("configure", {"gain": True}, -32602, "gain must be"),
        ("configure", {"gain": "high"}, -32602, "gain must be"),
        ("configure", {"gain": [64]}, -32602, "gain must be"),
        ("configure", {"integration_ms": 0}, -32602, "a number from 1 to 500"),
        ("configure", {"integration_ms": "50"}, -32602, "a number from 1 to 500"),
        ("configure", {"integration_ms": 1e300}, -32602, "a number from 1 to 500"),
        ("configure", {"led_ma": 200}, -32602, "led_ma must be a number from 4 to 20"),
        ("configure", {"led_ma": False}, -32602, "led_ma must be"),
        ("stream", {"colour_ms": -1}, -32602, "colour_ms must be"),
        ("stream", {"climate_ms": None}, -32602, "climate_ms must be"),
        ("self_test", {"x": 1}, -32602, "unknown parameter x"),
    ],
)
def test_bad_requests_are_refused_in_words_and_change_nothing(
    method: str, params: dict[str, object], code: int, words: str
) -> None:
    talk = BoardTalk(SteadySurroundings())
    before = talk.ask("configure", {})
    answer = talk.exchange(77, method, params)
    error = answer["error"]
    assert isinstance(error, dict)
    assert error["code"] == code
    assert words in error["message"]
    assert talk.ask("configure", {}) == before


def test_configure_takes_all_or_nothing() -> None:
    talk = BoardTalk(SteadySurroundings())
    before = talk.ask("configure", {})
    with pytest.raises(BoardRefusal):
        talk.ask("configure", {"gain": 128, "integration_ms": 100, "led_ma": 999})
    assert talk.ask("configure", {}) == before


def frame(text: bytes) -> bytes:
    return text + b" *%08x\n" % crc32(text)


@pytest.mark.parametrize(
    ("text", "code"),
    [
        (b"hello", -32700),
        (b'{"jsonrpc":"2.0","id":1', -32700),
        (b"\xff\xfe", -32700),
        (b"[" * 900, -32700),
        (b"[1]", -32600),
        (b'{"jsonrpc":"1.0","id":1,"method":"hello"}', -32600),
        (b'{"jsonrpc":"2.0","id":"a","method":"hello"}', -32600),
        (b'{"jsonrpc":"2.0","id":true,"method":"hello"}', -32600),
    ],
)
def test_what_is_no_request_is_answered_under_no_id(text: bytes, code: int) -> None:
    talk = BoardTalk(SteadySurroundings())
    talk.send(frame(text))
    assert talk.answer_to(None)["error"]["code"] == code  # type: ignore[index]
    assert talk.ask("hello", {"protocol": 1})["protocol"] == 1


def test_request_without_id_is_carried_out_silently() -> None:
    talk = BoardTalk(SteadySurroundings())
    talk.send(frame(b'{"jsonrpc":"2.0","method":"configure","params":{"gain":8}}'))
    talk.send(frame(b'{"jsonrpc":"2.0","method":"paint"}'))
    assert talk.ask("configure", {})["gain"] == 8
    assert talk.answers == {}


def test_stream_is_bounded_and_stops() -> None:
    talk = BoardTalk(SteadySurroundings())
    in_force = talk.ask("stream", {"colour_ms": 1, "climate_ms": 1})
    assert in_force["climate_ms"] == 50
    measuring_ms = in_force["colour_ms"]
    assert 240 <= measuring_ms <= 300  # type: ignore[operator]
    talk.run(3.0)
    packs = [parse_notification("reading", message["params"]) for message in talk.heard]
    colours = [pack for pack in packs if isinstance(pack, ColourPack)]
    climates = [pack for pack in packs if isinstance(pack, ClimatePack)]
    assert 10 <= len(colours) <= 3000 / 240
    assert 50 <= len(climates) <= 61
    assert [pack.sequence for pack in packs] == sorted(pack.sequence for pack in packs)
    assert talk.ask("stream", {"colour_ms": 0, "climate_ms": 0}) == {
        "colour_ms": 0,
        "climate_ms": 0,
    }
    talk.run(0.5)
    talk.heard.clear()
    talk.run(1.0)
    assert talk.heard == []


def test_short_integration_streams_colour_at_10_hz() -> None:
    talk = BoardTalk(SteadySurroundings())
    talk.ask("configure", {"integration_ms": 5})
    assert talk.ask("stream", {"colour_ms": 100, "climate_ms": 0})["colour_ms"] == 100
    talk.run(5.0)
    assert 48 <= len(talk.heard) <= 51


def test_requests_are_answered_while_a_colour_is_measured() -> None:
    talk = BoardTalk(SteadySurroundings())
    talk.ask("hello", {"protocol": 1})
    begun_s = talk.clock.now_s
    talk.send(encode_line(request("measure", {"of": ["colour"]}, 1)))
    talk.send(encode_line(request("measure", {"of": ["climate"]}, 2)))
    talk.answer_to(2)
    assert talk.clock.now_s - begun_s < 0.03
    talk.answer_to(1)
    assert talk.clock.now_s - begun_s > 0.2


def test_too_many_waiting_requests_are_refused_as_busy() -> None:
    talk = BoardTalk(SteadySurroundings())
    for number in range(1, 9):
        talk.send(encode_line(request("measure", {"of": ["colour"]}, number)))
    answers = [talk.answer_to(number) for number in range(1, 9)]
    refused = [answer for answer in answers if "error" in answer]
    assert 2 <= len(refused) <= 4
    assert all(answer["error"]["code"] == -32002 for answer in refused)  # type: ignore[index]


def test_nobody_reads_and_the_newest_wins() -> None:
    """A full cable stops the board from sending, not from measuring; gaps show in the sequence."""
    talk = BoardTalk(SteadySurroundings())
    talk.ask("stream", {"colour_ms": 0, "climate_ms": 50})
    for _ in range(4000):
        talk.clock.advance(max(talk.board.step(), 0.25) / 1000)
    waited_s = talk.clock.now_s
    talk.run(0.06)
    sequences = [message["params"]["sequence"] for message in talk.heard]  # type: ignore[index]
    assert len(sequences) < 4096 / 150 + 4
    assert sequences[-1] > 20 * (waited_s - 1)
    gaps = [b - a for a, b in pairwise(sequences)]
    assert max(gaps) > 100 and min(gaps) >= 1


def test_who_reads_again_gets_no_old_reading_for_a_new_one() -> None:
    """After a minute of silence: what the cable held is old; what the board adds is of now."""
    talk = BoardTalk(SteadySurroundings())
    talk.ask("stream", {"colour_ms": 400, "climate_ms": 300})
    talk.run(1.0)
    until_s = talk.clock.now_s + 60
    while talk.clock.now_s < until_s:
        talk.clock.advance(max(talk.board.step(), 0.25) / 1000)
    talk.board.take_output()  # an opening host flushes what the cable held
    newest = talk.board.program.sequence
    talk.heard.clear()
    talk.run(0.25)
    sequences = [message["params"]["sequence"] for message in talk.heard]  # type: ignore[index]
    assert sequences and min(sequences) >= newest - 4


def test_nobody_reads_and_many_ask() -> None:
    """Questions wait in the cable while their answers cannot leave; nothing is lost."""
    talk = BoardTalk(SteadySurroundings())
    for number in range(200):
        talk.board.receive(encode_line(request("stream", {}, number)))
    for _ in range(500):
        talk.clock.advance(max(talk.board.step(), 0.25) / 1000)
    talk.run(2.0)
    answers = [talk.answer_to(number) for number in range(200)]
    assert all("result" in answer or answer["error"]["code"] == -32002 for answer in answers)  # type: ignore[index]


def test_tick_counters_wrap_without_a_hiccup() -> None:
    """MicroPython's millisecond counter wraps at 2^30, after 12.4 days."""
    talk = BoardTalk(SteadySurroundings(), begins_s=2**30 / 1000 - 2.0)
    talk.ask("stream", {"colour_ms": 500, "climate_ms": 100})
    talk.run(4.0)
    assert 35 <= sum("gain" not in m["params"] for m in talk.heard) <= 42  # type: ignore[operator]
    assert 7 <= sum("gain" in m["params"] for m in talk.heard) <= 9  # type: ignore[operator]
    assert 3900 < talk.ask("hello", {"protocol": 1})["uptime_ms"] < 4500  # type: ignore[operator]


def test_sequence_wraps_at_2_to_the_29() -> None:
    talk = BoardTalk(SteadySurroundings())
    talk.board.program.sequence = 2**29 - 2
    sequences = [talk.ask("measure", {"of": ["part"]})["sequence"] for _ in range(3)]
    assert sequences == [2**29 - 1, 0, 1]


def test_restart_forgets_stream_and_settings() -> None:
    talk = BoardTalk(SteadySurroundings())
    talk.ask("configure", {"gain": 8})
    talk.ask("stream", {"climate_ms": 100})
    talk.board.restart()
    talk.heard.clear()
    talk.run(1.0)
    assert talk.heard == []
    assert talk.ask("configure", {})["gain"] == 64


def test_frames_carry_their_check_sum() -> None:
    talk = BoardTalk(SteadySurroundings())
    talk.send(encode_line(request("hello", {"protocol": 1})))
    octets = b""
    while not octets.endswith(b"\n"):
        talk.clock.advance(max(talk.board.step(), 0.25) / 1000)
        octets += talk.board.take_output()
    text, check = octets[:-11], octets[-9:-1]
    assert octets[-11:-9] == b" *"
    assert int(check, 16) == crc32(text)
    assert json.loads(text)["id"] == 1


json_values = st.recursive(
    st.none()
    | st.booleans()
    | st.integers()
    | st.floats(allow_nan=False, allow_infinity=False)
    | st.text(max_size=12)
    | st.sampled_from(["colour", "climate", "auto", "of", "gain", "integration_ms"]),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=12), inner),
    max_leaves=8,
)
known = ("hello", "configure", "measure", "stream", "self_test")
names = ("protocol", "of", "gain", "integration_ms", "led_ma", "colour_ms", "climate_ms")


@settings(deadline=None, max_examples=200)
@given(
    method=st.sampled_from(known) | json_values,
    params=st.dictionaries(st.sampled_from(names), json_values, max_size=3) | json_values,
)
def test_whatever_is_asked_is_answered_or_refused(method: object, params: object) -> None:
    """No request, however strange, stops the program or leaves the host without an answer."""
    text = json.dumps(request(method, params)).encode()
    if len(text) + 11 > LINE_BYTES_MAX:
        return
    talk = BoardTalk(SteadySurroundings())
    talk.send(frame(text))
    answer = talk.answer_to(1)
    assert ("result" in answer) != ("error" in answer)
    assert talk.ask("hello", {"protocol": 1})["protocol"] == 1
