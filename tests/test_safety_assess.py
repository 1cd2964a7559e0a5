"""A coat as a whole: what is missing never reassures, and what is dangerous is refused."""

import dataclasses
import json

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sprayout.errors import BadInput
from sprayout.safety import refusals
from sprayout.safety.assess import Assessment, assess
from sprayout.safety.assess_json import answer_assess
from sprayout.safety.assessment import Level, worst
from sprayout.safety.booth import Booth
from sprayout.safety.bottles import Bottle, product_of
from sprayout.safety.breathing import Room
from sprayout.safety.cartridge import CartridgeLog, judge
from sprayout.safety.cautions import for_spraying
from sprayout.safety.interlock import FanReadings, FanState, Reading, evaluate
from sprayout.safety.load import Coat, Product, Solvent, mist_mg_min, vapour_load
from sprayout.safety.product_request import parse_product
from sprayout.safety.purge import purge_clock, remaining
from sprayout.safety.substances import find

LACQUER = Product(
    "pilot cutter hull blue",
    (Solvent("n-butyl acetate", 0.4), Solvent("xylene", 0.3), Solvent("MEK", 0.1)),
    two_part=False,
    solids_g_ml=0.2,
)
COAT = Coat(5.0, 4.0, 3)
BOOTH = Booth(0.5, 0.4, 0.1, 580.0, "ducted", 0.1)
ROOM = Room(30.0, 60.0)
FAN = evaluate(FanReadings(Reading(0.8, 1.0), Reading(-10.0, 1.0), Reading(40.0, 1.0)))


def level(found: Assessment, key: str) -> Level:
    return {finding.key: finding.level for finding in found.findings}[key]


def test_with_everything_given_the_whole_is_a_caution_at_best() -> None:
    found = assess(LACQUER, COAT, BOOTH, ROOM, FAN)
    assert found.level is Level.CAUTION
    assert {f.key for f in found.findings} == {
        "product", "face_velocity", "exhaust", "fan", "vapour", "build_up", "near_far", "explosive",
        "breathing_15_min", "breathing_8_h", "mist", "respirator", "cartridge", "purge",
    }  # fmt: skip
    assert level(found, "breathing_15_min") is Level.CAUTION  # three coats without a pause
    assert level(found, "breathing_8_h") is Level.NOTHING_FOUND
    assert found.cautions == for_spraying("us")


def test_nothing_known_is_cannot_assess_all_through() -> None:
    found = assess(None, None, None, None, None)
    assert {f.level for f in found.findings} == {Level.CANNOT_ASSESS}
    assert worst([]) is Level.CANNOT_ASSESS


def without(value: object, *names: str) -> object:
    """A value object with those of its fields set to ``None`` that may be so."""
    return dataclasses.replace(value, **dict.fromkeys(names))  # type: ignore[type-var]


products = st.sampled_from(
    [None, LACQUER, without(LACQUER, "two_part"), without(LACQUER, "solids_g_ml"),
     dataclasses.replace(LACQUER, solvents=()),
     dataclasses.replace(LACQUER, solvents=(Solvent("n-butyl acetate", 0.2),)),
     dataclasses.replace(LACQUER, solvents=(Solvent("mystery thinner", 0.8),))]
)  # fmt: skip
booths = st.sampled_from(
    [None, BOOTH, without(BOOTH, "flow_m3h"), without(BOOTH, "exhaust"),
     without(BOOTH, "crossdraft_m_s"), dataclasses.replace(BOOTH, exhaust="recirculating")]
)  # fmt: skip
rooms = st.sampled_from([None, ROOM, without(ROOM, "fresh_air_m3h")])
fans = st.sampled_from(
    [None, FAN, evaluate(FanReadings()), evaluate(FanReadings(Reading(None, None))),
     evaluate(FanReadings(Reading(0.1, 1.0)))]
)  # fmt: skip

