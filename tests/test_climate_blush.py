"""The answer: margin, humidity limit, levels, ±, advice, and its JSON."""

import json
from dataclasses import replace

import pytest
import typer
from hypothesis import given, settings
from hypothesis import strategies as st
from typer.testing import CliRunner

from sprayout.climate.advice import advise, help_words
from sprayout.climate.blush import Blush, assess, with_rh
from sprayout.climate.blush_json import FIELDS, answer_blush, blush_to_json, parse_blush
from sprayout.climate.forecast import forecast
from sprayout.climate.moist_air import BoothAir, rh_from_dew_point_pct
from sprayout.climate.part import FOIL, metal_part
from sprayout.climate.reducer import parse_reducer
from sprayout.climate.wet_film import Film
from sprayout.commands import blush as command
from sprayout.errors import BadInput
from sprayout.safety.cautions import forbidden_words_in

THINNER = parse_reducer("acetone=15,toluene=40,n-butyl acetate=30,2-butoxyethanol=15")
STEEL = metal_part("steel", 0.3)


def film(rh_pct: float, air_c: float = 22.0, reducer: str | None = None) -> Film:
    blend = parse_reducer(reducer) if reducer else THINNER
    return Film(BoothAir(air_c, rh_pct), blend, STEEL)


@settings(deadline=None, max_examples=20)
@given(st.floats(8.0, 38.0), st.sampled_from([None, "water=80,2-butoxyethanol=20", "acetone=1"]))
def test_margin_is_nil_at_the_humidity_it_names(air_c: float, reducer: str | None) -> None:
    limit = assess(film(50.0, air_c, reducer)).blush_rh_pct
    if limit < 100.0:
        assert assess(film(limit, air_c, reducer)).margin_k == pytest.approx(0.0, abs=0.03)


@pytest.mark.parametrize(("rh_pct", "level"), [(45.0, "none"), (70.0, "caution"), (86.0, "stop")])
def test_levels(rh_pct: float, level: str) -> None:
    assert assess(film(rh_pct)).level == level


def test_more_humid_is_never_better() -> None:
    found = [assess(film(rh)) for rh in range(5, 101, 5)]
    margins = [blush.margin_k for blush in found]
    assert margins == sorted(margins, reverse=True)
    ranks = [blush.level.rank for blush in found]
    assert ranks == sorted(ranks)


def test_the_paints_own_humidity_limit_counts() -> None:
    fine = film(50.0)
    assert assess(fine).level == "none"
    strict = assess(fine, rh_limit_pct=45.0)
    assert strict.level == "caution"
    assert strict.reasons == ("humidity 50 %RH, limit 45",)


def test_a_part_from_the_cold_stops_by_itself() -> None:
    cold = assess(replace(film(60.0), part_c=10.0))
    assert cold.level == "stop"
    assert any(reason.startswith("bare part") for reason in cold.reasons)


def test_the_answer_carries_its_error() -> None:
    # ±2 %RH is ±0.45 K of dew point at 26.7 °C and middling humidity (the model's notes)
    found = assess(film(75.0, 26.7))
    assert found.sensor_error_k == pytest.approx(0.45, abs=0.1)
    assert found.plus_minus_k > 1.0


@pytest.mark.parametrize("rh_pct", [70.0, 75.0, 80.0])
def test_each_remedy_does_what_it_says(rh_pct: float) -> None:
    bad = film(rh_pct)
    found = assess(bad)
    advice = advise(bad, found)
    assert advice is not None
    assert advice.dehumidify_to_pct is not None
    dried = assess(with_rh(bad, advice.dehumidify_to_pct))
    assert dried.margin_k == pytest.approx(3.0, abs=0.05)
    assert advice.warm_part_k is not None
    warmed = assess(replace(bad, part_c=22.0 + advice.warm_part_k))
    assert warmed.margin_k == pytest.approx(3.0, abs=0.05)
    assert advice.warm_booth_k is not None
    air_c = 22.0 + advice.warm_booth_k
    air = BoothAir(air_c, float(rh_from_dew_point_pct(air_c, found.dew_point_c)))
    assert assess(replace(bad, air=air)).margin_k == pytest.approx(3.0, abs=0.05)
    if advice.slow_share is not None:
        slowed = THINNER.mixed_with(parse_reducer("MAK=1"), advice.slow_share)
        assert assess(replace(bad, blend=slowed)).margin_k == pytest.approx(3.0, abs=0.05)


