"""``sprayout air KIND``: the contract's keys, the worked examples in SI, and bad input."""

import json
import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from typer.testing import CliRunner

from sprayout.cli import build_app, main
from sprayout.errors import BadInput
from sprayout.safety.air_request import KINDS, answer_air
from sprayout.safety.assessment import Level
from sprayout.safety.cautions import for_spraying

LEVELS = {level.value for level in Level}
CFM = 1.69901082  # m³/h
FT3 = 0.028316846592

PURGE = {"volume_m3": 1e5 * FT3, "flow_m3h": 2000 * CFM, "from": 100, "to": 25}
GROWTH = {
    "volume_m3": 75000 * FT3,
    "flow_m3h": 2500 * CFM,
    "generation_l_min": 1.4 * FT3 * 1000,
    "minutes": 11,
}
TWO_BOX = {
    "generation_mg_min": 100,
    "flow_m3_min": 10,
    "radius_m": (3 / (2 * math.pi)) ** (1 / 3),  # 1 m³
    "air_speed_m_min": 6 / (2 * math.pi * (3 / (2 * math.pi)) ** (2 / 3)),  # beta 3 m³/min
}
TOLUENE = {"molar_mass_g": 92.14, "density_kg_l": 0.87}


@pytest.mark.parametrize(
    ("kind", "fields", "figures", "rel"),
    [
        ("purge", PURGE, {"minutes": 69.3, "air_changes": math.log(4)}, 1e-3),  # W21
        ("purge", {**PURGE, "mixing_divisor": 3}, {"minutes": 207.9}, 1e-3),
        ("build-up", GROWTH, {"ppm_end": 171.9, "ppm_steady": 560.0}, 1e-4),  # W13
        (
            "dilution",  # W16, methyl chloroform at 70 °F
            {
                "molar_mass_g": 133.4,
                "density_kg_l": 1.32 * 0.9982,
                "evaporation_ml_min": 0.025 * 473.176473,
                "target_ppm": 350,
                "air_c": 21.11,
                "mixing_divisor": 5,
            },
            {"flow_m3h": 1425 * CFM},
            2e-3,
        ),
        (
            "face-velocity",  # W05: 521 cfm through 25 by 30 inches is 100 fpm
            {"flow_m3h": 521 * CFM, "width_m": 25 * 0.0254, "height_m": 30 * 0.0254},
            {"m_s": 0.508, "fpm": 100.0},
            1e-3,
        ),
        (
            "explosive",  # D03's 3.045 g in 30 m³, by hand: 808 mL of vapour
            {"ml": 3.5, "volume_m3": 30, "lel_pct": 1.1, **TOLUENE},
            {"percent_of_lel": 3.045 / 92.14 * 24.45 / 30 / 1e3 / 0.011 * 100},
            1e-9,
        ),
        ("mixture", {"part": ["500/1000", "45/200", "40/200"]}, {"index": 0.925}, 1e-9),  # W02
        ("mixture", {"part": ["5/5", "20/50", "10/2"]}, {"index": 6.4}, 1e-9),  # W09
        ("two-box", TWO_BOX, {"near_mg_m3": 43.3333, "far_mg_m3": 10.0}, 1e-4),  # D01
        (
            "two-box",
            {**TWO_BOX, "minutes": 5, "volume_m3": 60},
            {"near_mg_m3": 38.462646, "far_mg_m3": 5.399649},
            1e-4,
        ),
        ("cartridge", {"substance": "toluene", "ppm": 20, "rh_pct": 50}, {"hours": 40.0}, 1e-9),
        ("cartridge", {"substance": "toluene", "ppm": 200, "rh_pct": 90}, {"hours": 4.0}, 1e-9),
    ],
)
def test_figures(
    kind: str, fields: dict[str, object], figures: dict[str, float], rel: float
) -> None:
    found = answer_air(kind, fields)
    for name, value in figures.items():
        assert found[name] == pytest.approx(value, rel=rel), name