_FULL = {finding.key: finding.level for finding in assess(LACQUER, COAT, BOOTH, ROOM, FAN).findings}


@settings(deadline=None, max_examples=400)
@given(
    products,
    st.sampled_from([None, COAT]),
    booths,
    rooms,
    fans,
    st.sampled_from(["us", "uk", "eu"]),
)
def test_no_combination_of_missing_inputs_reassures(
    product: Product | None,
    coat: Coat | None,
    booth: Booth | None,
    room: Room | None,
    fan: FanState | None,
    region: str,
) -> None:
    found = assess(product, coat, booth, room, fan, region)
    assert not found.level.reassuring
    for absent, keys in (
        (product is None or not product.solvents, ("product",)),
        (coat is None, ("explosive", "breathing_15_min", "breathing_8_h", "mist")),
        (booth is None, ("face_velocity", "exhaust", "explosive", "breathing_15_min")),
        (room is None, ("breathing_15_min", "breathing_8_h")),
        (fan is None or fan.state == "unknown", ("fan",)),
    ):
        for key in keys if absent else ():
            assert level(found, key).rank >= Level.CANNOT_ASSESS.rank
            assert found.level.rank >= Level.CANNOT_ASSESS.rank
    if region == "us":  # whatever is left out, no finding gets milder
        for finding in found.findings:
            assert finding.level.rank >= _FULL.get(finding.key, Level.NOTHING_FOUND).rank


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"two_part": True}, "isocyanate"),
        ({"label": "2K clear with hardener"}, "isocyanate"),
        ({"label": "contains hexamethylene diisocyanate"}, "isocyanate"),
        ({"label": "contains HDI oligomers"}, "isocyanate"),
        ({"solvents": (Solvent("DCM", 0.6),)}, "methylene chloride"),
        ({"solvents": (Solvent("dichloromethane", 0.6),)}, "methylene chloride"),
        ({"pigments": ("PY34",)}, "lead, chromate or cadmium"),
        ({"pigments": ("zinc chromate",)}, "lead, chromate or cadmium"),
        ({"label": "contains lead"}, "lead, chromate or cadmium"),
        ({"name": "cadmium red"}, "lead, chromate or cadmium"),
    ],
)
def test_refused_products(change: dict[str, object], says: str) -> None:
    product = dataclasses.replace(LACQUER, **change)  # type: ignore[arg-type]
    found = assess(product, COAT, BOOTH, ROOM, FAN)
    assert found.level is Level.REFUSE
    assert says in found.findings[0].words
    assert "The way:" in found.findings[0].words
    assert not {f.key for f in found.findings} & {"explosive", "breathing_15_min", "respirator"}


@pytest.mark.parametrize(
    "text",
    ["lead-free enamel", "isocyanate-free", "smokebox red oxide", "non-isocyanate binder",
     "leading edge white", "chromate free primer"],
)  # fmt: skip
def test_words_that_only_sound_alike_pass(text: str) -> None:
    assert refusals.in_words(text) == ()


@pytest.mark.parametrize(
    ("year", "laboratory", "region", "key"),
    [
        (None, None, "us", "old_paint"),
        (1955, None, "us", "old_paint"),
        (1978, None, "us", "old_paint"),
        (1985, None, "uk", "old_paint"),
        (1985, None, "us", None),
        (2015, None, "eu", None),
        (1955, False, "us", None),
        (2015, True, "us", "toxic_pigment"),
    ],
)
def test_sanding_old_paint(
    year: int | None, laboratory: bool | None, region: str, key: str | None
) -> None:
    found = refusals.for_sanding(year, laboratory, region)
    assert (found.key if found else None) == key


def test_reaching_idlh_is_refused() -> None:
    found = assess(LACQUER, Coat(800.0, 5.0), dataclasses.replace(BOOTH, flow_m3h=20.0), ROOM, FAN)
    assert found.level is Level.REFUSE
    assert level(found, "idlh") is Level.REFUSE
    assert level(found, "cartridge") is Level.REFUSE


