"""Moist air against published tables and psychrolib, a general-purpose reference library."""

import csv
import math
from pathlib import Path

import numpy as np
import psychrolib
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sprayout.climate import moist_air, wet_bulb
from sprayout.errors import BadInput

TABLE = Path(__file__).parent / "tables" / "moist_air.csv"


def published() -> list[dict[str, str]]:
    lines = TABLE.read_text().splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


def celsius(text: str, scale: str) -> float:
    return (float(text) - 32.0) / 1.8 if scale == "F" else float(text)


def ours(row: dict[str, str]) -> float:
    t = celsius(row["t"], row["scale"])
    match row["quantity"]:
        case "saturation vapour pressure":
            return float(moist_air.saturation_pressure_pa(t))
        case "saturation humidity ratio":
            return float(wet_bulb.saturation_humidity_ratio(t))
        case "dew point":
            dew = float(moist_air.dew_point_c(t, float(row["rh_pct"])))
            if moist_air.is_frost(dew):  # the chart counts over water below 0 °C too
                dew = float(moist_air.supercooled_dew_point_c(t, float(row["rh_pct"])))
            return dew * 1.8 + 32.0 if row["scale"] == "F" else dew
        case "wet bulb":
            return float(wet_bulb.wet_bulb_c(t, float(row["rh_pct"])))
    ratio = wet_bulb.humidity_ratio_from_wet_bulb(t, float(row["wet_bulb"]))
    if row["quantity"] == "enthalpy":
        return float(wet_bulb.enthalpy_j_kg(t, ratio))
    assert row["quantity"] == "specific volume"
    return float(wet_bulb.specific_volume_m3_kg(t, ratio))


@pytest.mark.parametrize(
    "row", published(), ids=lambda r: f"{r['quantity']} {r['t']} {r['rh_pct']}"
)
def test_published_row(row: dict[str, str]) -> None:
    assert ours(row) == pytest.approx(float(row["published"]), abs=float(row["tolerance"]))


@pytest.fixture(scope="module")
def grid() -> tuple[np.ndarray, np.ndarray]:
    air, rh = np.meshgrid(np.arange(0.0, 45.1, 1.0), np.arange(5.0, 100.1, 2.5))
    psychrolib.SetUnitSystem(psychrolib.SI)
    return air, rh


def test_dew_point_agrees_with_psychrolib(grid: tuple[np.ndarray, np.ndarray]) -> None:
    air, rh = grid
    theirs = np.vectorize(lambda t, r: psychrolib.GetTDewPointFromRelHum(t, r / 100.0))(air, rh)
    assert np.abs(moist_air.dew_point_c(air, rh) - theirs).max() < 0.002  # it stops at 0.001 K


@pytest.mark.parametrize("pressure_pa", [101_325.0, 85_000.0])
def test_wet_bulb_agrees_with_psychrolib(
    grid: tuple[np.ndarray, np.ndarray], pressure_pa: float
) -> None:
    air, rh = grid
    theirs = np.vectorize(lambda t, r: psychrolib.GetTWetBulbFromRelHum(t, r / 100.0, pressure_pa))(
        air, rh
    )
    assert np.abs(wet_bulb.wet_bulb_c(air, rh, pressure_pa) - theirs).max() < 0.002


@settings(deadline=None, max_examples=200)
@given(st.floats(-20.0, 60.0), st.floats(1.0, 100.0))
def test_dew_point_and_humidity_round_trip(air_c: float, rh_pct: float) -> None:
    back = moist_air.rh_from_dew_point_pct(air_c, moist_air.dew_point_c(air_c, rh_pct))
    assert float(back) == pytest.approx(rh_pct, rel=1e-4)


@settings(deadline=None, max_examples=200)
@given(st.floats(-20.0, 60.0), st.floats(1.0, 99.0), st.floats(60_000.0, 108_000.0))
def test_dew_point_below_wet_bulb_below_air(air_c: float, rh_pct: float, p: float) -> None:
    dew = float(moist_air.dew_point_c(air_c, rh_pct))
    wet = float(wet_bulb.wet_bulb_c(air_c, rh_pct, p))
    assert dew <= wet + 1e-3
    assert wet <= air_c + 1e-9


def test_frost_is_named_below_the_triple_point() -> None:
    cold = moist_air.BoothAir(4.0, 40.0)
    assert cold.dew_point_kind == "frost"
    assert cold.dew_point_c < 0.0
    assert moist_air.BoothAir(20.0, 50.0).dew_point_kind == "dew"
    assert moist_air.is_frost([-3.0, 3.0]).tolist() == [True, False]


def test_missing_and_impossible_values_give_no_number() -> None:
    air = [20.0, math.nan, 20.0, 20.0, 20.0, -300.0]
    rh = [50.0, 50.0, math.nan, 140.0, 0.0, 50.0]
    for values in (
        moist_air.dew_point_c(air, rh),
        moist_air.absolute_humidity_g_m3(air, rh),
        wet_bulb.wet_bulb_c(air, rh),
    ):
        assert np.isfinite(values).tolist() == [True, False, False, False, False, False]


def test_absolute_humidity_of_saturated_air_at_20_c() -> None:
    # 17.3 g/m3, saturated air at 20 °C; CRC Handbook of Chemistry and Physics (from memory)
    assert float(moist_air.absolute_humidity_g_m3(20.0, 100.0)) == pytest.approx(17.3, abs=0.05)


@pytest.mark.parametrize(
    ("air_c", "rh_pct", "pressure_pa", "named"),
    [
        (20.0, 140.0, 101_325.0, "relative humidity: got 140 %RH"),
        (20.0, math.nan, 101_325.0, "relative humidity: got nan %RH"),
        (20.0, 0.0, 101_325.0, "relative humidity: got 0 %RH"),
        (-300.0, 50.0, 101_325.0, "air temperature: got -300 °C"),
        (20.0, 50.0, 1_013.0, "looks like hPa"),
        (20.0, 50.0, 101.3, "looks like kPa"),
        (20.0, 50.0, 760.0, "looks like hPa or mmHg"),
        (20.0, 50.0, 29.92, "looks like inHg"),
        (20.0, 50.0, 0.0, "station pressure: got 0 Pa"),
    ],
)
def test_bad_air_is_refused_by_name(
    air_c: float, rh_pct: float, pressure_pa: float, named: str
) -> None:
    with pytest.raises(BadInput, match=named):
        moist_air.BoothAir(air_c, rh_pct, pressure_pa)
