"""What goes wrong on the board is named, counted, survived, and never becomes a made-up value."""

import pytest

from sprayout.link.frames import LineDecoder, encode_line
from sprayout.sim.board_talk import BoardRefusal, BoardTalk
from sprayout.sim.faults import (
    BadCheckSum,
    BouncingButton,
    DriftingLed,
    Fault,
    NoAnswer,
    PowerLoss,
    SoakedProbe,
    StuckBus,
    WrongIdentity,
)
from sprayout.sim.surroundings import SteadySurroundings
from sprayout.sim.virtual_board import Parts

CLIMATE = ["climate", "part", "airflow"]
NAMES = ["air_temperature", "relative_humidity", "part_temperature", "booth_pressure"]


def talk_with(*faults: Fault, **given: object) -> BoardTalk:
    return BoardTalk(SteadySurroundings(), faults=faults, **given)  # type: ignore[arg-type]


def names(pack: dict[str, object]) -> list[str]:
    return [record["n"] for record in pack["senml"]]  # type: ignore[attr-defined]


def said(talk: BoardTalk, method: str = "fault") -> list[dict[str, object]]:
    return [message["params"] for message in talk.heard if message["method"] == method]  # type: ignore[misc]


def test_probe_that_falls_silent_is_absent_named_and_comes_back() -> None:
    talk = talk_with(NoAnswer("sht31", from_s=2.0, to_s=6.0))
    talk.ask("stream", {"climate_ms": 200})
    talk.run(10.0)
    silent = [m for m in talk.heard if m["method"] == "reading" and len(m["params"]["senml"]) == 2]  # type: ignore[index]
    whole = [m for m in talk.heard if m["method"] == "reading" and len(m["params"]["senml"]) == 4]  # type: ignore[index]
    assert 18 <= len(silent) <= 30  # four seconds, and up to one until it is started again
    assert len(whole) >= 20
    assert said(talk)[0]["part"] == "climate"
    assert said(talk)[0]["words"] == "sht31: no answer at 0x44"
    assert len(said(talk)) == 1  # not one for each reading


def test_repeated_fault_is_said_at_most_every_ten_seconds_with_its_count() -> None:
    talk = talk_with(NoAnswer("sht31"))
    talk.run(65.0)
    counts = [fault["count"] for fault in said(talk)]
    assert 6 <= len(counts) <= 7
    assert counts[0] == 1 and counts == sorted(counts)
    assert counts[-1] > 50  # type: ignore[operator]


def test_single_disturbance_is_tried_again_and_not_a_fault() -> None:
    talk = talk_with(NoAnswer("sht31", from_s=1.0, to_s=1.0015))
    talk.run(0.9995)
    assert names(talk.ask("measure", {"of": CLIMATE})) == NAMES
    assert said(talk) == []


def test_failing_check_sums_leave_the_value_out() -> None:
    talk = talk_with(BadCheckSum("sht31", from_s=1.0), BadCheckSum("mlx90614", from_s=1.0))
    talk.run(1.5)
    assert names(talk.ask("measure", {"of": CLIMATE})) == ["booth_pressure"]
    assert {fault["part"] for fault in said(talk)} == {"climate", "part"}
    assert "check sum" in said(talk)[0]["words"]  # type: ignore[operator]


def test_noise_on_the_bus_never_yields_a_false_climate_value() -> None:
    """Single bit flips: CRC-8 finds each of them."""
    chips = ("sht31", "mlx90614", "sdp810")
    talk = talk_with(*(BadCheckSum(chip, share=0.3, from_s=0.5) for chip in chips))
    talk.ask("stream", {"climate_ms": 50})
    talk.run(60.0)
    expected = dict(zip(NAMES, (21.3, 48.2, 20.9, 14.2), strict=True))
    seen = [r for m in talk.heard if m["method"] == "reading" for r in m["params"]["senml"]]  # type: ignore[index]
    assert len(seen) > 200
    for record in seen:
        assert record["v"] == pytest.approx(expected[record["n"]], abs=0.6)


def test_measure_of_a_failed_part_is_an_error_in_words() -> None:
    talk = talk_with(NoAnswer("sht31"))
    with pytest.raises(BoardRefusal) as refusal:
        talk.ask("measure", {"of": ["climate"]})
    assert (refusal.value.code, refusal.value.words) == (-32001, "sht31: no answer at 0x44")


