"""Assigned protection factors, the cap at IDLH, and the cartridge's rule of thumb.

Factors: OSHA 29 CFR 1910.134(d)(3)(i)(A) Table 1 (read).  Rule of thumb: OSHA Respirator eTool
after AIHA, The Occupational Environment, ch. 36 (read).
"""

import json
import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sprayout.errors import BadInput
from sprayout.safety.assessment import Level
from sprayout.safety.cartridge import CartridgeLog, estimate, judge, rule_of_thumb_h, worn
from sprayout.safety.cartridge_json import answer_cartridge_log, log_to_json, parse_log
from sprayout.safety.respirator import advise, filter_words
from sprayout.safety.substances import all_substances, find
from sprayout.safety.tables import rows

TABLE_1 = [
    ("quarter mask with cartridges", 5),
    ("half mask with cartridges", 10),
    ("full facepiece with cartridges", 50),
    ("powered air purifier, half mask", 50),
    ("powered air purifier, full facepiece", 1000),
    ("powered air purifier, helmet or hood", 25),
    ("powered air purifier, loose-fitting facepiece", 25),
    ("supplied air on demand, half mask", 10),
    ("supplied air on demand, full facepiece", 50),
    ("supplied air in continuous flow, half mask", 50),
    ("supplied air in continuous flow, full facepiece", 1000),
    ("supplied air in continuous flow, helmet or hood", 25),
    ("supplied air in continuous flow, loose-fitting facepiece", 25),
    ("supplied air under pressure demand, half mask", 50),
    ("supplied air under pressure demand, full facepiece", 1000),
    ("self-contained on demand, half mask", 10),
    ("self-contained on demand, full facepiece or hood", 50),
    ("self-contained under pressure demand, full facepiece or hood", 10000),
]


@pytest.mark.parametrize(("name", "factor"), TABLE_1)
def test_assigned_factor(name: str, factor: int) -> None:
    found = {
        r["class"]: float(r["factor"]) for r in rows("assigned_factors") if r["region"] == "us"
    }
    assert found[name] == factor
    assert len(found) == len(TABLE_1)


@pytest.mark.parametrize("region", ["uk", "eu"])
@pytest.mark.parametrize(
    ("name", "factor"),
    [  # EN 140, EN 136 and EN 12941 as printed in a trade table of assigned factors (read)
        ("half mask with gas filter", 10),
        ("full face mask with gas filter", 20),
        ("powered hood TH2 with gas filter", 20),
        ("powered hood TH3 with gas filter", 40),
        ("air-fed visor or hood EN 14594 class 4", 40),  # HSE body-shop pages (read)
    ],
)
def test_european_assigned_factor(name: str, factor: int, region: str) -> None:
    found = {r["class"]: r for r in rows("assigned_factors") if r["region"] == region}
    assert float(found[name]["factor"]) == factor
    assert found[name]["mark"] == "read"


def names(substance: str, ppm: float, region: str = "us", limit: float | None = None) -> set[str]:
    return {c.name for c in advise(find(substance), ppm, region, limit).classes}


@pytest.mark.parametrize(
    ("substance", "ppm", "half", "full"),
    [
        ("MEK", 150.0, True, True),  # under 10 * 200
        ("MEK", 2000.0, True, True),  # exactly 10 * 200
        ("MEK", 2000.1, False, True),  # 50 * 200 is capped at IDLH 3000
        ("MEK", 2999.0, False, True),
        ("EGBE", 50.0, True, True),
        ("EGBE", 51.0, False, True),
        ("EGBE", 250.0, False, True),
        ("EGBE", 251.0, False, False),  # only factor 1000 and up
    ],
)
def test_factor_times_limit(substance: str, ppm: float, half: bool, full: bool) -> None:
    found = names(substance, ppm)
    assert ("half mask with cartridges" in found) == half
    assert ("full facepiece with cartridges" in found) == full


@pytest.mark.parametrize("share", [1.0, 1.5, 100.0])
@pytest.mark.parametrize("substance", all_substances(), ids=lambda s: s.key)
def test_never_a_class_at_or_above_idlh(substance: object, share: float) -> None:
    idlh = substance.idlh_in_ppm  # type: ignore[attr-defined]
    if idlh is None:
        return
    for region in ("us", "uk", "eu"):
        found = advise(substance, idlh.value * share, region, 1e5)  # type: ignore[arg-type]
        assert found.classes == ()
        assert found.refusal is not None


