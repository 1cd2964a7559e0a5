"""A probe checked over salts: on record, in force, due again, withdrawn; readings stay as read."""

import asyncio

import numpy as np
import pytest

from sprayout.acts.probing import Probing
from sprayout.climate.corrections import corrected_pct, in_force, state_words
from sprayout.climate.moist_air import dew_point_c
from sprayout.climate.salts import SaltPoint, correction
from sprayout.errors import BadInput
from sprayout.journal.records import Conditions, ProbeCheck
from tests.acts_bench import HOUR_MS, MINUTE_MS, HandBench, hand_bench

AIR = {"air_temperature": 21.0, "relative_humidity": 60.0, "part_temperature": 20.0}
# Greenspan 1977: 75.48 %RH over NaCl at 20 °C; the probe reads 3.48 too much.
NACL = SaltPoint("NaCl", 20.0, 78.96, 240.0)
DAY_MS = 24 * HOUR_MS


@pytest.fixture
def bench(tmp_path):
    with hand_bench(tmp_path) as made:
        yield made


def run(act):
    return asyncio.run(act)


def device_of(bench: HandBench) -> str:
    return bench.probing.probes()[0]


async def checked(bench: HandBench) -> ProbeCheck:
    await bench.watch(1, **AIR)
    return await bench.probing.check(device_of(bench), [NACL], "Ida")


def test_a_check_goes_on_record_with_its_range_and_who_made_it(bench):
    run(checked(bench))
    (kept,) = bench.reader.all(ProbeCheck)
    assert kept.offset_pct == pytest.approx(-3.48, abs=0.02)
    assert (kept.gain, kept.low_pct, kept.high_pct) == (1.0, 78.96, 78.96)
    assert 0.3 < kept.uncertainty_pct < 1.5
    assert (kept.person, kept.points[0].salt, kept.at_ms) == ("Ida", "NaCl", bench.now_ms())


def test_what_is_derived_is_corrected_and_what_was_read_stays(bench):
    async def evening():
        await checked(bench)
        await bench.ready_to_spray()
        coat = await bench.spraying.start("goods van", "wet coat")
        await bench.watch(3, **AIR)
        return (await bench.spraying.end(coat.id)).conditions

    conditions = run(evening())
    true_pct = 60.0 - 3.48
    assert conditions.formula == "conditions-2"
    assert conditions.channel("relative_humidity").mean == pytest.approx(true_pct, abs=0.02)
    assert conditions.channel("dew_point").mean == pytest.approx(
        float(dew_point_c(21.0, true_pct)), abs=0.02
    )
    assert bench.watching.rh_pct() == pytest.approx(true_pct, abs=0.02)
    strip = bench.reader.strip(
        bench.bench, ["relative_humidity"], bench.now_ms() - HOUR_MS, bench.now_ms(), points=60
    )
    read = [value for channel in strip.channels for value in channel.mean if value is not None]
    assert read == pytest.approx([60.0] * len(read))


def test_a_restart_goes_on_with_the_check(bench):
    kept = run(checked(bench))
    again = Probing(bench, bench.watching)
    bench.watching.booth.corrections = ()
    again.take_over()
    assert again.checks == [kept]
    assert again.in_force(kept.device) is not None


def test_a_check_is_due_again_after_a_year_and_the_flag_says_so(bench):
    run(checked(bench))
    assert bench.probing.due() == ()
    bench.clock.pass_ms(366 * DAY_MS)
    (words,) = bench.probing.due()
    assert "due again" in words and "366 days ago" in words
    inputs = bench.watching.inputs(None, False, probes_due=bench.probing.due())
    assert inputs.probes_due == (words,)


def test_the_newest_check_counts_and_a_withdrawn_one_does_not(bench):
    async def evening():
        first = await checked(bench)
        bench.clock.pass_ms(MINUTE_MS)
        second = await bench.probing.check(first.device, [SaltPoint("NaCl", 20.0, 76.48, 240.0)])
        await bench.watch(1, **AIR)
        by_second = bench.watching.rh_pct()
        await bench.probing.withdraw(second.id, "Ida")
        return by_second, bench.watching.rh_pct()

    by_second, by_first = run(evening())
    assert by_second == pytest.approx(59.0, abs=0.02)
    assert by_first == pytest.approx(56.52, abs=0.02)
    gone = [check for check in bench.probing.checks if check.withdrawn_ms is not None]
    assert len(gone) == 1 and "withdrawn by Ida" in gone[0].note