def test_a_recirculating_booth_does_not_thin_the_rooms_vapour() -> None:
    around = dataclasses.replace(BOOTH, exhaust="recirculating")
    out = assess(LACQUER, COAT, BOOTH, Room(30.0, 0.0), FAN)
    back = assess(LACQUER, COAT, around, Room(30.0, 0.0), FAN)
    index = [
        dict(next(f.figures for f in a.findings if f.key == "breathing_8_h"))["index"]
        for a in (out, back)
    ]
    assert index[0] is not None
    assert index[1] is not None
    assert index[1] > 5 * index[0]
    assert back.level is Level.STOP


def test_missing_limit_of_the_region_cannot_be_assessed_unless_the_data_sheet_has_one() -> None:
    product = dataclasses.replace(LACQUER, solvents=(Solvent("PGMEA", 0.8),))
    found = assess(product, COAT, BOOTH, ROOM, FAN, "us")
    assert level(found, "breathing_8_h") is Level.CANNOT_ASSESS
    sheet = dataclasses.replace(product, data_sheet_limits_ppm=(("PMA", 50.0),))
    assert level(assess(sheet, COAT, BOOTH, ROOM, FAN, "us"), "breathing_8_h").reassuring
    assert level(assess(product, COAT, BOOTH, ROOM, FAN, "eu"), "breathing_8_h").reassuring


def test_load_of_a_coat() -> None:
    # 5 mL * 0.7 * 0.867 g/mL = 3.03 g of toluene in 5 min; mist 5 * 0.2 g * 0.8 / 5 min.
    product = Product("x", (Solvent("toluene", 0.7), Solvent("water", 0.3)), False, solids_g_ml=0.2)
    load = vapour_load(product, Coat(5.0, 5.0))
    assert load.complete
    assert load.vapours[0].grams == pytest.approx(3.0345)
    assert load.l_min == pytest.approx(3.0345 / 92.1 * 24.45 / 5.0)
    assert mist_mg_min(product, Coat(5.0, 5.0)) == pytest.approx(160.0)
    with pytest.raises(BadInput, match=r"sum to 1\.2"):
        vapour_load(Product("x", (Solvent("toluene", 0.7), Solvent("MEK", 0.5))), COAT)


def test_purge_clock_counts_only_minutes_of_a_confirmed_fan() -> None:
    clock = purge_clock(30.0, 600.0)
    assert clock.minutes == pytest.approx(41.447, rel=1e-4)  # 414/ACH * K / 1.5: 13.816 * 3
    assert remaining(clock, 10.0, FAN).minutes == pytest.approx(clock.minutes - 10.0)
    assert remaining(clock, 60.0, FAN).minutes == 0.0
    assert remaining(clock, 60.0, evaluate(FanReadings())).minutes is None
    assert remaining(clock, None, FAN).minutes is None
    assert "shut" in remaining(clock, 0.0, FAN).words


def test_json_round() -> None:
    given_ = {
        "product": {
            "name": "quay-crane ochre",
            "solvents": {"n-butyl acetate": 0.5, "MEK": 0.3},
            "two_part": False,
            "solids_g_ml": 0.2,
        },
        "coat": {"sprayed_ml": 5, "minutes": 4, "coats": 2},
        "booth": {
            "width_m": 0.5,
            "height_m": 0.4,
            "volume_m3": 0.1,
            "flow_m3h": 560,
            "exhaust": "ducted",
        },
        "room": {"volume_m3": 30},
        "region": "eu",
    }
    found = json.loads(json.dumps(answer_assess(given_, FAN), allow_nan=False))
    assert found["level"] == "cannot assess"  # no EU dust limit known
    given_["product"] |= {"dust_limit_mg_m3": 10}  # type: ignore[operator]
    assert answer_assess(given_, FAN)["level"] == "caution"
    assert len(found["cautions"]) == 9
    assert answer_assess({})["level"] == "cannot assess"
    for name in ("product", "coat", "booth", "room"):
        assert answer_assess({name: {}})["level"] == "cannot assess"


