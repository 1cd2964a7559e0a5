"""Readings in any order, late, twice and of any unit: what comes out is what went in."""

import itertools
import math
import shutil
from collections import defaultdict
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from sprayout.errors import BadInput
from sprayout.journal.batch import BatchWriter, submission_of
from sprayout.journal.reader import Reader
from sprayout.journal.records import Reading
from sprayout.journal.sources import ROLLUPS, load_series
from sprayout.journal.store import connect_writing, prepare_store

NUMBERS = itertools.count()
T0 = 1_788_540_000_000  # 2026-09-04T16:40Z
SLOW = settings(
    deadline=None, max_examples=25, suppress_health_check=[HealthCheck.function_scoped_fixture]
)


class Store:
    """A fresh store with a writer that commits at once."""

    def __init__(self, folder: Path) -> None:
        self.path = folder / f"{next(NUMBERS)}.db"
        template = folder / "template.db"
        if not template.exists():
            prepare_store(template)
        shutil.copy(template, self.path)
        self.connection = connect_writing(self.path)
        self.connection.execute("PRAGMA synchronous = OFF")  # durability is tested elsewhere
        self.batch = BatchWriter(self.connection)

    def close(self) -> None:
        self.connection.close()

    def write(self, *readings: Reading) -> None:
        assert self.batch.write([submission_of(readings)]) == [None]

    def read(self, bench: str = "b") -> list[Reading]:
        with Reader(self.path) as reader:
            return reader.readings(bench, 0, 2**62)


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with closing(Store(tmp_path)) as store:
        yield store


values = st.one_of(
    st.floats(allow_nan=False, allow_infinity=False),
    st.integers(-100_000, 200_000).map(float),
    st.integers(-10_000, 10_000).map(lambda n: n / 100),
    st.integers(-10_000, 10_000).map(lambda n: n / 1000),
)
readings = st.builds(
    Reading,
    bench=st.just("b"),
    device=st.sampled_from(["board", "foreign"]),
    channel=st.sampled_from(["air_temperature", "relative_humidity", "grün°/\"x'"]),
    value=values,
    unit=st.sampled_from(["Cel", "%RH", "furlong"]),
    at_ms=st.integers(0, 3 * 86_400_000).map(lambda n: T0 + n)
    | st.integers(0, 20).map(lambda n: T0 + n * 30_000),
)


def as_kept(given_readings: list[Reading]) -> list[Reading]:
    """Each distinct reading once, in the order of the reader."""
    return sorted(
        set(given_readings), key=lambda x: (x.at_ms, x.device, x.channel, x.unit, x.value)
    )


@SLOW
@given(batches=st.lists(st.lists(readings, max_size=25), min_size=1, max_size=6))
def test_every_distinct_reading_comes_back_bit_for_bit(
    tmp_path: Path, batches: list[list[Reading]]
) -> None:
    with closing(Store(tmp_path)) as store:
        for batch in batches:
            store.write(*batch)
        assert store.read() == as_kept([x for batch in batches for x in batch])
        for batch in reversed(batches):  # delivered once more, in another order
            store.write(*batch)
        assert store.read() == as_kept([x for batch in batches for x in batch])