def test_colour_chip_gone_is_an_error_and_the_rest_goes_on() -> None:
    talk = talk_with(NoAnswer("as7341", from_s=1.0, to_s=4.0), NoAnswer("tcs34725"))
    talk.run(1.1)
    for method, params in (("measure", {"of": ["colour"]}), ("configure", {"gain": 8})):
        with pytest.raises(BoardRefusal) as refusal:
            talk.ask(method, params)
        assert refusal.value.code == -32001
        assert names(talk.ask("measure", {"of": CLIMATE})) == NAMES
    assert talk.ask("hello", {"protocol": 1})["sensor"] == "none"
    talk.run(5.0)
    assert talk.ask("hello", {"protocol": 1})["sensor"] == "spectral-8"


@pytest.mark.parametrize(
    ("chip", "reads", "role", "words"),
    [
        ("as7341", 0x3F, "colour", "as7341 at 0x39: identity is 0x3f, wanted 0x09"),
        ("tcs34725", 0x10, "colour", "tcs34725 at 0x29: identity is 0x10, wanted 0x44"),
        ("sdp810", 0x0203, "airflow", "sdp810 at 0x25: product number begins 0x0203"),
        ("mlx90614", 0, "part", "mlx90614 at 0x5a: emissivity word is 0"),
    ],
)
def test_wrong_chip_is_refused_with_what_was_found(
    chip: str, reads: int, role: str, words: str
) -> None:
    parts = Parts(colour=chip) if role == "colour" else Parts()
    talk = talk_with(WrongIdentity(chip, reads), parts=parts)
    talk.run(0.5)
    assert role not in [c["role"] for c in talk.ask("hello", {"protocol": 1})["chips"]]  # type: ignore[attr-defined]
    with pytest.raises(BoardRefusal, match=f"^board: {words}"):
        talk.ask("measure", {"of": [role]})
    if role == "colour":
        assert words in said(talk)[0]["words"]  # type: ignore[operator]
        assert not talk.ask("self_test")["passed"]


def test_optional_parts_that_are_not_fitted_are_no_fault() -> None:
    talk = talk_with(parts=Parts(part=None, airflow=None))
    talk.run(30.0)
    assert said(talk) == []
    assert names(talk.ask("measure", {"of": CLIMATE})) == NAMES[:2]
    with pytest.raises(BoardRefusal, match="mlx90614: no answer at 0x5a"):
        talk.ask("measure", {"of": ["part"]})
    assert talk.ask("self_test")["passed"]


@pytest.mark.parametrize("chip", ["as7341", "sht31", "mlx90614", "sdp810", "tcs34725"])
def test_power_dip_of_a_chip_never_falsifies_a_value(chip: str) -> None:
    """The chip forgets gain, time, LED or mode at a bad moment; values stay right or away."""
    colour = "tcs34725" if chip == "tcs34725" else "as7341"
    undisturbed = talk_with(parts=Parts(colour=colour)).ask("measure", {"of": ["colour"]})
    expected = {r["n"]: r["v"] for r in undisturbed["senml"]}  # type: ignore[attr-defined]
    expected |= dict(zip(NAMES, (21.3, 48.2, 20.9, 14.2), strict=True))
    for after_ms in range(0, 280, 5 if chip == colour else 35):
        talk = talk_with(PowerLoss(chip, from_s=1 + after_ms / 1000), parts=Parts(colour=colour))
        talk.run(1.0)
        for _ in range(2):
            for of in (["colour"], CLIMATE):
                try:
                    pack = talk.ask("measure", {"of": of})
                except BoardRefusal:
                    continue
                for record in pack["senml"]:  # type: ignore[attr-defined]
                    name, value = record["n"], record["v"]
                    assert value == pytest.approx(
                        expected[name], rel=0.003, abs=0.6 if record["n"] in NAMES else 15
                    ), after_ms
        talk.run(2.0)
        assert names(talk.ask("measure", {"of": CLIMATE})) == NAMES
        assert talk.ask("measure", {"of": ["colour"]})["gain"] == undisturbed["gain"]


def test_stuck_bus_is_clocked_free() -> None:
    talk = talk_with(StuckBus(from_s=1.0, frees=True))
    talk.run(1.1)
    assert names(talk.ask("measure", {"of": CLIMATE})) == NAMES
    assert said(talk) == []


def test_bus_that_stays_stuck_is_survived() -> None:
    talk = talk_with(StuckBus(from_s=1.0, to_s=20.0))
    talk.ask("stream", {"colour_ms": 300, "climate_ms": 100})
    talk.run(19.0)
    assert {fault["part"] for fault in said(talk)} == {"colour", "climate", "part", "airflow"}
    assert len(said(talk)) <= 8
    talk.heard.clear()
    talk.run(5.0)
    assert [m for m in talk.heard if "gain" in m["params"]]  # type: ignore[operator]
    assert names(talk.ask("measure", {"of": CLIMATE})) == NAMES


