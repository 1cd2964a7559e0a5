"""The conditions of a coat: worked by hand, against numpy, and after late readings."""

import dataclasses
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import psychrolib
import pytest

from sprayout.journal import records as r
from sprayout.journal.conditions import ChannelReadings, conditions_of, flag_minutes
from sprayout.journal.reader import Reader
from sprayout.journal.store import prepare_store
from sprayout.journal.writer import Writer

T0 = 1_788_540_000_000
MINUTE = 60_000
COAT = r.Coat(
    id="c", bench="quay", piece="van", kind="wet coat", start_ms=T0, end_ms=T0 + 3 * MINUTE
)


def channel(
    name: str, values: list[float], unit: str = "%RH", every_ms: int = 1000, device: str = "probe"
) -> ChannelReadings:
    at_ms = T0 + np.arange(len(values), dtype=np.int64) * every_ms
    return ChannelReadings(device, name, unit, at_ms, np.array(values, np.float64))


def only(conditions: r.Conditions, name: str) -> r.ChannelConditions:
    found = conditions.channel(name)
    assert found is not None
    return found


def test_figures_of_a_channel_worked_by_hand() -> None:
    humidity = channel("relative_humidity", [50.0] * 60 + [60.0] * 60 + [55.0] * 60)
    found = only(conditions_of(COAT, T0 + 3 * MINUTE, [humidity]), "relative_humidity")
    assert (found.n, found.mean, found.low, found.high) == (180, 55.0, 50.0, 60.0)
    assert (found.p5, found.p95) == (50.0, 60.0)
    assert (found.worst_minute, found.worst_ms) == (60.0, T0 + MINUTE)
    assert found.gap_s == 0.0


def test_percentiles_are_those_of_numpy() -> None:
    values = np.random.default_rng(7).normal(45, 5, 181)
    found = only(
        conditions_of(COAT, T0 + 3 * MINUTE, [channel("relative_humidity", values.tolist())]),
        "relative_humidity",
    )
    assert (found.p5, found.p95) == pytest.approx(tuple(np.percentile(values, [5, 95])))


@pytest.mark.parametrize(
    ("name", "unit", "worst"),
    [
        ("relative_humidity", "%RH", 60.0),  # damp is worse
        ("air_speed", "m/s", 40.0),  # a weak fan is worse
        ("part_temperature", "Cel", 40.0),  # a cold part is worse
        ("something_else", "x", 60.0),  # furthest from the mean (48.3)
    ],
)
def test_which_end_is_the_worse_one(name: str, unit: str, worst: float) -> None:
    values = [40.0] * 60 + [60.0] * 60 + [45.0] * 60
    found = only(conditions_of(COAT, T0 + 3 * MINUTE, [channel(name, values, unit)]), name)
    assert found.worst_minute == worst


def test_dew_point_and_margin_agree_with_psychrolib() -> None:
    """ASHRAE's formulas by psychrolib, our dew point within 0.05 K of it in a booth's range."""
    psychrolib.SetUnitSystem(psychrolib.SI)
    rows = [(18.0, 45.0), (21.5, 62.0), (25.0, 80.0), (12.0, 91.0)]
    for air_c, rh_pct in rows:
        given = [
            channel("air_temperature", [air_c] * 180, "Cel"),
            channel("relative_humidity", [rh_pct] * 180),
            channel("part_temperature", [air_c - 2.0] * 180, "Cel"),
        ]
        conditions = conditions_of(COAT, T0 + 3 * MINUTE, given)
        dew_c = psychrolib.GetTDewPointFromRelHum(air_c, rh_pct / 100)
        assert only(conditions, "dew_point").mean == pytest.approx(dew_c, abs=0.05)
        margin_k = air_c - 2.0 - dew_c
        assert only(conditions, "margin_to_dew_point").low == pytest.approx(margin_k, abs=0.05)


