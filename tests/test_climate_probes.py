"""Probe checks on series with one fault put in at a time; infrared readings of parts."""

import numpy as np
import pytest

from sprayout.climate.part_temperature import EMISSIVITY, entered, from_infrared
from sprayout.climate.probe_checks import Fault, ProbeSeries, check_probes
from sprayout.errors import BadInput

NOW_S = 7_200.0


def probe(
    name: str, seed: int, rh_off: float = 0.0, air_off: float = 0.0, checked: float | None = None
) -> ProbeSeries:
    """Two hours of an evening that cools and grows damp, with a shower in the middle."""
    random = np.random.default_rng(seed)
    time_s = np.arange(0.0, NOW_S + 1.0, 10.0)
    air = 22.0 - 1.0 * time_s / 3_600.0 + air_off + random.normal(0.0, 0.05, time_s.size)
    shower = 6.0 / (1.0 + np.exp(-(time_s - 3_600.0) / 120.0))
    rh = 55.0 + 3.0 * time_s / 3_600.0 + shower + rh_off + random.normal(0.0, 0.3, time_s.size)
    return ProbeSeries(name, time_s, air, rh, checked)


def faults(probes: list[ProbeSeries]) -> dict[str, tuple[Fault, ...]]:
    return {v.name: v.faults for v in check_probes(probes, NOW_S).verdicts}


def test_good_probes_agree() -> None:
    for count in (2, 3, 4):
        report = check_probes([probe(f"p{i}", i) for i in range(count)], NOW_S)
        assert report.words() == ()
        assert all(v.agrees is True and not v.suspect for v in report.verdicts)


def test_a_lone_probe_can_agree_with_nobody() -> None:
    (verdict,) = check_probes([probe("p0", 0)], NOW_S).verdicts
    assert verdict.agrees is None
    assert not verdict.suspect


def test_silent() -> None:
    good, dead = probe("good", 1), probe("dead", 2)
    dead.rh_pct[-10:] = np.nan
    assert faults([good, dead]) == {"good": (), "dead": (Fault.SILENT,)}
    never = ProbeSeries("never", np.array([]), np.array([]), np.array([]))
    assert faults([never]) == {"never": (Fault.SILENT,)}
    assert all(v.agrees is None for v in check_probes([good, dead], NOW_S).verdicts)


def test_stuck() -> None:
    good, frozen = probe("good", 1), probe("frozen", 2)
    frozen.rh_pct[300:] = 60.0
    good.rh_pct[-60:] += 2.0
    assert Fault.STUCK in faults([good, frozen])["frozen"]
    assert faults([good, frozen])["good"] == ()
    frozen.air_c[300:] = 21.0
    assert faults([frozen])["frozen"] == (Fault.STUCK,)


def test_a_coarse_probe_in_still_air_is_not_called_stuck() -> None:
    coarse = probe("coarse", 2)
    coarse.rh_pct[:] = 60.0
    assert faults([coarse])["coarse"] == ()


def test_soaked() -> None:
    good, wet = probe("good", 1), probe("wet", 2)
    wet.rh_pct[-120:] = 99.0 + np.random.default_rng(1).uniform(0.0, 1.0, 120)
    found = check_probes([good, wet], NOW_S)
    assert Fault.SOAKED in found.verdicts[1].faults
    assert found.verdicts[0].faults == ()
    (alone,) = check_probes([wet], NOW_S).verdicts
    assert "unless the air is truly saturated" in alone.words[0]


def test_truly_saturated_air_soaks_nobody() -> None:
    both = [probe("one", 1), probe("two", 2)]
    for one in both:
        one.rh_pct[-120:] = 98.0 + np.random.default_rng(3).uniform(0.0, 1.0, 120)
    assert faults(both) == {"one": (), "two": ()}


def test_three_outvote_one() -> None:
    found = faults([probe("one", 1), probe("two", 2), probe("odd", 3, rh_off=9.0)])
    assert found == {"one": (), "two": (), "odd": (Fault.DISAGREES,)}
    warm = faults([probe("one", 1), probe("two", 2), probe("odd", 3, air_off=1.5)])
    assert warm["odd"] == (Fault.DISAGREES,)