def test_led_that_ages_shows_in_the_counts() -> None:
    talk = talk_with(DriftingLed(per_hour=0.05))
    first = talk.ask("measure", {"of": ["colour"]})
    talk.clock.advance(3600.0)
    later = talk.ask("measure", {"of": ["colour"]})
    clear = [next(r["v"] for r in p["senml"] if r["n"] == "clear") for p in (first, later)]  # type: ignore[attr-defined]
    assert clear[1] / clear[0] == pytest.approx(0.95, abs=0.004)


def test_soaked_probe_shows_too_much_humidity() -> None:
    pack = talk_with(SoakedProbe()).ask("measure", {"of": ["climate"]})
    assert pack["senml"][1]["v"] == pytest.approx(51.2, abs=0.3)  # type: ignore[index]


class Finger(SteadySurroundings):
    """Presses for ``held_s`` at each whole second."""

    held_s = 0.3

    def button_down(self, t_s: float) -> bool:
        return t_s >= 1.0 and t_s % 1.0 < self.held_s


@pytest.mark.parametrize("bounce_s", [0.0, 0.002, 0.02, 0.1])
def test_each_press_counts_once_however_the_contact_bounces(bounce_s: float) -> None:
    """100 kHz of bounces on press and release."""
    faults = [BouncingButton(hz=100_000.0, for_s=bounce_s)] if bounce_s else []
    for seed in range(5):
        talk = BoardTalk(Finger(), faults=faults, seed=seed)
        talk.run(20.99)
        assert [press["count"] for press in said(talk, "button")] == list(range(1, 21))


def test_contact_that_only_bounces_is_no_press() -> None:
    """Sparks of 5 ms, or a contact that never settles, are nobody's finger."""

    class Sparks(Finger):
        held_s = 0.005

    talk = BoardTalk(Sparks(), faults=[BouncingButton(for_s=10.0)])
    talk.run(10.0)
    assert said(talk, "button") == []


def test_button_held_down_fails_the_self_test() -> None:
    talk = BoardTalk(SteadySurroundings(pressed=True))
    talk.run(0.2)
    checks = {c["name"]: c for c in talk.ask("self_test")["checks"]}  # type: ignore[attr-defined]
    assert checks["button"] == {
        "name": "button",
        "passed": False,
        "words": "held down or shorted",
    }


def test_dead_led_fails_the_self_test() -> None:
    talk = talk_with(DriftingLed(per_hour=10.0))
    talk.clock.advance(3600.0)
    checks = {c["name"]: c for c in talk.ask("self_test")["checks"]}  # type: ignore[attr-defined]
    assert not checks["lamp"]["passed"]
    assert checks["colour chip"]["passed"]


def test_sequence_numbers_leave_the_board_in_order() -> None:
    """Readings, faults, presses and answers, with and without anybody reading."""
    talk = BoardTalk(Finger(), faults=[NoAnswer("sht31", from_s=3.0, to_s=9.0)])
    talk.ask("stream", {"colour_ms": 300, "climate_ms": 50})
    decoder, messages, next_read_s = LineDecoder(), [], 0.0
    for number in range(3000):
        if number % 40 == 0:
            talk.send(encode_line(measure_part(number)))
        talk.clock.advance(max(talk.board.step(), 0.25) / 1000)
        if talk.clock.now_s >= next_read_s:
            messages += decoder.receive(talk.board.take_output())
            next_read_s += 2.0 if number % 1000 > 800 else 0.0
    said_of = [message.get("params") or message.get("result") for message in messages]
    sequences = [given["sequence"] for given in said_of if given]  # type: ignore[index]
    kinds = {str(message.get("method")) for message in messages}
    assert kinds == {"None", "reading", "fault", "button"}
    assert len(sequences) > 100 and sequences == sorted(set(sequences))


def measure_part(number: int) -> dict[str, object]:
    params = {"of": ["part"]}
    return {"jsonrpc": "2.0", "id": number, "method": "measure", "params": params}


def test_program_that_stumbles_says_so_ever_less_often() -> None:
    talk = BoardTalk(SteadySurroundings())
    for _ in range(1000):
        talk.board.program.trouble(RuntimeError("strange"))
        talk.step()
    counts = [fault["count"] for fault in said(talk)]
    assert counts == [1, 2, 4, 8, 16, 32, 64, 128, 256, 512]