def test_without_humidity_there_is_no_dew_point() -> None:
    given = [channel("air_temperature", [20.0] * 180, "Cel"), channel("relative_humidity", [])]
    conditions = conditions_of(COAT, T0 + 3 * MINUTE, given)
    assert conditions.channel("dew_point") is None
    missing = only(conditions, "relative_humidity")
    assert (missing.n, missing.mean, missing.worst_minute) == (0, None, None)
    assert missing.gap_s == 180.0


def test_readings_of_two_clocks_within_five_seconds_belong_together() -> None:
    air = channel("air_temperature", [20.0] * 90, "Cel", every_ms=2000)
    humidity = channel("relative_humidity", [50.0, 50.0, 50.0], every_ms=60_000)
    dew = only(conditions_of(COAT, T0 + 3 * MINUTE, [air, humidity]), "dew_point")
    assert dew.n == 3 + 5 + 5  # air at 0, 2, 4 s; 56 to 64 s; 116 to 124 s


@pytest.mark.parametrize(
    ("missing", "gaps"),
    [
        (range(0), []),
        (range(30, 33), []),  # two seconds without: nothing
        (range(30, 60), [(29, 60)]),
        (range(40), [(0, 40)]),
        (range(100, 181), [(99, 180)]),
        (range(181), [(0, 180)]),
    ],
)
def test_gaps_are_found_at_both_ends_and_between(
    missing: range, gaps: list[tuple[int, int]]
) -> None:
    seconds = [s for s in range(181) if s not in missing]
    given = ChannelReadings(
        "probe",
        "relative_humidity",
        "%RH",
        np.array([T0 + s * 1000 for s in seconds], np.int64),
        np.full(len(seconds), 50.0),
    )
    conditions = conditions_of(COAT, T0 + 180_000, [given])
    found = [((g.from_ms - T0) // 1000, (g.to_ms - T0) // 1000) for g in conditions.gaps]
    assert found == gaps
    total = sum(b - a for a, b in gaps)
    assert only(conditions, "relative_humidity").gap_s == total


def flag(key: str, raised: float, cleared: float | None, level: r.Level = "caution") -> r.Flag:
    return r.Flag(
        id=f"{key}{raised}",
        bench="quay",
        key=key,
        level=level,
        words="",
        raised_ms=T0 + round(raised * MINUTE),
        cleared_ms=None if cleared is None else T0 + round(cleared * MINUTE),
    )


def test_minutes_under_each_flag_are_cut_to_the_coat_and_counted_once() -> None:
    flags = [
        flag("humid", -5, 1),
        flag("humid", 0.5, 2),  # overlaps the first
        flag("dew", 2.5, None, "stop"),
        flag("old", -9, -1),
    ]
    found = flag_minutes(flags, T0, T0 + 3 * MINUTE)
    assert [(f.key, f.level, f.minutes) for f in found] == [
        ("dew", "stop", 0.5),
        ("humid", "caution", 2.0),
    ]


PIECE = r.Piece(id="van", bench="quay", name="ice van", made_ms=T0)
BATCH = r.Batch(id="mix", bench="quay", name="ice-van white", made_ms=T0 - 25 * MINUTE)


@pytest.fixture
def kept(tmp_path: Path) -> Iterator[tuple[Writer, Reader]]:
    path = tmp_path / "a.db"
    prepare_store(path)
    with Writer(path) as writer, Reader(path) as reader:
        yield writer, reader


def damp(second: int, rh_pct: float) -> r.Reading:
    return r.Reading("quay", "probe", "relative_humidity", rh_pct, "%RH", T0 + second * 1000)


def test_conditions_are_kept_at_the_end_of_a_coat(kept: tuple[Writer, Reader]) -> None:
    writer, reader = kept
    first = dataclasses.replace(COAT, id="c0", start_ms=T0 - 9 * MINUTE, end_ms=T0 - 6 * MINUTE)
    coat = dataclasses.replace(COAT, batch="mix")
    writer.submit([PIECE, BATCH, first, *(damp(s, 50.0) for s in range(181))]).result(10)
    writer.submit([dataclasses.replace(coat, end_ms=None)]).result(10)
    on_record = reader.coat("c")
    assert on_record is not None and on_record.conditions is None
    running = reader.conditions("c", now_ms=T0 + MINUTE)
    assert running is not None and only(running, "relative_humidity").n == 61
    writer.submit([coat]).result(10)
    on_record = reader.coat("c")
    assert on_record is not None and on_record.piece == PIECE
    assert on_record.conditions is not None
    assert on_record.conditions == reader.conditions("c")
    assert only(on_record.conditions, "relative_humidity").n == 181
    assert on_record.conditions.since_previous_coat_min == 6.0
    assert on_record.conditions.batch_age_min == 25.0


def test_late_readings_change_the_conditions_and_twice_delivered_ones_do_not(
    kept: tuple[Writer, Reader],
) -> None:
    writer, reader = kept
    early = [damp(s, 50.0) for s in range(60)]
    after = [damp(s, 90.0) for s in range(400, 500)]  # after the coat
    late = [damp(s, 70.0) for s in range(60, 181)]
    writer.submit([PIECE, COAT, *early, *after]).result(10)
    before = reader.get(r.Conditions, "c")
    assert before is not None and only(before, "relative_humidity").high == 50.0
    writer.submit(early, urgent=True).result(10)
    assert reader.get(r.Conditions, "c") == before
    writer.submit(late, urgent=True).result(10)
    changed = reader.get(r.Conditions, "c")
    assert changed is not None
    figures = only(changed, "relative_humidity")
    assert (figures.n, figures.high, figures.gap_s) == (181, 70.0, 0.0)
    assert changed.gaps == ()
    writer.submit([*late, *early], urgent=True).result(10)
    assert reader.get(r.Conditions, "c") == changed


def test_a_flag_told_late_changes_the_conditions(kept: tuple[Writer, Reader]) -> None:
    writer, reader = kept
    writer.submit([PIECE, COAT]).result(10)
    writer.submit([flag("humid", 1, 2)]).result(10)
    conditions = reader.get(r.Conditions, "c")
    assert conditions is not None
    assert conditions.flags == (r.FlagMinutes(key="humid", level="caution", minutes=1.0),)


def test_a_channel_heard_before_and_silent_during_the_coat_is_a_gap(
    kept: tuple[Writer, Reader],
) -> None:
    writer, reader = kept
    air = r.Reading("quay", "board", "air_temperature", 20.0, "Cel", T0)
    writer.submit([PIECE, damp(-600, 50.0), air, COAT]).result(10)
    conditions = reader.get(r.Conditions, "c")
    assert conditions is not None
    silent = only(conditions, "relative_humidity")
    assert (silent.n, silent.gap_s) == (0, 180.0)


def test_the_colour_sensor_is_no_part_of_the_booth(kept: tuple[Writer, Reader]) -> None:
    writer, reader = kept
    names = ("air_speed", "f1", "clear", "f8/ambient", "gain", "integration_time", "nir", "flow")
    pack = [r.Reading("quay", "board", name, 1.0, "count", T0 + 5_000) for name in names]
    writer.submit([PIECE, COAT, *pack]).result(10)
    conditions = reader.get(r.Conditions, "c")
    assert conditions is not None
    assert [c.channel for c in conditions.channels] == ["air_speed", "flow"]
    assert len(reader.readings("quay", T0, T0 + 9_000)) == len(names)


def test_other_benches_leave_no_trace(kept: tuple[Writer, Reader]) -> None:
    writer, reader = kept
    elsewhere = dataclasses.replace(damp(10, 99.0), bench="loft")
    writer.submit([PIECE, COAT, elsewhere, dataclasses.replace(flag("x", 0, 1), bench="loft")])
    writer.flush(10)
    conditions = reader.get(r.Conditions, "c")
    assert conditions is not None and conditions.channels == () and conditions.flags == ()
