"""Salts table reproduced, and corrections that come of checks over them."""

import csv
from pathlib import Path

import pytest

from sprayout.climate.salts import (
    SaltPoint,
    correction,
    correction_age_days,
    find_salt,
    humidity_over,
    salt_names,
)
from sprayout.errors import BadInput

TABLE = Path(__file__).parent / "tables" / "greenspan1977_salts.csv"


def published() -> list[dict[str, str]]:
    lines = [line for line in TABLE.read_text().splitlines() if not line.startswith("#")]
    return list(csv.DictReader(lines))


@pytest.mark.parametrize("row", published(), ids=lambda r: f"{r['salt']} {r['t_c']}")
def test_table_is_reproduced(row: dict[str, str]) -> None:
    found = humidity_over(row["salt"], float(row["t_c"]))
    rounding = 0.06 if row["source"].startswith("CRC") else 0.011
    assert found.rh_pct == pytest.approx(float(row["rh_pct"]), abs=rounding)
    assert found.uncertainty_pct == pytest.approx(float(row["uncertainty_pct"]), abs=0.01)


def test_salts_by_name() -> None:
    assert len(salt_names()) == 12
    assert find_salt("nacl") == find_salt("Table salt") == "NaCl"
    for name in salt_names():
        assert find_salt(name) == name


def test_one_point_shifts() -> None:
    found = correction("bench probe", [SaltPoint("NaCl", 20.0, 78.0, 240.0)], 86_400_000)
    assert found.gain == 1.0
    assert found.apply(78.0) == pytest.approx(75.48, abs=0.01)
    assert found.apply(50.0) == pytest.approx(47.48, abs=0.01)
    assert correction_age_days(found, 3 * 86_400_000) == 2.0
    assert "bench probe: -2.5 %RH" in found.words()


def test_two_points_are_met_both() -> None:
    points = [SaltPoint("MgCl2", 20.0, 35.0, 240.0), SaltPoint("NaCl", 20.0, 79.0, 240.0)]
    found = correction("bench probe", points, 0)
    assert found.apply(35.0) == pytest.approx(33.07, abs=0.01)
    assert found.apply(79.0) == pytest.approx(75.48, abs=0.01)
    assert found.apply(200.0) == 100.0
    assert found.uncertainty_pct >= 0.18


@pytest.mark.parametrize(
    ("points", "named"),
    [
        ([], "got 0 points"),
        ([SaltPoint("pepper", 20.0, 75.0, 240.0)], "salt: got 'pepper'"),
        ([SaltPoint("NaCl", 70.0, 75.0, 240.0)], "salt temperature: got 70 °C"),
        ([SaltPoint("NaCl", 20.0, 95.0, 240.0)], "probe reads 95 %RH over NaCl"),
        ([SaltPoint("NaCl", 20.0, float("nan"), 240.0)], "probe reads nan %RH"),
        ([SaltPoint("NaCl", 20.0, 75.0, 5.0)], "5 minutes over NaCl"),
        (
            [SaltPoint("NaCl", 20.0, 75.0, 240.0), SaltPoint("KCl", 20.0, 85.0, 240.0)],
            "less than 20 %RH apart",
        ),
    ],
)
def test_bad_checks_are_refused(points: list[SaltPoint], named: str) -> None:
    with pytest.raises(BadInput, match=named):
        correction("bench probe", points, 0)