@settings(deadline=None, max_examples=150)
@given(
    st.sampled_from([s for s in all_substances() if s.kind != "particulate"]),
    st.floats(0.0, 1e5),
    st.sampled_from(["us", "uk", "eu"]),
)
def test_every_class_covers_and_stays_under_the_cap(
    substance: object, ppm: float, region: str
) -> None:
    found = advise(substance, ppm, region)  # type: ignore[arg-type]
    for entry in found.classes:
        assert found.limit is not None
        assert found.limit.ppm is not None
        assert found.cap_ppm is not None
        assert ppm <= entry.covers_ppm <= min(entry.factor * found.limit.ppm, found.cap_ppm)
        assert ppm < found.cap_ppm
    if not found.classes and found.refusal is None:
        assert found.limit is not None  # the table simply ends


@pytest.mark.parametrize(
    ("substance", "region", "key"),
    [
        ("methylene chloride", "us", "methylene_chloride"),
        ("HDI", "us", "isocyanate"),
        ("PGMEA", "us", "missing_limit"),
        ("IPA", "eu", "missing_limit"),
        ("white spirit", "uk", "missing_limit"),
    ],
)
def test_no_class_and_the_reason(substance: str, region: str, key: str) -> None:
    found = advise(find(substance), 1.0, region)
    assert found.classes == ()
    assert found.refusal is not None
    assert found.refusal.key == key
    assert "The way:" in found.refusal.words()


def test_a_limit_from_the_data_sheet_fills_the_gap() -> None:
    assert "half mask with cartridges" in names("PGMEA", 400.0, "us", 50.0)
    assert names("PGMEA", 501.0, "us", 50.0).isdisjoint({"half mask with cartridges"})


def test_without_idlh_the_cap_is_a_tenth_of_the_explosive_limit() -> None:
    found = advise(find("PGME"), 10.0)
    assert found.cap_ppm == 1600.0
    assert "no IDLH published" in found.cap_words
    assert advise(find("PGME"), 1600.0).classes == ()


def test_no_cartridge_for_methanol() -> None:
    assert filter_words(find("methanol"), "us") == ""
    found = advise(find("methanol"), 300.0)
    assert found.classes
    assert all("air" in c.name or "self-contained" in c.name for c in found.classes)
    assert not any("cartridge" in c.name or "purifier" in c.name for c in found.classes)


@pytest.mark.parametrize(
    ("substance", "region", "says"),
    [
        ("acetone", "eu", "type AX"),
        ("toluene", "eu", "type A "),
        ("ammonia", "uk", "type K"),
        ("ammonia", "us", "ammonia cartridge"),
        ("toluene", "us", "OV organic vapour"),
    ],
)
def test_filter_type_is_named_before_its_colour(substance: str, region: str, says: str) -> None:
    words = filter_words(find(substance), region)
    assert says in words
    assert words.startswith("type ")


def test_ppm_of_a_pigment_is_refused() -> None:
    with pytest.raises(BadInput, match="particulate has no ppm"):
        advise(find("titanium dioxide"), 1.0)


@pytest.mark.parametrize(
    ("ppm", "rh", "work", "hours"),
    [
        (200.0, 50.0, 1.0, 8.0),
        (20.0, 50.0, 1.0, 40.0),  # a tenth gives five times the life
        (200.0, 90.0, 1.0, 4.0),  # above 85 %RH half
        (200.0, 85.0, 1.0, 8.0),
        (200.0, 50.0, 2.0, 4.0),  # inverse with work
    ],
)
def test_rule_of_thumb(ppm: float, rh: float, work: float, hours: float) -> None:
    assert rule_of_thumb_h(ppm, rh, work) == pytest.approx(hours)
    assert estimate(find("toluene"), ppm, rh, work).hours == pytest.approx(hours)