SAMPLES: list[tuple[str, dict[str, object]]] = [
    ("purge", {"volume_m3": 30, "flow_m3h": 300, "from": 100, "to": 1}),
    ("dilution", {"substance": "MEK", "evaporation_ml_min": 1, "target_ppm": 100}),
    ("dilution", {"substance": "MEK", "evaporation_ml_min": 1, "target_ppm": 250}),
    ("dilution", {"substance": "DCM", "evaporation_ml_min": 1, "target_ppm": 10}),
    ("dilution", {"substance": "PMA", "evaporation_ml_min": 1, "target_ppm": 10}),
    ("dilution", {"substance": "MEK", "evaporation_ml_min": 1, "target_ppm": 5000}),
    (
        "build-up",
        {"volume_m3": 30, "flow_m3h": 0, "generation_l_min": 0.1, "minutes": 9},
    ),
    (
        "build-up",
        {"volume_m3": 30, "flow_m3h": 90, "generation_mg_min": 500, "molar_mass_g": 92,
         "minutes": 9},
    ),
    ("face-velocity", {"flow_m3h": 400, "width_m": 0.5, "height_m": 0.4}),
    ("face-velocity", {"flow_m3h": 0, "width_m": 0.5, "height_m": 0.4}),
    ("explosive", {"substance": "toluene", "ml": 10, "volume_m3": 0.1}),
    ("explosive", {"substance": "DPGME", "ml": 100, "volume_m3": 0.1}),
    ("explosive", {"substance": "HDI", "ml": 10, "volume_m3": 1}),
    ("mixture", {"part": ["10/50"]}),
    ("mixture", {"part": ["60/50"]}),
    ("mixture", {"part": ["10/", "60/50"]}),
    ("two-box", TWO_BOX),
    ("two-box", {**TWO_BOX, "flow_m3_min": 0}),
    ("two-box", {**TWO_BOX, "minutes": 5, "volume_m3": 60}),
    ("cartridge", {"substance": "xylene", "ppm": 50, "rh_pct": 60}),
    ("cartridge", {"substance": "acetone", "ppm": 50, "rh_pct": 60}),
    ("cartridge", {"substance": "isocyanate hardener", "ppm": 50, "rh_pct": 60}),
    ("respirator", {"substance": "toluene", "ppm": 300}),
    ("respirator", {"substance": "toluene", "ppm": 10, "region": "uk"}),
    ("respirator", {"substance": "toluene", "ppm": 500}),
    ("respirator", {"substance": "PGMEA", "ppm": 5}),
    ("respirator", {"substance": "PGMEA", "ppm": 5, "limit_ppm": 50}),
    ("respirator", {"substance": "white lead", "ppm": 5}),
    ("substance", {"name": "acetone"}),
    ("substance", {"name": "IPA", "region": "eu"}),
    ("substance", {"name": "DCM"}),
    ("substance", {"name": "TDI"}),
    ("substance", {"name": "TiO2"}),
]  # fmt: skip


@pytest.mark.parametrize(
    ("kind", "fields"), SAMPLES, ids=[f"{i}-{kind}" for i, (kind, _) in enumerate(SAMPLES)]
)
def test_every_answer_has_figures_assumptions_cautions_and_sources(
    kind: str, fields: dict[str, object]
) -> None:
    found = answer_air(kind, fields)
    json.dumps(found, allow_nan=False)
    assert found["kind"] == kind
    assert found["level"] in LEVELS
    assert found["words"]
    assert found["assumptions"]
    assert found["sources"]
    region = str(fields.get("region", "us"))
    cautions = [(c["key"], c["words"]) for c in found["cautions"]]  # type: ignore[union-attr]
    assert cautions == [(c.key, c.words) for c in for_spraying(region)]


@pytest.mark.parametrize(
    ("kind", "fields", "none", "level"),
    [
        ("respirator", {"substance": "toluene", "ppm": 500}, "classes", Level.REFUSE),
        ("respirator", {"substance": "toluene", "ppm": 9e9}, "classes", Level.REFUSE),
        ("respirator", {"substance": "PGMEA", "ppm": 0}, "classes", Level.CANNOT_ASSESS),
        ("respirator", {"substance": "DCM", "ppm": 1}, "classes", Level.REFUSE),
        ("respirator", {"substance": "2K clear", "ppm": 1}, "classes", Level.REFUSE),
        ("cartridge", {"substance": "DCM", "ppm": 1, "rh_pct": 5}, "hours", Level.REFUSE),
        (
            "cartridge",
            {"substance": "acetone", "ppm": 9, "rh_pct": 5},
            "hours",
            Level.CANNOT_ASSESS,
        ),
        ("mixture", {"part": ["50/"]}, "index", Level.CANNOT_ASSESS),
        ("mixture", {"part": ["50/unknown", "60/50"]}, "index", Level.STOP),
        (
            "dilution",
            {"substance": "DCM", "evaporation_ml_min": 1, "target_ppm": 1},
            "flow_m3h",
            Level.REFUSE,
        ),
        (
            "explosive",
            {"substance": "HDI", "ml": 1, "volume_m3": 1},
            "percent_of_lel",
            Level.REFUSE,
        ),
    ],
)
def test_no_figure_where_it_is_refused_or_missing(
    kind: str, fields: dict[str, object], none: str, level: Level
) -> None:
    found = answer_air(kind, fields)
    assert not found[none]
    assert found["reason"]
    assert found["level"] == level.value