@pytest.mark.parametrize(
    ("flow", "m_s", "level"),
    [
        ({"flow_m3h": 576}, 0.8, "no reason found to stop"),
        ({"face_m_s": 0.8}, 0.8, "no reason found to stop"),
        ({"rating_m3h": 1152}, 0.8, "caution"),  # a rating is halved, and never better than that
        (
            {
                "fan": {
                    "curve": [[0, 200], [576, 100], [800, 0]],
                    "at_flow_m3h": 576,
                    "duct_pa": 20,
                    "clean_filter_pa": 40,
                }
            },
            0.8,  # 20 + 2 * 40 Pa meet the curve's 100 Pa
            "caution",
        ),
        ({}, None, "cannot assess"),
    ],
)
def test_how_the_flow_is_known(flow: dict[str, object], m_s: float | None, level: str) -> None:
    booth = {"width_m": 0.5, "height_m": 0.4, "crossdraft_m_s": 0.1, **flow}
    findings = answer_assess({"booth": booth})["findings"]
    face = next(f for f in findings if f["key"] == "face_velocity")  # type: ignore[attr-defined]
    assert face["figures"]["m_s"] == (None if m_s is None else pytest.approx(m_s))
    assert face["level"] == level


def breathing(coat: Coat, fresh_m3h: float, key: str, volume_m3: float = 20.0):
    """A finding of a half-toluene paint in a room with no booth that takes air out."""
    product = Product("p", (Solvent("toluene", 0.5),), two_part=False)
    booth = dataclasses.replace(BOOTH, exhaust="recirculating")
    found = assess(product, coat, booth, Room(volume_m3, fresh_m3h), FAN)
    return next(finding for finding in found.findings if finding.key == key)


@pytest.mark.parametrize(
    ("coat", "key"),
    [
        (Coat(30.0, 15.0), "breathing_15_min"),
        (Coat(30.0, 5.0), "breathing_15_min"),
        (Coat(60.0, 60.0, 3), "breathing_8_h"),
    ],
)
@pytest.mark.parametrize("fresh_m3h", [0.0, 20.0, 60.0])
def test_the_air_that_is_advised_brings_the_index_to_one(
    coat: Coat, key: str, fresh_m3h: float
) -> None:
    now = breathing(coat, fresh_m3h, key)
    assert dict(now.figures)["index"] > 1
    advised = float(now.would_help[0].removeprefix("about ").split(" m³/h")[0])
    assert 0.97 < dict(breathing(coat, advised, key).figures)["index"] <= 1.0


def test_what_no_air_reaches_is_said() -> None:
    found = breathing(Coat(60.0, 15.0), 60.0, "breathing_15_min")
    assert dict(found.figures)["index"] > 1
    assert found.would_help[0].startswith("more air alone does not do it")


def change_out(solvents: dict[str, float], log: CartridgeLog | None, rh: float | None = 50.0):
    product = Product("p", tuple(Solvent(n, v) for n, v in solvents.items()), two_part=False)
    found = assess(product, Coat(1.0, 10.0), BOOTH, Room(300.0, 60.0), FAN, rh_pct=rh, log=log)
    return next(finding for finding in found.findings if finding.key == "cartridge")


