"""Air of the virtual evening: nothing is lost, nothing runs wild, and the same seed repeats."""

import itertools

import psychrolib
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sprayout.errors import BadInput
from sprayout.sim import moist
from sprayout.sim.air_box import Box, Reservoir
from sprayout.sim.booth_air import BoothAir
from sprayout.sim.fan import Fan
from sprayout.sim.probe_body import ProbeBody, ProbeTraits
from sprayout.sim.weather import Weather
from sprayout.sim.wet_part import WetPart

seeds = st.integers(0, 10_000)


def test_moist_air_against_psychrolib() -> None:
    """Sonntag 1990 beside psychrolib's Hyland-Wexler: two formulas, 0.1 % and 0.02 K apart."""
    psychrolib.SetUnitSystem(psychrolib.SI)
    for air_c, rh in itertools.product((1.0, 10.0, 21.3, 30.0, 45.0), (0.2, 0.55, 0.9, 1.0)):
        pressure = rh * moist.saturation_pa(air_c)
        assert moist.saturation_pa(air_c) == pytest.approx(
            psychrolib.GetSatVapPres(air_c), rel=1e-3
        )
        if moist.dew_point_c(pressure) > 0.5:  # below, psychrolib answers with the frost point
            assert moist.dew_point_c(pressure) == pytest.approx(
                psychrolib.GetTDewPointFromRelHum(air_c, rh), abs=0.02
            )
    ratio = moist.ratio_from_pa(1500.0, 100_900.0)
    assert ratio == pytest.approx(psychrolib.GetHumRatioFromVapPres(1500.0, 100_900.0), rel=1e-3)
    assert moist.pa_from_ratio(ratio, 100_900.0) == pytest.approx(1500.0, rel=1e-12)


def a_busy_evening(air: BoothAir, until_s: float) -> None:
    """Everything that can happen, one after the other."""
    acts = (
        lambda: air.set_fan(True),
        lambda: air.start_spray(3.0),
        air.start_rain,
        lambda: air.open_door(True),
        lambda: air.set_people(6),
        air.stop_spray,
        lambda: air.set_fan(False),
        lambda: air.start_spray(1.0),
        lambda: air.place_part(18.0),
        lambda: air.set_fan(True),
        lambda: air.load_filter(4.0),
        lambda: air.open_door(False),
        air.stop_spray,
    )
    for i, act in enumerate(acts):
        air.advance(until_s * (i + 1) / (len(acts) + 1))
        act()
    air.advance(until_s)


@given(seed=seeds, until_s=st.floats(600.0, 5000.0))
@settings(deadline=None, max_examples=12)
def test_vapour_in_is_vapour_out_plus_vapour_in_the_air(seed: int, until_s: float) -> None:
    air = BoothAir(seed, Weather.draw(seed))
    a_busy_evening(air, until_s)
    tally = air.vapour_tally()
    assert tally.evaporated_mg > 100.0
    assert tally.carried_off_mg > 0.0
    found = tally.in_air_mg + tally.carried_off_mg
    assert found == pytest.approx(tally.evaporated_mg, rel=1e-9)


@given(seed=seeds, until_s=st.floats(600.0, 5000.0))
@settings(deadline=None, max_examples=12)
def test_water_is_kept(seed: int, until_s: float) -> None:
    air = BoothAir(seed, Weather.draw(seed))
    a_busy_evening(air, until_s)
    w = air.water_tally()
    came = w.start_kg + w.breathed_kg - w.stored_kg + w.carried_in_kg - w.carried_out_kg
    assert came == pytest.approx(w.now_kg, rel=1e-9)
    assert w.breathed_kg > 0.0


@given(seed=seeds)
@settings(deadline=None, max_examples=12)
def test_the_air_stays_within_what_an_evening_can_be(seed: int) -> None:
    air = BoothAir(seed, Weather.draw(seed))
    air.set_fan(True)
    air.open_door(True)
    air.start_rain()
    for t_s in range(0, 5400, 300):
        now = air.advance(float(t_s))
        low = min(now.outdoors_c, 22.0) - 2.0
        assert low < now.booth_c < max(now.outdoors_c, 23.5) + 4.0
        assert 10.0 < now.booth_rh_pct <= 100.0
        assert now.dew_point_c < now.booth_c
        assert 0.0 <= now.booth_pressure_pa < 60.0
        assert 0.0 <= now.air_speed_ms < 1.0
        assert 85_000 < now.pressure_pa < 105_000