def test_a_remedy_that_cannot_do_it_alone_is_not_offered() -> None:
    bad = film(85.0)
    advice = advise(bad, assess(bad))
    assert advice is not None
    assert advice.warm_part_k is None
    assert assess(replace(bad, part_c=22.0 + 25.0)).margin_k < 3.0
    assert advice.slow_share is None
    assert assess(replace(bad, blend=parse_reducer("MAK=1"))).margin_k < 3.0


def test_no_remedy_where_none_is_needed() -> None:
    fine = film(40.0)
    assert advise(fine, assess(fine)) is None


def test_warming_foil_is_said_to_do_nothing() -> None:
    bad = replace(film(80.0), part=FOIL)
    advice = advise(bad, assess(bad))
    assert advice is not None
    assert advice.warm_part_k is None
    assert any("nothing on foil" in words for words in advice.words)


REQUEST = {"air_c": 22, "rh_pct": "60", "reducer": "acetone=1", "metal": "steel", "metal_mm": 0.5}


def answer(**change: object) -> dict[str, object]:
    request = parse_blush({**REQUEST, **change})
    return blush_to_json(request, *answer_blush(request))


def test_json_has_the_fields_of_the_contract_first() -> None:
    found = answer()
    assert list(found)[:5] == ["film_low_c", "dew_point_c", "margin_k", "blush_rh_pct", "level"]
    json.dumps(found)


def test_what_was_taken_for_granted_is_said() -> None:
    few = parse_blush({"air_c": 22, "rh_pct": 60, "reducer": {"xylene": 1.0}})
    assert few.film.part == FOIL
    assert len(few.assumptions) == 6
    every = {"part_c": 21, "air_speed_ms": 0.4, "wet_film_um": 25, "pressure_pa": 99_000}
    assert parse_blush({**REQUEST, **every}).assumptions == ()


@pytest.mark.parametrize("where", [{"metal": "foil"}, {"metal_mm": "foil"}, {"metal": None}])
def test_foil_may_be_said_in_either_place(where: dict[str, object]) -> None:
    bare = {k: v for k, v in REQUEST.items() if not k.startswith("metal")}
    assert parse_blush({**bare, **where}).film.part == FOIL


def test_part_by_infrared_on_tape_counts_as_measured() -> None:
    entered = answer(part_c=12)
    by_tape = answer(part_infrared_c=12, surface="matt black tape")
    assert by_tape["surface_margin_k"] == pytest.approx(entered["surface_margin_k"], abs=0.05)


def test_help_in_one_line_with_the_wait() -> None:
    bad = film(80.0)
    advice = advise(bad, assess(bad))
    rising = forecast([60.0 * i for i in range(60)], [-2.0 + i / 60.0 for i in range(60)])
    words = help_words(advice, rising)
    assert "warm the part by" in words
    assert "wait about" in words
    assert "\n" not in words
    falling = forecast([60.0 * i for i in range(60)], [-2.0 - i / 60.0 for i in range(60)])
    assert "not known to help" in help_words(advice, falling)
    assert help_words(None) == "nothing needed"


def test_beta_nought_and_water_is_a_wet_bulb() -> None:
    # 25 °C, 50 %RH: wet bulb 17.89 °C (psychrolib)
    wet = answer(air_c=25, rh_pct=50, reducer="water=1", beta=0, metal=None, metal_mm="foil")
    assert wet["film_low_c"] == pytest.approx(17.89, abs=0.5)


def test_a_data_sheet_is_judged_by_its_fastest_blend() -> None:
    sheet = {"acetone": [5, 40], "n-butyl acetate": [60, 95]}
    found = answer(reducer=None, reducer_sheet=sheet, by="volume", rh_pct=70)
    low, high = found["film_range_c"]
    assert low < found["film_low_c"] < high
    fastest = answer(reducer="acetone=40,n-butyl acetate=60", rh_pct=70)
    assert found["level"] == fastest["level"]
    assert low == pytest.approx(fastest["film_low_c"], abs=0.01)
    text = answer(
        reducer=None, reducer_sheet="acetone=5-40,n-butyl acetate=60-95", by="volume", rh_pct=70
    )
    assert text == found