def test_change_out_by_the_rule_and_what_is_left_of_the_pair_in_use() -> None:
    solvents = {"n-butyl acetate": 0.6}
    hours = dict(change_out(solvents, None).figures)["hours"]
    ppm = dict(change_out(solvents, None).figures)["ppm"]
    assert hours == pytest.approx(8.0 * (200.0 / ppm) ** 0.69897)
    assert dict(change_out(solvents, None, 90.0).figures)["hours"] == pytest.approx(hours / 2.0)
    assert dict(change_out(solvents, None, None).figures)["hours"] == pytest.approx(hours / 2.0)
    used = change_out(solvents, CartridgeLog("left pair", 3.0, 5.0, 2.0))
    assert dict(used.figures)["left_h"] == pytest.approx(hours - 7.0)
    assert used.level is Level.CAUTION and "left pair" in used.words
    over = change_out(solvents, CartridgeLog("left pair", 3.0, hours + 1.0))
    assert over.level is Level.STOP and "change it" in over.words


@pytest.mark.parametrize("rh", [50.0, 90.0, None])
@pytest.mark.parametrize(
    "log",
    [
        CartridgeLog("left pair", 0.5, 2.0, 2.0),
        CartridgeLog("left pair", 0.5, 5.0, 1.0),
        CartridgeLog("left pair", 0.5, 60.0, 60.0),
        CartridgeLog("left pair", None, 1.0),
        CartridgeLog("left pair", 2.0, 1.0),
    ],
)
@pytest.mark.parametrize("solvent", ["n-butyl acetate", "acetone"])
def test_the_coat_and_the_log_of_the_pair_say_the_same(
    solvent: str, log: CartridgeLog, rh: float | None
) -> None:
    ppm = dict(change_out({"n-butyl acetate": 0.6}, None).figures)["ppm"]
    coat = change_out({solvent: 0.6}, log, rh)
    alone = judge(log, find(solvent), ppm)
    assert coat.level is alone.level
    of_coat, of_log = dict(coat.figures)["left_h"], dict(alone.figures)["left_h"]
    assert of_coat == (None if of_log is None else pytest.approx(of_log))


def test_change_out_does_not_apply_to_what_boils_at_70_degrees_or_less() -> None:
    found = change_out({"acetone": 0.5, "toluene": 0.2}, CartridgeLog("left pair", 0.2, 0.5))
    assert "Does not apply: Acetone boils at 56.1 °C" in found.words
    assert dict(found.figures)["hours"] is None and dict(found.figures)["left_h"] is None
    assert found.level is Level.CANNOT_ASSESS
    fresh = change_out({"acetone": 0.5, "toluene": 0.2}, None)
    assert fresh.level is Level.CANNOT_ASSESS and "Does not apply" in fresh.words
    kept = change_out({"acetone": 0.5, "toluene": 0.2}, CartridgeLog("left pair", 1.5, 0.5))
    assert kept.level is Level.STOP and "Acetone wanders" in kept.words
    undated = change_out({"toluene": 0.5}, CartridgeLog("left pair", None, 0.5))
    assert undated.level is Level.CANNOT_ASSESS and "no opening date" in undated.words


def test_what_an_assessment_rests_on_is_said_in_plain_figures() -> None:
    bottles = [{"name": "white", "ml": 125, "solvents": {"toluene": 0.5}}]
    room = {"volume_m3": 20, "escape_share": 0.8, "near_radius_m": 0.4, "air_speed_m_min": 5}
    found = answer_assess({"product": {"name": "cup", "bottles": bottles}, "room": room})
    words = {row["title"]: row["words"] for row in found["rests_on"]}  # type: ignore[attr-defined]
    assert words["Cup"] == "cup: 125 mL white"
    assert "80% of the vapour passes you" in words["Room"]
    assert "breathing zone of 0.4 m, its air at 5 m/min" in words["Room"]


def test_sanding_in_json() -> None:
    old = answer_assess({"sanding": {"painted_year": None, "laboratory_found": None}})
    assert old["level"] == Level.REFUSE.value
    tested = answer_assess({"sanding": {"painted_year": 1955, "laboratory_found": False}})
    assert tested["level"] == Level.CANNOT_ASSESS.value  # nothing else is known
    assert tested["findings"][-1]["level"] == Level.CAUTION.value  # type: ignore[index]