def test_rain_and_the_open_door_bring_the_booth_near_the_outdoor_dew_point() -> None:
    dry, wet = BoothAir(5), BoothAir(5)
    wet.start_rain()
    wet.open_door(True)
    before, after = dry.advance(3600.0), wet.advance(3600.0)
    assert after.dew_point_c > before.dew_point_c + 3.0
    outside = moist.dew_point_c(after.outdoors_rh_pct / 100 * moist.saturation_pa(after.outdoors_c))
    assert after.dew_point_c == pytest.approx(outside, abs=1.5)


def test_a_closed_still_room_warms_by_its_people_and_lamps_only_slowly() -> None:
    idle, crowded = BoothAir(3, people=0), BoothAir(3, people=20)
    a, b = idle.advance(1800.0), crowded.advance(1800.0)
    assert 0.3 < b.room_c - a.room_c < 8.0
    assert b.dew_point_c > a.dew_point_c + 0.5


def test_the_fan_gives_suction_speed_and_less_vapour() -> None:
    still, drawn = BoothAir(9), BoothAir(9)
    drawn.set_fan(True)
    for air in (still, drawn):
        air.advance(60.0)
        air.start_spray(3.0)
    off, on = still.advance(180.0), drawn.advance(180.0)
    assert abs(off.booth_pressure_pa) < 1.0
    assert 10.0 < on.booth_pressure_pa < 25.0
    assert off.air_speed_ms < 0.1
    assert 0.35 < on.air_speed_ms < 0.6
    assert on.booth_vapour_mg_m3 < 0.3 * off.booth_vapour_mg_m3
    assert still.advance(200.0).room_vapour_mg_m3 > drawn.advance(200.0).room_vapour_mg_m3


@given(load_g=st.floats(0.0, 50.0), more_g=st.floats(0.5, 20.0))
@settings(deadline=None, max_examples=40)
def test_a_clogging_filter_drops_more_and_lets_less_through(load_g: float, more_g: float) -> None:
    clean, clogged = Fan(load_g), Fan(load_g + more_g)
    for fan in (clean, clogged):
        fan.on = True
        for _ in range(60):
            fan.step(0.5)
    assert clogged.flow_m3_s() < clean.flow_m3_s()
    drop = [f.flow_m3_s() * f.filter_pa_per_flow() for f in (clean, clogged)]
    assert drop[1] > drop[0]


def test_wet_paint_cools_the_part_and_dries_to_the_last_milligram_sprayed() -> None:
    part = WetPart(22.0)
    part.spray_ml_min = 2.0
    coldest, given_mg = 22.0, 0.0
    for step in range(8000):
        if step == 120:
            part.spray_ml_min = 0.0
        given_mg += part.step(0.5, 22.0, 0.45, 0.0).vapour_mg
        coldest = min(coldest, part.part_c)
    assert 15.0 < coldest < 20.5
    assert part.part_c == pytest.approx(22.0, abs=0.3)
    assert given_mg + sum(part.film_mg) == pytest.approx(part.sprayed_mg, rel=1e-9)
    assert sum(part.film_mg) < 0.05 * part.sprayed_mg


def test_the_part_lags_behind_the_air() -> None:
    part = WetPart(15.0)
    part.step(0.5, 23.0, 0.4, 0.0)
    assert part.part_c < 15.5
    for _ in range(2400):
        part.step(0.5, 23.0, 0.4, 0.0)
    assert part.part_c == pytest.approx(23.0, abs=0.05)