@pytest.mark.parametrize(
    ("change", "named"),
    [
        ({"rh_pct": None}, "rh_pct: missing"),
        ({"rh_pct": 101}, "relative humidity: got 101 %RH"),
        ({"rh_pct": "wet"}, "rh_pct: got 'wet'"),
        ({"air_c": None}, "air_c: missing"),
        ({"air_c": True}, "air_c: got True"),
        ({"pressure_pa": 1013}, "looks like hPa"),
        ({"reducer": None}, "reducer: got none or two"),
        ({"reducer_sheet": "acetone=100"}, "reducer: got none or two"),
        ({"reducer": {"acetone": 0.5}}, "shares sum to 0.5"),
        ({"reducer": {"acetone": "half"}}, "share of acetone: got 'half'"),
        ({"metal": None}, "metal: missing beside metal_mm"),
        ({"metal_mm": None}, "metal_mm: missing beside metal"),
        ({"metal_mm": 0}, "metal thickness: got 0 mm"),
        ({"wet_film_um": 0}, "wet film: got 0 µm"),
        ({"wet_film_um": -5}, "wet film: got -5 µm"),
        ({"air_speed_ms": -1}, "air speed: got -1 m/s"),
        ({"wet_faces": 3}, "wet_faces: got 3"),
        ({"rh_limit_pct": 0}, "rh_limit_pct: got 0"),
        ({"part_infrared_c": 20}, "surface: missing beside part_infrared_c"),
        ({"part_infrared_c": 20, "surface": "velvet"}, "surface: got 'velvet'"),
        ({"part_infrared_c": 20, "surface": "tinplate"}, "sees the room mirrored"),
        ({"part_infrared_c": 20, "surface": "primed", "part_c": 20}, "wanted one of them"),
        ({"beta": -1}, "beta: got -1"),
        ({"humidity": 50}, "unknown field 'humidity'"),
        ({"reducer": None, "reducer_sheet": "acetone=100", "by": "taste"}, "by: got 'taste'"),
        ({"reducer": None, "reducer_sheet": {"acetone": [1]}}, "low, high"),
        ({"reducer": None, "reducer_sheet": "=3"}, "wanted name=low-high"),
    ],
)
def test_bad_requests_are_refused_by_name(change: dict[str, object], named: str) -> None:
    with pytest.raises(BadInput, match=named) as refused:
        answer(**change)
    assert "\n" not in str(refused.value)


def application() -> typer.Typer:
    app = typer.Typer()
    command.register(app)
    return app


def test_command_prints_one_json_document() -> None:
    arguments = "--air-c 22 --rh-pct 60 --metal steel --metal-mm 0.5 --reducer acetone=1 --json"
    result = CliRunner().invoke(application(), arguments.split())
    assert result.exit_code == 0
    printed = json.loads(result.stdout)
    assert printed.pop("cautions")
    assert printed == answer()


def test_command_shows_the_cautions_and_promises_nothing() -> None:
    arguments = ["--air-c", "22", "--rh-pct", "85", "--reducer-sheet", "acetone=10-40,xylene=60-90"]
    result = CliRunner().invoke(application(), arguments)
    assert result.exit_code == 0
    assert "STOP" in result.stdout
    assert "would help" in result.stdout
    assert "not in the model" in result.stdout
    assert "respirator" in result.stdout.lower()
    assert forbidden_words_in(result.stdout) == ()


def test_command_has_an_option_for_every_field() -> None:
    help_text = CliRunner().invoke(application(), ["--help"], terminal_width=200).stdout
    for field in FIELDS:
        assert f"--{field.replace('_', '-')}" in help_text


def test_bad_input_leaves_the_command_by_its_error() -> None:
    result = CliRunner().invoke(application(), ["--air-c", "22", "--reducer", "acetone=1"])
    assert isinstance(result.exception, BadInput)


def test_levels_are_of_one_kind() -> None:
    assert isinstance(assess(film(50.0)), Blush)