def test_two_that_disagree_leave_it_open_unless_one_was_checked() -> None:
    open_ = check_probes([probe("one", 1), probe("two", 2, rh_off=9.0)], NOW_S)
    assert not any(v.suspect for v in open_.verdicts)
    assert all(v.agrees is None for v in open_.verdicts)
    assert open_.open_question is not None
    assert "one of them is wrong" in open_.open_question
    named = faults([probe("one", 1), probe("two", 2, rh_off=9.0, checked=30.0)])
    assert named == {"one": (Fault.DISAGREES,), "two": ()}


def slow_probe(time_constant_s: float) -> ProbeSeries:
    quick = probe("slow", 5)
    rh, keep = quick.rh_pct.copy(), np.exp(-10.0 / time_constant_s)
    for i in range(1, rh.size):
        rh[i] = keep * rh[i - 1] + (1.0 - keep) * quick.rh_pct[i]
    return ProbeSeries("slow", quick.time_s, quick.air_c, rh)


def test_slow() -> None:
    assert Fault.SLOW in faults([probe("good", 1), slow_probe(420.0)])["slow"]
    assert faults([probe("good", 1), slow_probe(420.0)])["good"] == ()
    assert faults([probe("good", 1), slow_probe(30.0)])["slow"] == ()


def day(name: str, seed: int, drift_pct_day: float) -> ProbeSeries:
    random = np.random.default_rng(seed)
    time_s = np.arange(0.0, 2 * 86_400.0, 300.0)
    air = 20.0 + 3.0 * np.sin(time_s / 13_751.0) + random.normal(0.0, 0.05, time_s.size)
    rh = 55.0 - 8.0 * np.sin(time_s / 13_751.0) + random.normal(0.0, 0.3, time_s.size)
    return ProbeSeries(name, time_s, air, rh + drift_pct_day * time_s / 86_400.0)


def test_drifting() -> None:
    probes = [day("one", 1, 0.0), day("two", 2, 0.0), day("adrift", 3, 4.0)]
    found = {v.name: v.faults for v in check_probes(probes, 2 * 86_400.0 - 300.0).verdicts}
    assert Fault.DRIFTING in found["adrift"]
    steady = [day("one", 1, 0.0), day("two", 2, 0.0), day("three", 3, 0.5)]
    for verdict in check_probes(steady, 2 * 86_400.0 - 300.0).verdicts:
        assert Fault.DRIFTING not in verdict.faults


def test_infrared_on_paint_is_nearly_the_reading() -> None:
    found = from_infrared(15.0, 22.0, "painted")
    assert found.part_c == pytest.approx(15.0, abs=0.1)
    assert found.plus_minus_k is not None
    assert found.plus_minus_k >= 0.5


def test_infrared_balance_worked_by_hand() -> None:
    # ε 0.75 and ε_set 0.95, read 15 °C, room 25 °C: (0.95(288.15⁴ - 298.15⁴) + 0.75·298.15⁴)/0.75
    by_hand = ((0.95 * (288.15**4 - 298.15**4) + 0.75 * 298.15**4) / 0.75) ** 0.25 - 273.15
    assert from_infrared(15.0, 25.0, "rusted steel").part_c == pytest.approx(by_hand)
    assert by_hand < 15.0


@pytest.mark.parametrize("surface", [s for s, e in EMISSIVITY.items() if e < 0.6])
def test_bare_metal_gives_a_warning_and_no_number(surface: str) -> None:
    found = from_infrared(22.0, 22.0, surface)
    assert found.part_c is None
    assert found.warning is not None
    assert "mirrored" in found.warning


def test_without_the_rooms_temperature_there_is_no_number() -> None:
    assert from_infrared(22.0, None, "painted").part_c is None


def test_entered_by_hand() -> None:
    assert entered(18.5).part_c == 18.5


@pytest.mark.parametrize(
    ("call", "named"),
    [
        (lambda: entered(300.0), "part temperature: got 300 °C"),
        (lambda: from_infrared(300.0, 20.0, "painted"), "infrared reading: got 300 °C"),
        (lambda: from_infrared(20.0, 20.0, "velvet"), "surface: got 'velvet'"),
        (lambda: from_infrared(20.0, 20.0, 1.2), "emissivity: got 1.2"),
        (lambda: from_infrared(20.0, 20.0, 0.9, 0.1), "emissivity setting: got 0.1"),
    ],
)
def test_bad_part_temperatures_are_refused(call, named: str) -> None:
    with pytest.raises(BadInput, match=named):
        call()
