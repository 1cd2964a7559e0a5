"""Raw kept around coats for ever, elsewhere for so long; rollups for ever; nothing is lost."""

from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest

from sprayout.errors import BadInput
from sprayout.journal import records as r
from sprayout.journal.reader import Reader
from sprayout.journal.retention import Retention
from sprayout.journal.store import connect_reading, prepare_store
from sprayout.journal.writer import Writer

HOUR, DAY = 3_600_000, 86_400_000
T0 = 20_700 * DAY
RULE = Retention(raw_days=10, before_coat_min=30, after_coat_min=120)
NOW = T0 + 12 * DAY  # raw of the first two days is older than the rule keeps
PIECE = r.Piece(id="van", bench="quay", name="ice van", made_ms=T0)
COAT = r.Coat(
    id="c",
    bench="quay",
    piece="van",
    kind="wet coat",
    start_ms=T0 + 20 * HOUR,
    end_ms=T0 + 20 * HOUR + 300_000,
)


def air(at_ms: int, bench: str = "quay") -> r.Reading:
    return r.Reading(bench, "probe", "air_temperature", 20 + at_ms % 977 / 100, "Cel", at_ms)


TIMES = range(T0, T0 + 3 * DAY, 20_000)


@pytest.fixture
def kept(tmp_path: Path) -> Iterator[tuple[Writer, Reader]]:
    path = tmp_path / "a.db"
    prepare_store(path)
    with Writer(path, every_s=0.01) as writer, Reader(path) as reader:
        writer.submit([PIECE, COAT, *(air(t) for t in TIMES)]).result(30)
        writer.submit([air(t, "loft") for t in TIMES[:500]], urgent=True).result(30)
        yield writer, reader


def expected() -> list[int]:
    near = range(COAT.start_ms - 30 * 60_000, (COAT.end_ms or 0) + 120 * 60_000)
    return [t for t in TIMES if t >= NOW - 10 * DAY or t in near]


def test_raw_goes_but_near_coats_and_within_the_days(kept: tuple[Writer, Reader]) -> None:
    writer, reader = kept
    before = reader.get(r.Conditions, "c")
    dropped = writer.compact(NOW, RULE).result(30)
    assert [x.at_ms for x in reader.readings("quay", 0, 2**62)] == expected()
    # of the other bench, which has no coat, only its newest minute stays: it is not rolled up yet
    assert [x.at_ms for x in reader.readings("loft", 0, 2**62)] == list(TIMES[498:500])
    assert dropped == len(TIMES) - len(expected()) + 498
    assert reader.conditions("c") == before
    assert writer.compact(NOW, RULE).result(30) == 0


def test_charts_stay_the_same(kept: tuple[Writer, Reader]) -> None:
    writer, reader = kept
    spans = [(T0, T0 + 3 * DAY, 72), (T0 + HOUR, T0 + 2 * HOUR, 60)]
    before = [reader.strip("quay", None, a, b, points=n) for a, b, n in spans]
    writer.compact(NOW, RULE).result(30)
    assert [reader.strip("quay", None, a, b, points=n) for a, b, n in spans] == before


def test_a_close_view_of_dropped_readings_shows_their_minutes(
    kept: tuple[Writer, Reader],
) -> None:
    writer, reader = kept
    (minute,) = reader.strip("quay", None, T0, T0 + 60_000, points=1).channels
    writer.compact(NOW, RULE).result(30)
    (close,) = reader.strip("quay", None, T0, T0 + 60_000, points=6).channels
    assert close.mean == pytest.approx(minute.mean * 6)


def test_a_late_reading_of_a_dropped_minute_is_kept_and_harms_no_rollup(
    kept: tuple[Writer, Reader],
) -> None:
    writer, reader = kept
    writer.compact(NOW, RULE).result(30)
    before = reader.strip("quay", None, T0, T0 + DAY, points=24)
    late = r.Reading("quay", "probe", "air_temperature", 99.0, "Cel", T0 + 7)
    writer.submit([late], urgent=True).result(10)
    assert reader.strip("quay", None, T0, T0 + DAY, points=24) == before
    writer.compact(NOW, RULE).result(30)  # the rollup does not know it: so it stays
    assert late in reader.readings("quay", T0, T0 + 60_000)


def test_readings_taken_in_again_restore_their_minutes(kept: tuple[Writer, Reader]) -> None:
    writer, reader = kept
    before = reader.strip("quay", None, T0, T0 + DAY, points=1440)
    writer.compact(NOW, RULE).result(30)
    writer.submit([air(t) for t in TIMES], urgent=True).result(30)
    assert [x.at_ms for x in reader.readings("quay", 0, 2**62)] == list(TIMES)
    assert reader.strip("quay", None, T0, T0 + DAY, points=1440) == before


def test_the_bench_goes_on_while_it_is_compacted(kept: tuple[Writer, Reader]) -> None:
    writer, reader = kept
    done = writer.compact(NOW, RULE)
    note = r.Piece(id="boat", bench="quay", name="pilot cutter", made_ms=T0)
    writer.submit([note]).result(10)
    done.result(30)
    assert reader.get(r.Piece, "boat") == note


def test_dropped_pages_are_used_again(kept: tuple[Writer, Reader], tmp_path: Path) -> None:
    writer, _ = kept
    writer.compact(NOW, RULE).result(30)
    with closing(connect_reading(tmp_path / "a.db")) as connection:
        free = connection.execute("PRAGMA freelist_count").fetchone()[0]
    assert free > 10


def test_a_negative_rule_is_refused() -> None:
    with pytest.raises(BadInput, match="negative"):
        Retention(raw_days=-1)