@given(kg=st.floats(0.001, 0.2), solvent=st.floats(0.0, 5e3))
@settings(deadline=None, max_examples=30)
def test_moving_air_keeps_every_amount(kg: float, solvent: float) -> None:
    one, two = Box(0.4, 25.0, 60.0, 101_000.0), Box(100.0, 20.0, 50.0, 101_000.0)
    outside = Reservoir(12.0, 900.0, 101_000.0)
    one.solvent_mg = solvent
    water, heat = one.water_kg + two.water_kg, one.heat_j + two.heat_j
    one.send(kg, two)
    two.send(kg, outside)
    one.draw(kg, outside)
    now_water = one.water_kg + two.water_kg + outside.taken.water_kg - outside.given.water_kg
    now_heat = one.heat_j + two.heat_j + outside.taken.heat_j - outside.given.heat_j
    assert now_water == pytest.approx(water, rel=1e-12)
    assert now_heat == pytest.approx(heat, rel=1e-12)
    found = one.solvent_mg + two.solvent_mg + outside.taken.solvent_mg
    assert found == pytest.approx(solvent, rel=1e-12)


def test_a_probe_lags_reads_dry_while_warm_and_soaks() -> None:
    probe = ProbeBody(ProbeTraits(60.0, 10.0, 0.0, 0.0, self_heating_k=1.0), 22.0, 1300.0)
    assert probe.air_c == pytest.approx(23.0)
    assert probe.rh_pct < 100 * 1300.0 / moist.saturation_pa(22.0)
    probe.step(60.0, 12.0, 1300.0, 0.0)
    assert probe.air_c == pytest.approx(13.0 + 10.0 * 2.718281828**-1, abs=1e-6)
    damp = ProbeBody(ProbeTraits(5.0, 5.0, 0.0, 0.0), 20.0, 0.9 * moist.saturation_pa(20.0))
    for _ in range(7200):
        damp.step(1.0, 20.0, 0.9 * moist.saturation_pa(20.0), 0.0)
    assert 90.5 < damp.rh_pct < 93.5


def test_solvent_vapour_pushes_the_probe_up() -> None:
    traits = ProbeTraits(5.0, 5.0, 0.0, 0.0, pct_per_g_m3=2.0)
    probe = ProbeBody(traits, 22.0, 1300.0)
    before = probe.rh_pct
    for _ in range(900):
        probe.step(1.0, 22.0, 1300.0, 1000.0)
    assert 1.5 < probe.rh_pct - before < 2.5


@given(seed=seeds)
@settings(deadline=None, max_examples=8)
def test_same_seed_same_evening_whatever_the_pace_of_asking(seed: int) -> None:
    slow, fast = BoothAir(seed), BoothAir(seed)
    for t_s in range(0, 901, 7):
        slow.advance(float(t_s))
    assert slow.advance(900.0) == fast.advance(900.0)
    assert slow.advance(900.0) != BoothAir(seed + 1).advance(900.0)


def test_time_never_runs_backwards() -> None:
    air = BoothAir(1)
    late = air.advance(100.0)
    assert air.advance(3.0) == late


@pytest.mark.parametrize("t_s", [-1.0, float("nan"), float("inf")])
def test_bad_times_are_refused(t_s: float) -> None:
    with pytest.raises(BadInput, match="t_s"):
        BoothAir(1).advance(t_s)


@pytest.mark.parametrize(
    ("make", "says"),
    [
        (lambda: BoothAir(-1), "seed"),
        (lambda: BoothAir(1, room_c=90.0), "room"),
        (lambda: BoothAir(1, room_rh_pct=0.0), "room"),
        (lambda: BoothAir(1, people=-2), "people"),
        (lambda: BoothAir(1, filter_load_g=-1.0), "filter_load_g"),
        (lambda: BoothAir(1).start_spray(0.0), "ml_min"),
        (lambda: BoothAir(1).start_spray(float("nan")), "ml_min"),
        (lambda: BoothAir(1).place_part(500.0), "part_c"),
        (lambda: BoothAir(1).load_filter(-1.0), "filter load"),
        (lambda: Box(0.0, 20.0, 50.0, 101_000.0), "box of air"),
        (lambda: Box(1.0, 20.0, 150.0, 101_000.0), "box of air"),
        (lambda: Weather(start_rh_pct=140.0), "start_rh_pct"),
        (lambda: Weather(wind_ms=-1.0), "wind_ms"),
        (lambda: Weather.draw(-4), "seed"),
        (lambda: ProbeTraits(0.0, 5.0, 0.0, 0.0), "lags"),
        (lambda: ProbeTraits(5.0, 5.0, 99.0, 0.0), "offsets"),
    ],
)
def test_bad_construction_is_refused(make, says: str) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(BadInput, match=says):
        make()