@pytest.mark.parametrize(
    ("substance", "ppm", "says"),
    [
        ("acetone", 100.0, "boils at 56"),
        ("methanol", 100.0, "boils at 63.9"),
        ("methylene chloride", 10.0, "methylene chloride"),
        ("HDI", 0.01, "isocyanate"),
        ("toluene", 201.0, "up to 200 ppm"),
        ("toluene", 500.0, "IDLH"),
        ("ammonia", 20.0, "its own cartridge"),
        ("titanium dioxide", 1.0, "particulate"),
    ],
)
def test_rule_does_not_apply(substance: str, ppm: float, says: str) -> None:
    found = estimate(find(substance), ppm, 50.0)
    assert found.hours is None
    assert says in found.reason


@pytest.mark.parametrize(
    "name", ["MEK", "ethyl acetate", "ethanol", "toluene", "xylene", "PGME", "EGBE"]
)
def test_rule_applies_above_70_degrees(name: str) -> None:
    assert estimate(find(name), 100.0, 50.0).hours is not None


@pytest.mark.parametrize(
    ("ppm", "rh", "work", "says"),
    [
        (0.0, 50.0, 1.0, "concentration"),
        (-1.0, 50.0, 1.0, "concentration"),
        (math.nan, 50.0, 1.0, "concentration"),
        (10.0, 140.0, 1.0, "relative humidity"),
        (10.0, math.nan, 1.0, "relative humidity"),
        (10.0, 50.0, 0.0, "work ratio"),
    ],
)
def test_wrong_cartridge_input(ppm: float, rh: float, work: float, says: str) -> None:
    with pytest.raises(BadInput, match=says):
        estimate(find("toluene"), ppm, rh, work)


NEW = CartridgeLog("left and right, opened by R. Mooring", 0.0)


@pytest.mark.parametrize(
    ("log", "substance", "ppm", "level"),
    [
        (NEW, "toluene", 100.0, Level.CAUTION),
        (NEW, "toluene", None, Level.CANNOT_ASSESS),
        (CartridgeLog("x", None), "toluene", 100.0, Level.CANNOT_ASSESS),
        (CartridgeLog("x", 0.0, 9.0), "toluene", 200.0, Level.STOP),
        (CartridgeLog("x", 0.0, 4.5, 4.5), "toluene", 200.0, Level.STOP),
        (CartridgeLog("x", 1.0), "acetone", 10.0, Level.STOP),
        (CartridgeLog("x", 0.0), "acetone", 10.0, Level.CANNOT_ASSESS),
        (CartridgeLog("x", 0.0), "HDI", 0.001, Level.REFUSE),
    ],
)
def test_cartridge_log(log: CartridgeLog, substance: str, ppm: float | None, level: Level) -> None:
    assert judge(log, find(substance), ppm).level is level


def test_hours_without_a_humidity_reading_count_as_humid() -> None:
    log = worn(worn(NEW, 1.0, 50.0), 2.0, None)
    assert (log.worn_h, log.humid_h) == (3.0, 2.0)
    assert worn(NEW, 1.0, 86.0).humid_h == 1.0
    with pytest.raises(BadInput, match="at most 24"):
        worn(NEW, 90.0, 50.0)


def test_log_in_json_goes_round() -> None:
    log = CartridgeLog("left and right", 0.5, 3.0, 1.0)
    assert parse_log(log_to_json(log)) == log
    given_ = {"log": log_to_json(log), "substance": "toluene", "ppm": 200}
    found = json.loads(json.dumps(answer_cartridge_log(given_), allow_nan=False))
    assert found["figures"]["left_h"] == pytest.approx(4.0)
    assert found["change_now"] is False
    worn_out = {**given_, "log": {"opened_days_ago": 0, "worn_h": 8}}
    assert answer_cartridge_log(worn_out)["change_now"] is True
    assert answer_cartridge_log({**given_, "log": {}})["level"] == "cannot assess"


@pytest.mark.parametrize(
    ("wrong", "says"),
    [
        ({"log": {"worn_h": 1, "humid_h": 2}}, "humid_h"),
        ({"log": {"worn_h": -1}}, "worn_h"),
        ({"log": {"opened": 3}}, "got 'opened'"),
        ({"log": "new"}, "cartridge log"),
        ({"log": {}, "substance": "tolune"}, "nearest"),
    ],
)
def test_log_in_json_names_what_is_wrong(wrong: dict[str, object], says: str) -> None:
    with pytest.raises(BadInput, match=says):
        answer_cartridge_log({"substance": "toluene", "ppm": 5, **wrong})
