"""Reducers: names, shares, data sheets; what is wrong is refused by name."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sprayout.climate.reducer import blend_by_volume, from_data_sheet, parse_reducer
from sprayout.climate.solvents import all_solvents, find_solvent, nearest_names
from sprayout.errors import BadInput


def test_every_solvent_is_found_under_its_name_and_cas_number() -> None:
    assert len(all_solvents()) == 39
    for solvent in all_solvents():
        assert find_solvent(solvent.name).solvent is solvent
        assert find_solvent(solvent.name.upper()).solvent is solvent
        assert find_solvent(solvent.cas).solvent is solvent


@pytest.mark.parametrize(
    ("name", "found"),
    [
        ("Butyl Acetate", "n-butyl acetate"),
        ("N-BUTYL ACETATE", "n-butyl acetate"),
        ("methyl ethyl ketone", "MEK"),
        ("2-Butanone", "MEK"),
        ("isopropyl alcohol", "IPA"),
        ("propan-2-ol", "IPA"),
        ("xylene", "m-xylene"),
        ("White Spirit", "n-decane (white spirit proxy)"),
        ("2-butoxyethanol", "EB (2-butoxyethanol)"),
        ("MAK", "MAK (2-heptanone)"),
        ("heptane", "n-heptane (fast naphtha proxy)"),
        ("PGMEA", "PM acetate"),
        ("1-methoxy-2-propanol", "PM (1-methoxy-2-propanol)"),
        (" Water ", "water"),
    ],
)
def test_label_names(name: str, found: str) -> None:
    assert find_solvent(name).solvent.name == found


def test_a_product_that_a_pure_solvent_stands_in_for_is_said() -> None:
    assert parse_reducer("xylene=1").notes == ("xylene is taken as m-xylene",)
    assert parse_reducer("m-xylene=1").notes == ()


# Normal boiling points say that the vapour pressures are not mixed up: p(Tb) = 1 atm.  Antoine was
# fitted to 50 °C only, so beyond that this is a loose check.
@pytest.mark.parametrize("solvent", all_solvents(), ids=lambda s: s.name)
def test_vapour_pressure_reaches_one_atmosphere_near_the_boiling_point(solvent) -> None:
    slack = 0.03 + 0.004 * max(0.0, solvent.boiling_c - 50.0)
    assert float(solvent.vapour_pressure_pa(solvent.boiling_c)) == pytest.approx(101_325, rel=slack)


def test_shares_by_one_or_by_hundred_are_the_same() -> None:
    assert parse_reducer("toluene=60,acetone=40") == parse_reducer("toluene=0.6, acetone=0.4")


@pytest.mark.parametrize(
    ("text", "named"),
    [
        ("", "got nothing"),
        ("acetone", "wanted name=share"),
        ("=1", "wanted name=share"),
        ("acetone=much", "share of acetone is 'much'"),
        ("acetone=-1,toluene=2", "share of acetone is '-1'"),
        ("acetone=nan", "share of acetone is 'nan'"),
        ("acetone=0.5,toluene=0.4", "shares sum to 0.9"),
        ("acetone=60,toluene=60", "shares sum to 120"),
        ("acetone=0,toluene=0", "shares sum to 0"),
        ("acetone=0.5,acetone=0.5", "named twice"),
        ("MEK=0.5,2-butanone=0.5", "is MEK, named twice"),
        ("tolluene=1", "nearest: toluene"),
        ("butil acetate=1", "nearest: n-butyl acetate"),
    ],
)
def test_bad_reducers_are_refused_by_name(text: str, named: str) -> None:
    with pytest.raises(BadInput, match=named) as refused:
        parse_reducer(text)
    assert "\n" not in str(refused.value)


@settings(deadline=None, max_examples=50)
@given(st.text(min_size=1, max_size=20))
def test_any_unknown_name_gets_three_offers(name: str) -> None:
    assert len(nearest_names(name)) == 3


def test_data_sheet_by_weight_becomes_volume() -> None:
    # equal weights of dichloromethane (1.328 kg/L) and n-hexane (0.661 kg/L)
    sheet = from_data_sheet({"dichloromethane": (50.0, 50.0), "hexane": (50.0, 50.0)})
    assert sheet.middle.shares == pytest.approx((0.332, 0.668), abs=0.001)
    assert sheet.fastest == sheet.middle == sheet.slowest


def test_data_sheet_ranges_give_a_fastest_and_a_slowest_blend() -> None:
    ranges = {"acetone": (10.0, 30.0), "toluene": (40.0, 60.0), "n-butyl acetate": (20.0, 40.0)}
    sheet = from_data_sheet(ranges, "volume")
    assert sheet.fastest.shares == pytest.approx((0.3, 0.5, 0.2))
    assert sheet.slowest.shares == pytest.approx((0.1, 0.5, 0.4))
    assert sum(sheet.middle.shares) == pytest.approx(1.0)


@pytest.mark.parametrize(
    ("ranges", "named"),
    [
        ({"acetone": (10.0, 30.0), "toluene": (20.0, 40.0)}, "sum to 30-70 %"),
        ({"acetone": (60.0, 70.0), "toluene": (50.0, 60.0)}, "sum to 110-130 %"),
        ({"acetone": (30.0, 10.0), "toluene": (70.0, 90.0)}, "acetone got 30-10 %"),
        ({}, "sum to 0-0 %"),
    ],
)
def test_bad_data_sheets_are_refused(ranges: dict[str, tuple[float, float]], named: str) -> None:
    with pytest.raises(BadInput, match=named):
        from_data_sheet(ranges)


def test_mixing_in_a_slow_solvent_keeps_the_whole() -> None:
    blend = parse_reducer("toluene=50,acetone=50")
    slowed = blend.mixed_with(blend_by_volume({"toluene": 1.0}), 0.2)
    assert dict(
        zip((s.name for s in slowed.solvents), slowed.shares, strict=True)
    ) == pytest.approx({"toluene": 0.6, "acetone": 0.4})
