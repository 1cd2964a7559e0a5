"""Backup while writing, restore only what is whole, and what `check` finds."""

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from sprayout.errors import BadInput, StoreError
from sprayout.journal import records as r
from sprayout.journal.backup import back_up, restore
from sprayout.journal.check import check
from sprayout.journal.interchange import Range, export_lines
from sprayout.journal.sources import FILM_MODEL
from sprayout.journal.store import connect_reading, prepare_store
from sprayout.journal.writer import Writer

T0 = 1_788_540_000_000
HOUR = 3_600_000
PIECE = r.Piece(id="van", bench="quay", name="ice van", made_ms=T0)


def air(second: int) -> r.Reading:
    return r.Reading("quay", "probe", "air_temperature", second / 8, "Cel", T0 + second * 1000)


def export(path: Path) -> str:
    with closing(connect_reading(path)) as connection:
        return "".join(export_lines(connection, Range()))


def found(path: Path, now_ms: int = T0 + HOUR) -> list[tuple[str, str]]:
    with closing(connect_reading(path)) as connection:
        return [(n.subject, n.words) for n in check(connection, now_ms)]


@pytest.fixture
def path(tmp_path: Path) -> Path:
    path = tmp_path / "a.db"
    prepare_store(path)
    with Writer(path) as writer:
        writer.submit([PIECE, *(air(s) for s in range(300))]).result(10)
    return path


def test_a_backup_of_a_running_bench_is_restored_whole(path: Path, tmp_path: Path) -> None:
    with Writer(path, every_s=3600) as writer:
        writer.submit([air(300)], urgent=True).result(10)
        copied = back_up(path, tmp_path / "copy.db")
        before = export(path)
        writer.submit([air(301)], urgent=True).result(10)
    assert copied.bytes == (tmp_path / "copy.db").stat().st_size
    restore(tmp_path / "copy.db", tmp_path / "again.db")
    assert export(tmp_path / "again.db") == before != export(path)
    assert found(tmp_path / "again.db") == []


def test_nothing_is_overwritten(path: Path, tmp_path: Path) -> None:
    other = tmp_path / "other"
    other.write_text("letters to the museum")
    with pytest.raises(BadInput, match="choose another name"):
        back_up(path, other)
    with pytest.raises(BadInput, match="move it away first"):
        restore(path, other)
    with pytest.raises(BadInput, match="make it first"):
        back_up(path, tmp_path / "none" / "copy.db")
    assert other.read_text() == "letters to the museum"


def damage(path: Path) -> None:
    """Overwrite the inside of the file's pages, as a failing card does."""
    held = bytearray(path.read_bytes())
    for start in range(8192, len(held) - 64, 2048):
        held[start : start + 64] = b"\xa5" * 64
    path.write_bytes(held)


def test_a_damaged_backup_is_not_restored(path: Path, tmp_path: Path) -> None:
    back_up(path, tmp_path / "copy.db")
    damage(tmp_path / "copy.db")
    with pytest.raises(StoreError, match="damaged"):
        restore(tmp_path / "copy.db", tmp_path / "again.db")
    assert not (tmp_path / "again.db").exists()
    assert not (tmp_path / "again.db.new").exists()


def test_a_sound_store_has_nothing_to_say(path: Path) -> None:
    assert found(path) == []


def test_damage_is_found(path: Path) -> None:
    damage(path)
    subjects = {subject for subject, _ in found(path)}
    assert subjects == {"integrity"}


def edit(path: Path, sql: str) -> None:
    with closing(sqlite3.connect(path)) as connection:
        connection.execute(sql)
        connection.commit()


@pytest.mark.parametrize(
    ("sql", "subject", "words"),
    [
        ("DELETE FROM bench", "orphans", "refers to a bench that is not there"),
        ("DROP TABLE minute_1", "orphans", "lacks its table minute_1"),
        ("CREATE TABLE reading_9 (x)", "orphans", "reading_9 belongs to no source"),
        ("UPDATE minute_1 SET total0 = total0 + 999", "rollups", "minutes, the first"),
        ("DELETE FROM minute_1 WHERE start % 2", "rollups", "do not agree"),
    ],
)
def test_what_a_hand_did_to_the_tables_is_found(
    path: Path, sql: str, subject: str, words: str
) -> None:
    edit(path, sql)
    assert any(s == subject and words in w for s, w in found(path))


def test_gaps_and_times_are_noted(path: Path) -> None:
    step = r.ClockStep(
        id="s", bench="quay", at_ms=T0, before_ms=5, after_ms=T0, reason="the clock was set forward"
    )
    with Writer(path) as writer:
        writer.submit([step, *(air(s) for s in range(3000, 3100))]).result(10)
        writer.submit([r.Reading("loft", "probe", "x", 1.0, "Cel", 5)], urgent=True).result(10)
    words = " | ".join(w for _, w in found(path, now_ms=T0 + 60_000))
    assert "nothing from 2026-09-04T16:45:00.000Z to 2026-09-04T17:30:00.000Z" in words
    assert "the clock went from 1970-01-01T00:00:00.005Z" in words
    assert "the oldest is dated 1970-01-01T00:00:00.005Z" in words
    assert "in the future" in words


def test_a_film_that_was_not_worked_out_is_no_gap(path: Path) -> None:
    """The film margin is there only while a cup and a part are known; no probe went silent."""
    margins = [
        r.Reading("quay", FILM_MODEL, "film_margin", 4.0, "K", T0 + s * 1000)
        for s in (*range(100), *range(3000, 3100))
    ]
    with Writer(path) as writer:
        writer.submit(margins).result(10)
    assert found(path, now_ms=T0 + 4_000_000) == []