def test_a_slip_of_unit_is_asked_and_holds_the_level() -> None:
    found = answer_assess({"room": {"volume_m3": 30000}})
    assert len(found["asks"]) == 1  # type: ignore[arg-type]
    assert "units" in {f["key"] for f in found["findings"]}  # type: ignore[attr-defined]


def test_the_factor_that_the_estimate_takes() -> None:
    found = assess(LACQUER, Coat(60.0, 10.0, 3), BOOTH, ROOM, FAN)
    figures = {f.key: dict(f.figures) for f in found.findings}
    factor = figures["respirator"]["factor_needed"]
    indices = [figures[key]["index"] for key in ("breathing_15_min", "breathing_8_h")]
    assert factor == max(index for index in indices if index is not None)
    assert factor is not None
    assert factor > 1
    assert found.level is Level.STOP


@pytest.mark.parametrize(
    ("wrong", "says"),
    [
        ({"booth": {"width_m": 1, "height_m": 1, "flow_m3h": 1, "face_m_s": 1}}, "wanted one"),
        ({"booth": {"width_m": 1, "height_m": 1, "fan": {"curve": 3}}}, "fan curve"),
        (
            {"booth": {"width_m": 1, "height_m": 1, "fan": {"curve": [[0, 9], [9, 0]]}}},
            "at_flow_m3h is missing",
        ),
        ({"sanding": {"painted_year": "old"}}, "painted_year"),
        ({"sanding": {"laboratory_found": 1}}, "laboratory_found"),
        ({"product": {"solvents": {"MEK": 80}}}, "share of MEK"),
        ({"product": {"solvents": {"MEK": "much"}}}, "MEK"),
        ({"product": {"two_part": "no"}}, "two_part"),
        ({"product": {"paint": 1}}, "product: got 'paint'"),
        ({"coat": {"sprayed_ml": -1, "minutes": 1}}, "sprayed_ml"),
        ({"coat": {"sprayed_ml": 1, "minutes": 0}}, "minutes"),
        ({"coat": {"coats": 0}}, "coats"),
        ({"booth": {"exhaust": "window"}}, "exhaust"),
        ({"booth": {"width_m": float("nan")}}, "width_m"),
        ({"room": {"volume_m3": 30, "mixing_divisor": 0.5}}, "mixing divisor"),
        ({"room": {"volume_m3": True}}, "volume_m3"),
        ({"room": 3}, "room"),
        ({"region": "mars"}, "region"),
        ({"fan": "on"}, "assess: got 'fan'"),
    ],
)
def test_json_bad_input_names_the_field(wrong: dict[str, object], says: str) -> None:
    with pytest.raises(BadInput, match=says) as error:
        answer_assess(wrong)
    assert "\n" not in str(error.value)


OCHRE = Bottle("quay-crane ochre", 6.0, (Solvent("n-butyl acetate", 0.6),), False, "", (), 0.4)
THINNER = Bottle("slow reducer", 4.0, (Solvent("MEK", 0.5), Solvent("n-butyl acetate", 0.5)),
                 False, "", (), 0.0)  # fmt: skip


def test_bottles_make_one_product_by_volume() -> None:
    cup = product_of("cup 3", [OCHRE, THINNER])
    assert {s.name: s.share for s in cup.solvents} == pytest.approx(
        {"n-butyl acetate": 0.56, "MEK": 0.2}
    )
    assert cup.solids_g_ml == pytest.approx(0.24)
    assert cup.two_part is False
    assert assess(cup, COAT, BOOTH, ROOM, FAN).level.rank <= Level.CAUTION.rank


