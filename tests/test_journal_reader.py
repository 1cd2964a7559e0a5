"""Questions to the store: charts from the right rollup, flags, swatches, calibrations, channels."""

import dataclasses
import math
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from sprayout.errors import BadInput
from sprayout.journal import records as r
from sprayout.journal.reader import Reader
from sprayout.journal.store import prepare_store
from sprayout.journal.strip import resolution_for
from sprayout.journal.writer import Writer

DAY = 86_400_000
T0 = 20_700 * DAY  # a midnight
PIECE = r.Piece(id="van", bench="quay", name="ice van", made_ms=T0)


@pytest.fixture
def kept(tmp_path: Path) -> Iterator[tuple[Writer, Reader]]:
    path = tmp_path / "a.db"
    prepare_store(path)
    with Writer(path) as writer, Reader(path) as reader:
        yield writer, reader


def wave(at_ms: int) -> float:
    return round(20 + 5 * math.sin(at_ms / 7_000_000), 2)


def air(at_ms: int) -> r.Reading:
    return r.Reading("quay", "probe", "air_temperature", wave(at_ms), "Cel", at_ms)


@pytest.mark.parametrize(
    ("hours", "points", "resolution"),
    [
        (1, 720, "raw"),
        (11.9, 720, "raw"),
        (12, 720, "minute"),
        (24, 720, "minute"),
        (24 * 31, 720, "hour"),
        (24 * 365, 720, "hour"),
        (24 * 3650, 720, "day"),
    ],
)
def test_the_coarsest_level_that_still_serves(hours: float, points: int, resolution: str) -> None:
    assert resolution_for(0, round(hours * 3_600_000), points) == resolution


@pytest.mark.parametrize(
    ("days", "points", "resolution"), [(3, 6, "hour"), (3, 72 * 30, "minute"), (3, 3, "day")]
)
def test_a_strip_agrees_with_its_readings_up_to_the_newest(
    kept: tuple[Writer, Reader], days: int, points: int, resolution: str
) -> None:
    writer, reader = kept
    times = range(T0, T0 + days * DAY - 50_000, 20_000)  # ends within a minute, an hour, a day
    writer.submit([air(t) for t in times], urgent=True).result(30)
    strip = reader.strip("quay", ["air_temperature"], T0, T0 + days * DAY, points=points)
    assert strip.resolution == resolution
    length = days * DAY // points
    (found,) = strip.channels
    for i, start in enumerate(strip.at_ms):
        inside = [wave(t) for t in range(start, start + length, 20_000) if t in times]
        assert found.low[i] == pytest.approx(min(inside))
        assert found.high[i] == pytest.approx(max(inside))
        assert found.mean[i] == pytest.approx(sum(inside) / len(inside))


def test_a_gap_is_none(kept: tuple[Writer, Reader]) -> None:
    writer, reader = kept
    writer.submit([air(T0), air(T0 + 30_000)], urgent=True).result(10)
    strip = reader.strip("quay", None, T0, T0 + 40_000, points=4)
    assert strip.channels[0].mean == (wave(T0), None, None, wave(T0 + 30_000))
    assert strip.channels[0].low[1] is None and strip.channels[0].high[1] is None


@pytest.mark.parametrize(("from_ms", "to_ms", "points"), [(5, 5, 10), (5, 4, 10), (0, 9, 0)])
def test_an_impossible_strip_is_refused(
    kept: tuple[Writer, Reader], from_ms: int, to_ms: int, points: int
) -> None:
    with pytest.raises(BadInput, match="wanted an end after the start"):
        kept[1].strip("quay", None, from_ms, to_ms, points=points)


def test_open_flags_are_those_that_stand_or_nobody_saw(kept: tuple[Writer, Reader]) -> None:
    writer, reader = kept
    raised = r.Flag(id="f1", bench="quay", key="humid", level="caution", words="damp", raised_ms=T0)
    seen = dataclasses.replace(raised, id="f2", acknowledged_ms=T0 + 1, acknowledged_by="Ida")
    gone = dataclasses.replace(raised, id="f3", cleared_ms=T0 + 1)
    over = dataclasses.replace(seen, id="f4", cleared_ms=T0 + 2)
    elsewhere = dataclasses.replace(raised, id="f5", bench="loft")
    writer.submit([raised, seen, gone, over, elsewhere]).result(10)
    assert [f.id for f in reader.open_flags("quay")] == ["f1", "f2", "f3"]
    assert [f.id for f in reader.open_flags()] == ["f1", "f2", "f3", "f5"]
    assert reader.get(r.Flag, "f4") == over  # kept for ever