def test_a_target_over_the_limit_and_at_idlh_is_said() -> None:
    fields: dict[str, object] = {"substance": "MEK", "evaporation_ml_min": 1}
    assert answer_air("dilution", {**fields, "target_ppm": 250})["level"] == Level.STOP.value
    assert answer_air("dilution", {**fields, "target_ppm": 3000})["level"] == Level.REFUSE.value


def test_a_stretched_cartridge_rule_says_so() -> None:
    fields: dict[str, object] = {"substance": "toluene", "rh_pct": 50}
    assert "stretched" in str(answer_air("cartridge", {**fields, "ppm": 2})["words"])
    assert "stretched" not in str(answer_air("cartridge", {**fields, "ppm": 20})["words"])


def test_without_flow_there_is_no_steady_state() -> None:
    found = answer_air("build-up", SAMPLES[6][1])
    assert found["ppm_steady"] is None
    assert found["ppm_end"] == pytest.approx(30.0)
    assert found["level"] == Level.STOP.value
    assert answer_air("two-box", {**TWO_BOX, "flow_m3_min": 0})["near_mg_m3"] is None


def test_saturation_caps_the_vapour_but_not_the_level() -> None:
    found = answer_air("explosive", {"substance": "DPGME", "ml": 100, "volume_m3": 0.1})
    assert found["ppm"] == pytest.approx(657.9, rel=1e-3)
    assert found["percent_of_lel"] == pytest.approx(5.98, rel=1e-2)
    assert found["level"] == Level.REFUSE.value  # the rest hangs as mist


@pytest.mark.parametrize(
    ("kind", "name", "value"),
    [
        ("purge", "volume_m3", 30000.0),
        ("purge", "flow_m3h", 2.0),
        ("explosive", "ml", 0.005),
        ("dilution", "density_kg_l", 791.0),
        ("face-velocity", "width_m", 60.0),
        ("build-up", "minutes", 3000.0),
    ],
)
def test_a_plausible_slip_of_unit_is_asked(kind: str, name: str, value: float) -> None:
    base: dict[str, dict[str, object]] = {
        "purge": {"volume_m3": 30, "flow_m3h": 300, "from": 100, "to": 1},
        "explosive": {"ml": 5, "volume_m3": 30, "substance": "toluene"},
        "dilution": {
            "molar_mass_g": 58.1, "density_kg_l": 0.791, "evaporation_ml_min": 1,
            "target_ppm": 100,
        },
        "face-velocity": {"flow_m3h": 560, "width_m": 0.5, "height_m": 0.4},
        "build-up": {"volume_m3": 30, "flow_m3h": 90, "generation_l_min": 0.1, "minutes": 5},
    }  # fmt: skip
    assert answer_air(kind, base[kind])["asks"] == []
    found = answer_air(kind, {**base[kind], name: value})
    assert len(found["asks"]) == 1  # type: ignore[arg-type]
    assert found["level"] not in (Level.NOTHING_FOUND.value, Level.CAUTION.value)


WRONG: list[tuple[list[str], str]] = [
    (["purge", "--volume-m3", "nan", "--flow-m3h", "9", "--from", "9", "--to", "1"], "volume-m3"),
    (["purge", "--volume-m3", "9", "--flow-m3h", "0", "--from", "9", "--to", "1"], "never clears"),
    (["purge", "--volume-m3", "-9", "--flow-m3h", "9", "--from", "9", "--to", "1"], "volume"),
    (["purge", "--volume-m3", "9", "--flow-m3h", "9", "--from", "1", "--to", "9"], "swap"),
    (["purge", "--volume-m3", "9", "--flow-m3h", "9", "--from", "9"], "--to is missing"),
    (["purge", "--volume-m3", "much", "--flow-m3h", "9", "--from", "9", "--to", "1"], "'much'"),
    (
        ["purge", "--volume-m3", "9", "--flow-m3h", "9", "--from", "9", "--to", "1",
         "--mixing-divisor", "0.5"],
        "divides the flow",
    ),
    (["respirator", "--substance", "toluene", "--ppm", "inf"], "ppm"),
    (["respirator", "--substance", "toluene", "--ppm", "-1"], "ppm"),
    (["respirator", "--substance", "tolune", "--ppm", "1"], "nearest known: Toluene"),
    (["respirator", "--substance", "TiO2", "--ppm", "1"], "particulate"),
    (["respirator", "--substance", "toluene", "--ppm", "1", "--region", "mars"], "us, uk or eu"),
    (["respirator", "--substance", "toluene", "--ppm", "1", "--mixing-divisor", "0.5"], "divides"),
    (["cartridge", "--substance", "toluene", "--ppm", "1"], "--rh-pct is missing"),
    (["cartridge", "--substance", "toluene", "--ppm", "0", "--rh-pct", "50"], "ppm"),
    (["cartridge", "--substance", "toluene", "--ppm", "1", "--rh-pct", "140"], "rh-pct"),
    (["mixture"], "--part is missing"),
    (["mixture", "--part", "50"], "PPM/LIMIT"),
    (["mixture", "--part", "50/0"], "limit"),
    (["mixture", "--part", "-5/10"], "part"),
    (["mixture", "--part", "nan/10"], "PPM/LIMIT"),
    (["substance", "dragon's breath"], "not in our table"),
    (["explosive", "--ml", "5", "--volume-m3", "1"], "neither a name nor"),
    (
        ["explosive", "--ml", "5", "--volume-m3", "1", "--molar-mass-g", "92", "--density-kg-l",
         "0.9"],
        "lower explosive limit",
    ),
    (["explosive", "--ml", "5", "--volume-m3", "0", "--substance", "MEK"], "volume"),
    (
        ["explosive", "--ml", "5", "--volume-m3", "1", "--substance", "MEK", "--lel-pct", "1"],
        "one of the two",
    ),
    (["dilution", "--evaporation-ml-min", "1", "--target-ppm", "0", "--substance", "IPA"], "0"),
    (
        ["build-up", "--volume-m3", "30", "--flow-m3h", "60", "--generation-mg-min", "5",
         "--minutes", "5"],
        "molar mass",
    ),
    (
        ["two-box", "--generation-mg-min", "1", "--flow-m3-min", "1", "--radius-m", "1",
         "--air-speed-m-min", "3", "--minutes", "5"],
        "wanted both",
    ),
    (["face-velocity", "--flow-m3h", "5", "--width-m", "0", "--height-m", "1"], "width"),
]  # fmt: skip