@SLOW
@given(batches=st.lists(st.lists(readings, max_size=25), min_size=1, max_size=6))
def test_rollups_agree_with_the_raw_rows_whatever_the_order(
    tmp_path: Path, batches: list[list[Reading]]
) -> None:
    with closing(Store(tmp_path)) as store:
        for batch in batches:
            store.write(*batch)
        for series in load_series(store.connection):
            raw = store.connection.execute(
                f"SELECT at_ms, c{series.slot} FROM reading_{series.source} "
                f"WHERE c{series.slot} IS NOT NULL"
            ).fetchall()
            newest = store.connection.execute(
                f"SELECT max(at_ms) FROM reading_{series.source}"
            ).fetchone()[0]
            for level, length in ROLLUPS.items():
                by_start: dict[int, list[float]] = defaultdict(list)
                for at_ms, cell in raw:
                    if at_ms // length < newest // length:
                        by_start[at_ms // length].append(series.decode(cell))
                held = store.connection.execute(
                    f"SELECT start, n{series.slot}, low{series.slot}, high{series.slot}, "
                    f"total{series.slot} FROM {level}_{series.source} WHERE n{series.slot} > 0"
                ).fetchall()
                assert {row[0] for row in held} == set(by_start)
                for start, n, low, high, total in held:
                    expected = by_start[start]
                    scale = series.scale
                    assert n == len(expected)
                    if max(map(abs, expected)) < 1e9:
                        assert (low + series.zero) / scale == pytest.approx(min(expected), rel=1e-9)
                        assert (high + series.zero) / scale == pytest.approx(
                            max(expected), rel=1e-9
                        )
                        mean = (total / n + series.zero) / scale
                        assert mean == pytest.approx(math.fsum(expected) / n, rel=1e-9, abs=1e-6)


def test_two_values_of_one_channel_at_one_time_are_two_readings(store: Store) -> None:
    one = Reading("b", "board", "air_temperature", 21.5, "Cel", T0)
    other = Reading("b", "board", "air_temperature", 21.6, "Cel", T0)
    store.write(one, other, one)
    store.write(other)
    assert store.read() == [one, other]


def test_ten_hertz_and_odd_milliseconds_are_kept_exactly(store: Store) -> None:
    fast = [
        Reading("b", "board", "clear", float(n), "count", T0 + n * 100 + n % 7) for n in range(50)
    ]
    store.write(*fast)
    assert store.read() == fast


def test_channels_that_arrive_together_share_a_row(store: Store) -> None:
    together = [
        Reading("b", "board", channel, 1.0, "count", T0) for channel in ("f1", "f2", "f3", "clear")
    ]
    alone = Reading("b", "board", "air_temperature", 20.0, "Cel", T0 + 7)
    store.write(*together, alone)
    sources = {s.channel: s.source for s in load_series(store.connection)}
    assert len({sources[x.channel] for x in together}) == 1
    assert sources["air_temperature"] != sources["f1"]


def test_a_channel_heard_later_joins_its_device(store: Store) -> None:
    store.write(Reading("b", "board", "f1", 1.0, "count", T0))
    pack = [Reading("b", "board", c, 2.0, "count", T0 + 1000) for c in ("f1", "f2")]
    store.write(*pack)
    assert {s.source for s in load_series(store.connection)} == {1}
    assert store.read()[1:] == pack


def test_a_young_series_gets_the_decimals_its_values_need(store: Store) -> None:
    coarse = [Reading("b", "d", "x", 20.0 + n, "K", T0 + n) for n in range(5)]
    fine = [Reading("b", "d", "x", 20.1234 + n, "K", T0 + 10 + n) for n in range(5)]
    store.write(*coarse)
    store.write(*fine)
    (series,) = load_series(store.connection)
    assert series.decimals == 4
    kinds = store.connection.execute("SELECT DISTINCT typeof(c0) FROM reading_1").fetchall()
    assert kinds == [("integer",)]
    assert store.read() == coarse + fine


def test_the_plain_view_shows_times_names_and_values(store: Store) -> None:
    store.write(
        Reading("b", "d", "pressure", 101_325.0, "Pa", T0 + 5),
        Reading("b", "d", "air_temperature", 1 / 3, "Cel", T0 + 5),
    )
    cursor = store.connection.execute("SELECT * FROM plain_1")
    assert [c[0] for c in cursor.description] == ["at", "pressure (Pa)", "air_temperature (Cel)"]
    assert cursor.fetchall() == [("2026-09-04T16:40:00.005Z", 101_325.0, 1 / 3)]


@pytest.mark.parametrize(
    ("value", "at_ms", "words"),
    [
        (math.nan, T0, "wanted a finite number"),
        (math.inf, T0, "wanted a finite number"),
        (1.0, -1, "set the clock"),
        (1.0, 2**60, "set the clock"),
    ],
)
def test_a_reading_that_cannot_be_kept_is_refused(value: float, at_ms: int, words: str) -> None:
    with pytest.raises(BadInput, match=words):
        submission_of([Reading("b", "d", "x", value, "Cel", at_ms)])


def test_benches_are_told_apart(store: Store) -> None:
    here = Reading("quay", "board", "air_temperature", 20.0, "Cel", T0)
    there = Reading("loft", "board", "air_temperature", 30.0, "Cel", T0)
    store.write(here, there)
    assert store.read("quay") == [here]
    assert store.read("loft") == [there]