@pytest.mark.parametrize(
    ("drop", "level"),
    [
        (Bottle("mystery", 0.05, None, False, "", (), 0.1), Level.CANNOT_ASSESS),
        (Bottle("mystery", 0.05, (), False, "", (), 0.1), Level.CANNOT_ASSESS),
        (dataclasses.replace(OCHRE, ml=0.05, two_part=None), Level.CANNOT_ASSESS),
        (dataclasses.replace(OCHRE, ml=0.05, two_part=True), Level.REFUSE),
        (dataclasses.replace(OCHRE, ml=0.05, name="hardener B"), Level.REFUSE),
        (dataclasses.replace(OCHRE, ml=0.05, pigments=("PR104",)), Level.REFUSE),
        (Bottle("chrome yellow", 0.05), Level.REFUSE),
    ],
)
def test_one_drop_of_the_unknown_makes_the_cup_unknown(drop: Bottle, level: Level) -> None:
    found = assess(product_of("cup", [OCHRE, THINNER, drop]), COAT, BOOTH, ROOM, FAN)
    assert found.findings[0].level is level
    assert found.level.rank >= level.rank


def test_a_bottle_of_unknown_volume_makes_the_cup_unknown_and_is_still_refused_by_name() -> None:
    bottles = [
        {"name": "ochre", "ml": 2, "solvents": {"xylene": 0.5}, "two_part": False},
        {"name": "strip", "ml": None, "solvents": {"dichloromethane": 0.9}, "two_part": False},
    ]
    cup = parse_product({"name": "cup", "bottles": bottles})
    assert cup.unknown_bottles == ("strip (how much went in is not known)",)
    assert {s.name: s.share for s in cup.solvents} == {"xylene": 0.5, "dichloromethane": 0.0}
    assert cup.solids_g_ml is None


def test_bottles_in_json() -> None:
    product = {
        "name": "cup 3",
        "bottles": [
            {"name": "ochre", "ml": 6, "solvents": {"n-butyl acetate": 0.6}, "two_part": False},
            {"name": "reducer", "ml": 4, "solvents": {"MEK": 1.0}, "two_part": False},
        ],
    }
    assert parse_product(product).solvents == (
        Solvent("n-butyl acetate", 0.36),
        Solvent("MEK", 0.4),
    )
    for wrong, says in (
        ({"bottles": []}, "empty cup"),
        ({"bottles": [{"name": "x"}]}, "ml is missing"),
        ({"bottles": [{"name": "x", "ml": 0}]}, "ml"),
        ({"bottles": 3}, "list of objects"),
        ({"bottles": [{"name": "x", "ml": 1}], "solvents": {"MEK": 1}}, "wanted one"),
    ):
        with pytest.raises(BadInput, match=says):
            parse_product(wrong)


value = st.one_of(
    st.none(), st.floats(), st.floats(0.0, 100.0), st.sampled_from([0, -1, 1e308, 5e-324, True, ""])
)


@settings(deadline=None, max_examples=200)
@given(st.data())
def test_any_request_gives_json_or_one_line_and_never_reassures(data: st.DataObject) -> None:
    def fields(*names: str) -> dict[str, object]:
        return {name: data.draw(value) for name in names if data.draw(st.booleans())}

    given_: dict[str, object] = {
        "product": {
            "solvents": {"toluene": 0.7},
            "two_part": False,
            **fields("solids_g_ml", "dust_limit_mg_m3"),
        },
        "coat": {"sprayed_ml": 5.0, "minutes": 5.0, **fields("sprayed_ml", "minutes")},
        "booth": {"width_m": 0.5, "height_m": 0.4, "exhaust": "ducted",
                  **fields("width_m", "flow_m3h", "crossdraft_m_s")},
        "room": {"volume_m3": 30.0, **fields("volume_m3", "fresh_air_m3h", "mixing_divisor",
                                             "escape_share", "near_radius_m", "air_speed_m_min")},
    }  # fmt: skip
    try:
        found = answer_assess(given_, FAN)
    except BadInput as error:
        assert "\n" not in str(error)
    else:
        json.dumps(found, allow_nan=False)
        assert found["level"] != Level.NOTHING_FOUND.value