def test_flags_of_a_stretch_are_those_that_stood_in_it(kept: tuple[Writer, Reader]) -> None:
    writer, reader = kept
    coat = r.Coat(id="c1", bench="quay", piece="van", kind="wet coat", start_ms=T0)
    over = r.Flag(id="f1", bench="quay", key="humid", level="caution", words="damp", raised_ms=T0,
                  cleared_ms=T0 + 10, coat="c1")  # fmt: skip
    stands = dataclasses.replace(over, id="f2", raised_ms=T0 + 5, cleared_ms=None, coat=None)
    elsewhere = dataclasses.replace(over, id="f3", bench="loft", coat=None)
    writer.submit([PIECE, coat, over, stands, elsewhere]).result(10)

    def ids(from_ms: int, to_ms: int, **asked: Any) -> list[str]:
        return [flag.id for flag in reader.flags("quay", T0 + from_ms, T0 + to_ms, **asked)]

    assert ids(0, 20) == ["f2", "f1"]
    assert ids(0, 20, limit=1) == ["f2"]
    assert ids(0, 20, coat="c1") == ["f1"]
    assert (ids(0, 5), ids(10, 20), ids(11, 20)) == (["f1"], ["f2", "f1"], ["f2"])
    assert ids(-9, 0) == []


def test_coats_are_listed_newest_first_and_by_piece(kept: tuple[Writer, Reader]) -> None:
    writer, reader = kept
    boat = dataclasses.replace(PIECE, id="boat", name="pilot cutter")
    coats = [
        r.Coat(id=f"c{i}", bench="quay", piece=piece, kind="wet coat", start_ms=T0 + i * 1000)
        for i, piece in enumerate(["van", "boat", "van"])
    ]
    writer.submit([PIECE, boat, *coats]).result(10)
    assert [c.coat.id for c in reader.coats("quay")] == ["c2", "c1", "c0"]
    assert [c.coat.id for c in reader.coats(piece="van")] == ["c2", "c0"]
    assert [c.coat.id for c in reader.coats(from_ms=T0 + 1000, to_ms=T0 + 2000)] == ["c1"]
    assert [c.coat.id for c in reader.coats(limit=1)] == ["c2"]
    assert reader.coats("loft") == []
    assert reader.coat("c1") is not None and reader.coat("c9") is None


def test_the_latest_calibration_is_that_of_the_board(kept: tuple[Writer, Reader]) -> None:
    writer, reader = kept
    old = r.Calibration(
        id="k1", bench="quay", device="board", at_ms=T0, sensor="spectral-8", unit={"gain": 64}
    )
    new = dataclasses.replace(old, id="k2", at_ms=T0 + 5, unit={"gain": 128, "dark": [1.5]})
    other = dataclasses.replace(old, id="k3", device="spare", at_ms=T0 + 9)
    writer.submit([new, old, other]).result(10)
    assert reader.latest_calibration("quay", "board") == new
    assert reader.latest_calibration("quay", "none") is None


def test_records_are_found_by_any_field(kept: tuple[Writer, Reader]) -> None:
    writer, reader = kept
    writer.submit([PIECE, dataclasses.replace(PIECE, id="boat", metal="zinc")]).result(10)
    assert [p.id for p in reader.all(r.Piece, metal=None)] == ["van"]
    assert [p.id for p in reader.all(r.Piece, bench="quay", metal="zinc")] == ["boat"]
    with pytest.raises(BadInput, match="no field 'colour'"):
        reader.all(r.Piece, colour="red")


def test_channels_and_their_newest_readings(kept: tuple[Writer, Reader]) -> None:
    writer, reader = kept
    writer.submit([air(T0), air(T0 + 1000)])
    writer.submit([r.Reading("quay", "board", "f1", 7.0, "count", T0 + 500)], urgent=True).result(
        10
    )
    assert [(c.device, c.channel, c.first_ms, c.last_ms) for c in reader.channels("quay")] == [
        ("board", "f1", T0 + 500, T0 + 500),
        ("probe", "air_temperature", T0, T0 + 1000),
    ]
    assert [x.at_ms for x in reader.latest("quay")] == [T0 + 500, T0 + 1000]
    assert reader.channels("loft") == []


def test_a_reader_wants_a_store(tmp_path: Path) -> None:
    with pytest.raises(BadInput, match="there is no such file"):
        Reader(tmp_path / "none.db")