def test_kept_conditions_follow_a_check_that_is_withdrawn_after_the_coat(bench):
    async def evening():
        check = await checked(bench)
        await bench.ready_to_spray()
        coat = await bench.spraying.start("goods van", "wet coat")
        await bench.watch(3, **AIR)
        await bench.spraying.end(coat.id)
        before = bench.reader.get(Conditions, coat.id)
        await bench.probing.withdraw(check.id, "Ida")
        return coat.id, before

    coat, before = run(evening())
    assert before.channel("relative_humidity").mean == pytest.approx(56.52, abs=0.02)
    kept = bench.reader.get(Conditions, coat)
    assert kept.channel("relative_humidity").mean == pytest.approx(60.0, abs=0.02)
    assert kept == bench.reader.conditions(coat)


@pytest.mark.parametrize(
    ("probe", "points", "named"),
    [
        ("loft", [NACL], "probe: got 'loft', which has told of no humidity here"),
        (None, [], "got 0 points"),
        (None, [SaltPoint("pepper", 20.0, 75.0, 240.0)], "salt: got 'pepper'"),
        (None, [SaltPoint("NaCl", 20.0, 20.0, 240.0)], "probe reads 20 %RH over NaCl"),
        (None, [SaltPoint("NaCl", 20.0, 75.0, 5.0)], "5 minutes over NaCl"),
    ],
)
def test_a_check_that_cannot_be_is_refused_and_nothing_is_kept(bench, probe, points, named):
    run(bench.watch(1, **AIR))
    with pytest.raises(BadInput, match=named):
        run(bench.probing.check(probe or device_of(bench), points))
    assert bench.reader.all(ProbeCheck) == [] and bench.watching.booth.corrections == ()


def test_a_check_that_is_not_on_record_cannot_be_withdrawn(bench):
    with pytest.raises(BadInput, match="probe check: got 'x', wanted one on record"):
        run(bench.probing.withdraw("x", "Ida"))


def test_the_probe_that_was_checked_is_surer(bench):
    async def evening():
        await bench.watch(1, **AIR)
        usual = bench.watching._rh_error_pct(bench.now_ms(), bench.monotonic_ms())
        await bench.probing.check(device_of(bench), [NACL])
        await bench.watch(1, **{**AIR, "relative_humidity": 75.0})
        return usual, bench.watching._rh_error_pct(bench.now_ms(), bench.monotonic_ms())

    usual, sure = run(evening())
    assert usual == 2.0 and sure < 1.5


def test_each_reading_by_the_check_of_its_own_time() -> None:
    early = correction("board", [NACL], 1_000)
    late = correction("board", [SaltPoint("NaCl", 20.0, 73.48, 240.0)], 2_000)
    other = correction("loft", [SaltPoint("NaCl", 20.0, 70.0, 240.0)], 0)
    found = corrected_pct(
        [late, other, early], "board", np.array([500, 1_000, 1_999, 2_000, 3_000, 3_500]),
        np.array([50.0, 50.0, 2.0, 50.0, np.nan, 99.5]),
    )  # fmt: skip
    assert found[:4] == pytest.approx([50.0, 46.52, 0.0, 52.0], abs=0.02)
    assert np.isnan(found[4]) and found[5] == 100.0
    assert in_force([early, late], "board", 999) is None
    assert in_force([early, late], "board", 1_999) == early
    assert "checked today" in state_words(early, 2_000)


def test_jars_that_were_swapped_are_refused() -> None:
    points = [SaltPoint("MgCl2", 20.0, 42.9, 240.0), SaltPoint("Mg(NO3)2", 20.0, 45.0, 240.0)]
    with pytest.raises(BadInput, match="jars were not swapped"):
        correction("board", points, 0)
