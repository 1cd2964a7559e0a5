"""A chart of a day drawn from whole hours is the chart drawn from the minutes themselves."""

import dataclasses
import random
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from sprayout.journal import records as r
from sprayout.journal.check import check
from sprayout.journal.reader import Reader
from sprayout.journal.recent import HOURS_KEPT, hour_cells, slots_of
from sprayout.journal.store import connect_reading, prepare_store
from sprayout.journal.strip import Strip
from sprayout.journal.writer import Writer

HOUR = 3_600_000
DAY = 24 * HOUR
T0 = 20_700 * DAY
PLACES = {"air_temperature": "Cel", "relative_humidity": "%RH", "pressure": "Pa"}


def row(at_ms: int, chance: random.Random, channels: int = 2) -> list[r.Reading]:
    """Readings of one moment; now and then one with digits that only a REAL cell holds."""
    return [
        r.Reading(
            "quay", "probe", name, value if chance.random() < 0.01 else round(value, 2), unit, at_ms
        )
        for name, unit in list(PLACES.items())[:channels]
        if chance.random() < 0.95
        for value in [chance.gauss(101_300 if unit == "Pa" else 20, 3)]
    ]


def kept_hours(path: Path) -> list[int]:
    with closing(connect_reading(path)) as connection:
        return [
            h for (h,) in connection.execute("SELECT DISTINCT hour FROM recent_minutes ORDER BY 1")
        ]


def charts(path: Path, points: int) -> list[Strip]:
    """The chart as it is drawn, and once more after every kept hour was taken away."""
    drawn = []
    for _ in range(2):
        with Reader(path) as reader:
            drawn.append(reader.strip("quay", None, T0, T0 + DAY, points=points))
        connection = sqlite3.connect(path)
        connection.execute("DELETE FROM recent_minutes")
        connection.commit()
        connection.close()
    return drawn


def close_to(one: Strip, other: Strip) -> bool:
    assert one.at_ms == other.at_ms and one.resolution == other.resolution == "minute"
    for a, b in zip(one.channels, other.channels, strict=True):
        assert (a.channel, a.low, a.high) == (b.channel, b.low, b.high)
        for one_mean, other_mean in zip(a.mean, b.mean, strict=True):
            assert one_mean == (other_mean and pytest.approx(other_mean, rel=1e-12))
    return any(v is not None for c in one.channels for v in c.mean)


@pytest.mark.parametrize("points", [288, 720, 1000])
def test_the_chart_is_the_same_with_and_without_the_kept_hours(tmp_path: Path, points: int) -> None:
    path, chance = tmp_path / "a.db", random.Random(points)
    prepare_store(path)
    with Writer(path, every_s=0.01) as writer:
        for start in range(T0, T0 + DAY, 2 * HOUR):  # a third channel is heard from noon on
            channels = 2 if start < T0 + DAY // 2 else 3
            times = [t for t in range(start, start + HOUR, 40_000) if chance.random() < 0.9]
            writer.submit([x for t in times for x in row(t, chance, channels)]).result(30)
        late = [x for t in range(T0 + HOUR - 7_000, T0 + 3 * HOUR, 55_000) for x in row(t, chance)]
        writer.submit(late).result(30)
    assert len(kept_hours(path)) >= 12
    assert close_to(*charts(path, points))


def test_hours_older_than_three_days_are_let_go_and_their_minutes_kept(tmp_path: Path) -> None:
    path, chance = tmp_path / "a.db", random.Random(1)
    prepare_store(path)
    with Writer(path, every_s=0.01) as writer:
        for hour in range(0, HOURS_KEPT + 30, 3):
            writer.submit(row(T0 + hour * HOUR, chance) + row(T0 + hour * HOUR + 70_000, chance))
            writer.flush()
    newest = (T0 // HOUR) + HOURS_KEPT + 27
    hours = kept_hours(path)
    assert hours and newest - HOURS_KEPT <= min(hours) and max(hours) == newest - 3
    with closing(connect_reading(path)) as connection:
        assert connection.execute("SELECT min(start) FROM minute_1").fetchone()[0] == T0 // 60_000


def test_minutes_written_anew_are_never_charted_as_they_were(tmp_path: Path) -> None:
    """More decimals for a young channel, and a stretch that is moved in time."""
    path, chance = tmp_path / "a.db", random.Random(2)
    prepare_store(path)
    with Writer(path, every_s=0.01) as writer:
        writer.submit([x for t in range(T0, T0 + 3 * HOUR, 30_000) for x in row(t, chance)])
        writer.flush()
        assert len(kept_hours(path)) == 2
        fine = r.Reading("quay", "probe", "air_temperature", 20.12345, "Cel", T0 + 3 * HOUR)
        writer.submit([fine]).result(10)
        assert close_to(*charts(path, 720))
        writer.submit([x for t in range(T0 + 3 * HOUR, T0 + 6 * HOUR, 30_000)
                       for x in row(t, chance)]).result(10)  # fmt: skip
        writer.retime("quay", T0 + 4 * HOUR, T0 + 5 * HOUR, 2 * HOUR + 1).result(10)
    assert close_to(*charts(path, 720))


def test_check_finds_an_hour_that_says_something_else_than_its_minutes(tmp_path: Path) -> None:
    path, chance = tmp_path / "a.db", random.Random(3)
    prepare_store(path)
    with Writer(path, every_s=0.01) as writer:
        writer.submit([x for t in range(T0, T0 + 2 * HOUR, 30_000) for x in row(t, chance)])
    with closing(connect_reading(path)) as connection:
        assert check(connection, T0 + DAY) == []
        cells = hour_cells(connection, 1, 2, T0 // HOUR)
        assert slots_of(cells) == 2
    connection = sqlite3.connect(path)
    connection.execute("UPDATE recent_minutes SET cells = zeroblob(length(cells))")
    connection.commit()
    connection.close()
    with closing(connect_reading(path)) as connection:
        (found,) = check(connection, T0 + DAY)
    assert (found.subject, found.level) == ("rollups", "fault")
    assert "1 hours kept for charts" in found.words


def test_a_reading_of_the_second_slot_alone_leaves_the_first_empty(tmp_path: Path) -> None:
    path = tmp_path / "a.db"
    prepare_store(path)
    both = [r.Reading("quay", "p", c, 1.0, "Cel", T0) for c in ("air_temperature", "other")]
    alone = dataclasses.replace(both[1], at_ms=T0 + HOUR)
    with Writer(path, every_s=0.01) as writer:
        writer.submit(both).result(10)
        writer.submit([alone]).result(10)
        writer.submit([dataclasses.replace(alone, at_ms=T0 + 2 * HOUR)]).result(10)
    with Reader(path) as reader:
        strip = reader.strip("quay", None, T0, T0 + DAY, points=720)
    held = {c.channel: [i for i, v in enumerate(c.mean) if v is not None] for c in strip.channels}
    assert held == {"air_temperature": [0], "other": [0, 30, 60]}