@pytest.mark.parametrize(("words", "says"), WRONG, ids=[" ".join(words)[:60] for words, _ in WRONG])
def test_bad_input_is_one_line_and_exit_2(
    words: list[str], says: str, capsys: pytest.CaptureFixture[str]
) -> None:
    for extra in ([], ["--json"]):
        with pytest.raises(SystemExit) as stopped:
            main(["air", *words, *extra])
        out = capsys.readouterr()
        assert stopped.value.code == 2
        assert out.out == ""
        assert says in out.err
        assert out.err.count("\n") == 1


@pytest.mark.parametrize(
    ("kind", "fields"),
    [
        ("smell", {}),
        ("purge", {"volume": 3}),
        ("substance", {"name": ""}),
        ("mixture", {"part": 3}),
        ("respirator", {"substance": "toluene", "ppm": True}),
        ("respirator", {"substance": 3, "ppm": 1}),
    ],
)
def test_web_door_refuses_the_unknown(kind: str, fields: dict[str, object]) -> None:
    with pytest.raises(BadInput):
        answer_air(kind, fields)


numbers = st.one_of(
    st.floats(), st.floats(0.0, 1e4), st.sampled_from([0.0, -0.0, 1e308, 5e-324, -1.0])
)
PARTS = st.sampled_from(["50/100", "1e308/1e-308", "5/", "nan/1", "1/nan", "0/5", "/5", "5e-324/9"])
NAMES = st.sampled_from(["toluene", "PGMEA", "DCM", "HDI", "TiO2", "acetone", "white spirit", "x"])


@settings(deadline=None, max_examples=300)
@given(st.data())
def test_any_numbers_give_an_answer_in_json_or_one_line(data: st.DataObject) -> None:
    kind = data.draw(st.sampled_from(sorted(KINDS)))
    given_: dict[str, object] = {}
    for field in KINDS[kind].fields:
        if field.required or data.draw(st.booleans()):
            what = {"text": NAMES, "list": st.lists(PARTS, max_size=3)}.get(field.what, numbers)
            given_[field.name] = data.draw(what)
    try:
        found = answer_air(kind, given_)
    except BadInput as error:
        assert "\n" not in str(error)
    else:
        json.dumps(found, allow_nan=False)


def test_the_command_line_prints_json_or_text_with_the_cautions() -> None:
    runner = CliRunner()
    words = ["air", "respirator", "--substance", "toluene", "--ppm", "30"]
    text = runner.invoke(build_app(["air"]), words)
    assert text.exit_code == 0
    for caution in for_spraying():
        assert caution.words in text.stdout
    found = json.loads(runner.invoke(build_app(["air"]), [*words, "--json"]).stdout)
    assert found["limit_ppm"] == 20
    assert [c["class"] for c in found["classes"]][:2] == [
        "quarter mask with cartridges",
        "half mask with cartridges",
    ]


def test_help_of_every_kind_shows_the_cautions() -> None:
    runner = CliRunner(env={"COLUMNS": "400", "TERMINAL_WIDTH": "400"})
    for kind in KINDS:
        shown = runner.invoke(build_app(["air"]), ["air", kind, "--help"]).stdout
        assert "Estimate, not a measurement" in " ".join(shown.split())
