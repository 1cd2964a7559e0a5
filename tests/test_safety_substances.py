"""Substances, limits and unit conversion against the published figures, and what is missing.

Limits: NIOSH Pocket Guide (copy of 2019), OSHA Tables Z-1 and Z-2, ACGIH TLVs of 2018 as shown in
OSHA's annotated table, EU directives; UK limits and some EU ones from memory, so marked.
"""

import pytest

from sprayout.errors import BadInput
from sprayout.safety import limits
from sprayout.safety.concentration import (
    MOLAR_VOLUME_20C_L,
    MOLAR_VOLUME_25C_L,
    mg_m3_from_ppm,
    molar_volume_l,
    ppm_from_mg_m3,
    saturation_ppm,
)
from sprayout.safety.substances import all_substances, find, known, nearest_names
from sprayout.safety.tables import rows, source

READ_BY_US = {
    # substance: molar mass, lowest US limit ppm, IDLH ppm (NIOSH Pocket Guide, OSHA, ACGIH 2018)
    "acetone": (58.1, 250.0, 2500.0),
    "MEK": (72.1, 200.0, 3000.0),
    "MIBK": (100.2, 20.0, 500.0),
    "ethyl acetate": (88.1, 400.0, 2000.0),
    "n-butyl acetate": (116.2, 50.0, 1700.0),
    "toluene": (92.1, 20.0, 500.0),
    "ethylbenzene": (106.2, 20.0, 800.0),
    "IPA": (60.1, 200.0, 2000.0),
    "ethanol": (46.1, 1000.0, 3300.0),
    "methanol": (32.1, 200.0, 6000.0),
    "n-butanol": (74.1, 20.0, 1400.0),
    "EGBE": (118.2, 5.0, 700.0),
    "DPGME": (148.2, 100.0, 600.0),
    "ammonia": (17.0, 25.0, 300.0),
    "diacetone alcohol": (116.2, 50.0, 1800.0),
    "n-propyl acetate": (102.2, 200.0, 1700.0),
}


@pytest.mark.parametrize("name", READ_BY_US)
def test_figures_as_read(name: str) -> None:
    mass, limit, idlh = READ_BY_US[name]
    substance = find(name)
    assert substance.molar_mass_g is not None
    assert substance.idlh_in_ppm is not None
    assert (substance.molar_mass_g.value, substance.idlh_in_ppm.value) == (mass, idlh)
    lowest = limits.lowest_ppm(substance, "us")
    assert lowest is not None
    assert lowest.ppm == limit


@pytest.mark.parametrize(
    ("name", "eight_h", "short", "mg_m3"),
    [  # Directive 2000/39/EC, read; the mg/m³ pair converts at 20 °C within its rounding
        ("PGME", 100, 150, 375),
        ("PGMEA", 50, 100, 275),
        ("EGBE", 20, 50, 98),
        ("DPGME", 50, None, 308),
    ],
)
def test_eu_glycol_ethers(name: str, eight_h: float, short: float | None, mg_m3: float) -> None:
    substance = find(name)
    long = limits.lowest_8h(substance, "eu")
    assert long is not None
    assert (long.ppm, long.mg_m3, long.mark) == (eight_h, mg_m3, "read")
    mass = substance.molar_mass_g
    assert mass is not None
    assert mg_m3_from_ppm(eight_h, mass.value, MOLAR_VOLUME_20C_L) == pytest.approx(mg_m3, rel=4e-3)
    found = limits.lowest_15min(substance, "eu")
    assert found is not None
    if short is None:
        assert found.body == "excursion"
        assert found.ppm == 3 * eight_h
    else:
        assert found.ppm == short


@pytest.mark.parametrize(
    ("name", "region"),
    [
        ("PGMEA", "us"),
        ("IPA", "eu"),
        ("ethanol", "eu"),
        ("white spirit", "uk"),
        ("white spirit", "eu"),
        ("n-butanol", "eu"),
    ],
)
def test_a_missing_limit_is_none_and_not_zero(name: str, region: str) -> None:
    assert limits.lowest_ppm(find(name), region) is None
    assert limits.lowest_8h(find(name), region) is None
    assert limits.lowest_15min(find(name), region) is None


def test_no_limit_of_any_table_is_zero() -> None:
    for substance in all_substances():
        for region in ("us", "uk", "eu"):
            for limit in limits.limits_for(substance, region):
                assert limit.ppm is None or limit.ppm > 0
                assert limit.mg_m3 is None or limit.mg_m3 > 0
                assert limit.ppm is not None or limit.mg_m3 is not None


def test_white_spirit_converts_by_the_molar_mass_of_its_own_pair_and_says_so() -> None:
    spirit = find("mineral spirits")
    assert spirit.molar_mass_g is not None
    assert spirit.molar_mass_g.source.mark == "derived"
    assert ppm_from_mg_m3(2900.0, 142.0, MOLAR_VOLUME_25C_L) == pytest.approx(500.0, rel=2e-3)


@pytest.mark.parametrize(
    ("written", "name"),
    [
        ("Toluene", "Toluene"),
        ("  toluol ", "Toluene"),
        ("108-88-3", "Toluene"),
        ("BUTYL  ACETATE", "n-Butyl acetate"),
        ("n butyl acetate", "n-Butyl acetate"),
        ("isopropanol", "Isopropyl alcohol (IPA)"),
        ("xylene", "Xylenes (mixed isomers)"),
        ("PMA", "PGMEA (PMA)"),
        ("white spirit", "Stoddard solvent / white spirit"),
        ("2-butanone", "Methyl ethyl ketone (MEK)"),
    ],
)
def test_found_by_synonym_and_number(written: str, name: str) -> None:
    assert find(written).name == name


@pytest.mark.parametrize(("written", "near"), [("tolune", "Toluene"), ("acetoen", "Acetone")])
def test_unknown_shows_the_nearest_names(written: str, near: str) -> None:
    assert near in nearest_names(written)
    with pytest.raises(BadInput, match=f"{near}.*not assessed"):
        find(written)


@pytest.mark.parametrize("written", ["", "   ", "dragon's breath", "-"])
def test_unknown_is_refused(written: str) -> None:
    assert known(written) is None
    with pytest.raises(BadInput, match="not in our table"):
        find(written)


def test_names_are_unique() -> None:
    seen: dict[str, str] = {}
    for substance in all_substances():
        for name in substance.named():
            if name:
                assert seen.setdefault(name.casefold(), substance.key) == substance.key


def test_every_figure_has_a_source() -> None:
    for row in rows("limits"):
        assert source(row["source"]).title
        assert known(row["substance"]) is not None
    for row in rows("assigned_factors"):
        assert source(row["source"]).title
    for row in rows("sources"):
        assert row["mark"] in {"read", "part", "memory", "derived", "choice"}


@pytest.mark.parametrize("convert", [mg_m3_from_ppm, ppm_from_mg_m3])
def test_without_molar_mass_no_conversion(convert: object) -> None:
    with pytest.raises(BadInput, match="molar mass: none known"):
        convert(10.0, None, MOLAR_VOLUME_25C_L)  # type: ignore[operator]


@pytest.mark.parametrize("wrong", [-400.0, 300.0, float("nan")])
def test_absurd_air_is_refused(wrong: float) -> None:
    with pytest.raises(BadInput, match="air temperature"):
        molar_volume_l(wrong)


def test_saturation_is_capped_at_pure_vapour() -> None:
    assert saturation_ppm(0.5) == pytest.approx(657.9, rel=1e-4)
    assert saturation_ppm(5000.0) == 1e6
