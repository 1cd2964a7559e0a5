"""A clock that is set after boot: what was dated 1970 is moved to its true time, order kept."""

from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest

from sprayout.errors import BadInput
from sprayout.journal import records as r
from sprayout.journal.check import check
from sprayout.journal.reader import Reader
from sprayout.journal.retention import Retention
from sprayout.journal.store import connect_reading, prepare_store
from sprayout.journal.writer import Writer

T0 = 1_788_540_000_000
BOOT = 5_000
SET = 200_000  # on the wrong clock; it is T0 then
BY = T0 - SET


def air(at_ms: int, bench: str = "quay") -> r.Reading:
    return r.Reading(bench, "probe", "air_temperature", at_ms % 1013 / 8, "Cel", at_ms)


PIECE = r.Piece(id="van", bench="quay", name="ice van", made_ms=BOOT)
COAT = r.Coat(
    id="c", bench="quay", piece="van", kind="wet coat", start_ms=60_000, end_ms=T0 + 40_000
)
FLAG = r.Flag(id="f", bench="quay", key="humid", level="note", words="", raised_ms=90_000)
WRONG = range(BOOT, SET, 1000)
RIGHT = range(T0, T0 + 120_000, 1000)


@pytest.fixture
def kept(tmp_path: Path) -> Iterator[tuple[Writer, Reader]]:
    path = tmp_path / "a.db"
    prepare_store(path)
    with Writer(path, every_s=3600) as writer, Reader(path) as reader:
        writer.submit([PIECE, *(air(t) for t in WRONG), air(7_000, "loft")]).result(10)
        writer.submit([COAT, FLAG, *(air(t) for t in RIGHT)])
        yield writer, reader


def test_everything_of_the_stretch_is_moved(kept: tuple[Writer, Reader], tmp_path: Path) -> None:
    writer, reader = kept
    assert writer.retime("quay", BOOT, SET, BY).result(10) == len(WRONG)
    expected = [(t + BY, air(t).value) for t in WRONG] + [(t, air(t).value) for t in RIGHT]
    assert [(x.at_ms, x.value) for x in reader.readings("quay", 0, 2**62)] == expected
    assert reader.readings("loft", 0, 2**62) == [air(7_000, "loft")]
    coat, flag, piece = (
        reader.get(k, i) for k, i in ((r.Coat, "c"), (r.Flag, "f"), (r.Piece, "van"))
    )
    assert isinstance(coat, r.Coat) and isinstance(flag, r.Flag) and isinstance(piece, r.Piece)
    assert (coat.start_ms, coat.end_ms) == (60_000 + BY, T0 + 40_000)
    assert (flag.raised_ms, piece.made_ms) == (90_000 + BY, BOOT + BY)
    conditions = reader.get(r.Conditions, "c")
    assert conditions is not None and conditions == reader.conditions("c")
    assert conditions.channels[0].n == 140 + 41
    strip = reader.strip("quay", None, T0 - 180_000, T0 + 60_000, points=4)
    assert strip.resolution == "minute" and None not in strip.channels[0].mean
    with closing(connect_reading(tmp_path / "a.db")) as connection:
        found = check(connection, T0 + 999_000)
    assert [n for n in found if n.level == "fault"] == []


def test_moving_back_undoes_it(kept: tuple[Writer, Reader]) -> None:
    writer, reader = kept
    writer.flush(10)
    before = reader.readings("quay", 0, 2**62)
    writer.retime("quay", BOOT, SET, BY).result(10)
    writer.retime("quay", BOOT + BY, SET + BY, -BY).result(10)
    assert reader.readings("quay", 0, 2**62) == before
    assert reader.get(r.Coat, "c") == COAT


def test_what_only_a_rollup_knows_cannot_be_moved(kept: tuple[Writer, Reader]) -> None:
    writer, reader = kept
    writer.compact(T0 + 40 * 86_400_000, Retention(raw_days=39, before_coat_min=0)).result(10)
    writer.submit([air(6_500)], urgent=True).result(10)
    before = reader.readings("quay", 0, 2**62)
    with pytest.raises(BadInput, match="dropped already"):
        writer.retime("quay", BOOT, SET, BY).result(10)
    assert reader.readings("quay", 0, 2**62) == before


@pytest.mark.parametrize(("from_ms", "to_ms", "by_ms"), [(5, 5, 1), (5, 9, -6)])
def test_an_impossible_move_is_refused(
    kept: tuple[Writer, Reader], from_ms: int, to_ms: int, by_ms: int
) -> None:
    with pytest.raises(BadInput, match="wanted an end after the start"):
        kept[0].retime("quay", from_ms, to_ms, by_ms).result(10)
