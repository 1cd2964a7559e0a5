"""Whose file it is, which version, and that a wrong one is left as it was."""

import os
import shutil
import sqlite3
import tempfile
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest
from sqlite_utils import Database

from sprayout.errors import BadInput, SprayoutError, StoreError
from sprayout.journal.check import Noted, check
from sprayout.journal.interchange import Range, export_lines
from sprayout.journal.lock import hold
from sprayout.journal.reader import Reader
from sprayout.journal.records import Batch, BatchAddition, Booth, Piece
from sprayout.journal.schema import APPLICATION_ID, VERSION, migrations
from sprayout.journal.store import (
    connect_reading,
    connect_writing,
    filesystem_kind,
    look_at_store,
    prepare_store,
    translated,
)
from sprayout.journal.tables import select_records
from sprayout.journal.writer import Writer

SCHEMA_1 = Path(__file__).parent / "tables" / "journal_schema_1.sql"


def schema_of(path: Path) -> str:
    connection = sqlite3.connect(path)
    rows = connection.execute(
        "SELECT sql FROM sqlite_schema WHERE sql IS NOT NULL ORDER BY name"
    ).fetchall()
    connection.close()
    return "".join(row[0] + ";\n" for row in rows)


def test_a_new_store_is_ours_and_durable(tmp_path: Path) -> None:
    state = prepare_store(tmp_path / "a.db")
    assert (state.version, state.created, state.warnings) == (VERSION, True, ())
    assert not prepare_store(tmp_path / "a.db").created
    connection = connect_writing(tmp_path / "a.db")
    asked = ("application_id", "journal_mode", "synchronous", "foreign_keys")
    found = [connection.execute(f"PRAGMA {name}").fetchone()[0] for name in asked]
    assert found == [APPLICATION_ID, "wal", 2, 1]
    connection.close()
    assert sorted(p.name for p in tmp_path.iterdir()) == ["a.db"]


def test_every_table_of_ours_has_strict_types(tmp_path: Path) -> None:
    prepare_store(tmp_path / "a.db")
    with closing(connect_reading(tmp_path / "a.db")) as connection:
        tables = connection.execute("PRAGMA table_list").fetchall()
    ours = {row[1]: row[5] for row in tables if not row[1].startswith(("sqlite_", "_sqlite"))}
    assert ours and set(ours.values()) == {1}


def test_version_1_stays_as_it_was_released(tmp_path: Path) -> None:
    """A released migration is never edited; a change is a new migration."""
    path = tmp_path / "a.db"
    connection = sqlite3.connect(path)
    migrations.apply(Database(connection), stop_before="second_tables")
    connection.close()
    comment, schema = SCHEMA_1.read_text(encoding="utf-8").split("\n", 1)
    assert comment.startswith("--")
    assert schema_of(path) == schema


def test_a_store_of_version_1_is_brought_up_to_date_with_its_records(tmp_path: Path) -> None:
    path = tmp_path / "a.db"
    connection = sqlite3.connect(path)
    connection.executescript(
        SCHEMA_1.read_text(encoding="utf-8").replace("CREATE TABLE sqlite_sequence", "--")
    )
    connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
    connection.execute("PRAGMA user_version = 1")
    connection.execute(
        "INSERT INTO _sqlite_migrations (migration_set, name, applied_at) "
        "VALUES ('sprayout', 'first_tables', '2026-11-25')"
    )
    connection.execute("INSERT INTO bench VALUES ('quay')")
    connection.execute(
        "INSERT INTO piece (id, bench, name, made_ms) VALUES ('p', 'quay', 'van', 1)"
    )
    connection.execute(
        "INSERT INTO batch (id, bench, name, made_ms) VALUES ('b', 'quay', 'cup', 2)"
    )
    connection.execute(
        "INSERT INTO addition (id, bench, batch, at_ms, drops) VALUES ('a', 'quay', 'b', 3, 12)"
    )
    connection.execute(
        "INSERT INTO booth (id, bench, name, made_ms, flow_m3h, note) "
        "VALUES ('b', 'quay', 'small booth', 1, 350.0, 'ducted')"
    )
    connection.commit()
    connection.close()
    assert prepare_store(path, create=False).version == VERSION
    with closing(connect_reading(path)) as read:
        assert read.execute("SELECT id, name FROM piece").fetchall() == [("p", "van")]
        assert read.execute("SELECT count(*) FROM recent_minutes").fetchone() == (0,)
        assert read.execute("SELECT count(*) FROM probe_check").fetchone() == (0,)
        (booth,) = select_records(read, Booth)
        assert (booth.flow_m3h, booth.note, booth.exhaust, booth.fan) == (350.0, "ducted", None, {})
        assert migrations.pending(Database(read)) == []
    with Reader(path) as reader:
        (cup,), (line,) = reader.all(Batch), reader.all(BatchAddition)
    # Version 3: a cup of before matches wet and has no recipe; what was counted stays counted.
    assert (cup.aim, cup.recipe) == (None, {})
    assert (line.drops, line.grams, line.poured) == (12, None, True)


def newer(path: Path) -> None:
    prepare_store(path)
    connection = sqlite3.connect(path)
    connection.execute(f"PRAGMA user_version = {VERSION + 7}")
    connection.close()


def of_another_program(path: Path) -> None:
    connection = sqlite3.connect(path)
    connection.execute("CREATE TABLE recipes (name TEXT)")
    connection.close()


def text(path: Path) -> None:
    path.write_text("dear diary, " * 100)


def short(path: Path) -> None:
    path.write_bytes(b"SQLite format 3\0")


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (newer, f"got schema {VERSION + 7} of a newer sprayout, wanted {VERSION} or older"),
        (of_another_program, "got a SQLite file of another program"),
        (text, "not a store of sprayout"),
        (short, "not a store of sprayout"),
    ],
)
def test_a_wrong_file_is_refused_and_unchanged(tmp_path: Path, make, words: str) -> None:  # type: ignore[no-untyped-def]
    path = tmp_path / "a.db"
    make(path)
    before = path.read_bytes()
    with pytest.raises(BadInput, match=words):
        prepare_store(path)
    assert path.read_bytes() == before
    assert [p.name for p in tmp_path.iterdir()] == ["a.db"]


@pytest.mark.parametrize(
    ("name", "create", "words"),
    [
        ("", True, "got a folder, wanted a file"),
        ("nowhere/a.db", True, "is not there; make it first"),
        ("a.db", False, "there is no such file"),
    ],
)
def test_an_impossible_place_is_named(tmp_path: Path, name: str, create: bool, words: str) -> None:
    with pytest.raises(BadInput, match=words):
        prepare_store(tmp_path / name, create=create)
    assert list(tmp_path.iterdir()) == []


def test_a_damaged_store_is_named_and_unchanged(tmp_path: Path) -> None:
    path = tmp_path / "a.db"
    prepare_store(path)
    damaged = path.read_bytes()[:100] + b"\xff" * 4000
    path.write_bytes(damaged)
    with pytest.raises(SprayoutError, match="damaged"):
        prepare_store(path)
    assert path.read_bytes() == damaged


@pytest.fixture
def plain_user() -> Iterator[None]:
    """Root may write anywhere: act as somebody else for a moment."""
    if os.name != "posix":
        pytest.skip("needs POSIX users")
    if os.geteuid():
        yield
        return
    os.setegid(65534)
    os.seteuid(65534)
    yield
    os.seteuid(0)
    os.setegid(0)


def test_a_read_only_folder_is_named(tmp_path: Path, plain_user: None) -> None:
    with pytest.raises(StoreError, match=r"cannot be (made|opened)|read-only"):
        prepare_store(Path("/usr") / "sprayout-test.db")


def test_looking_writes_nothing_and_refuses_what_it_cannot_read(tmp_path: Path) -> None:
    path = tmp_path / "a.db"
    with pytest.raises(BadInput, match="there is no such file"):
        look_at_store(path)
    prepare_store(path)
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("PRAGMA journal_mode = DELETE")  # as backups are
    before = path.read_bytes()
    assert look_at_store(path).version == VERSION
    assert path.read_bytes() == before and [p.name for p in tmp_path.iterdir()] == ["a.db"]
    for version, words in ((VERSION + 1, "of a newer sprayout"), (0, "of an older sprayout")):
        with closing(sqlite3.connect(path)) as connection:
            connection.execute(f"PRAGMA user_version = {version}")
        with pytest.raises(BadInput, match=words):
            look_at_store(path)


@pytest.fixture
def shown_folder() -> Iterator[Path]:
    """A folder that other users may look into, but not write to once it is closed."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        folder.chmod(0o755)
        yield folder
        folder.chmod(0o755)


def test_a_store_where_nothing_may_be_written_is_read(
    shown_folder: Path, request: pytest.FixtureRequest
) -> None:
    path = shown_folder / "a.db"
    with Writer(prepare_store(path).path) as writer:
        writer.submit([Piece(id="van", bench="quay", name="ice van", made_ms=1)]).result(10)
    shown_folder.chmod(0o555)
    request.getfixturevalue("plain_user")
    assert look_at_store(path).version == VERSION
    with closing(connect_reading(path)) as connection:
        assert check(connection, 2**40) == [
            Noted("clock", "note", found.words)
            for found in check(connection, 2**40)
            if "without a clock battery" in found.words
        ]
        assert len(list(export_lines(connection, Range()))) == 1
    with pytest.raises(StoreError, match="read-only"):
        hold(path, "one")


def test_a_log_that_cannot_be_read_where_nothing_may_be_written_is_named(
    shown_folder: Path, request: pytest.FixtureRequest
) -> None:
    """A copy of a store in use without what tells where its log stands."""
    path, copy = shown_folder / "a.db", shown_folder / "copy.db"
    with Writer(prepare_store(path).path) as writer:
        writer.submit([Piece(id="van", bench="quay", name="ice van", made_ms=1)]).result(10)
        for ending in ("", "-wal"):
            shutil.copy(f"{path}{ending}", f"{copy}{ending}")
    shown_folder.chmod(0o555)
    request.getfixturevalue("plain_user")
    with pytest.raises(StoreError, match=r"copy\.db-wal beside it holds records too"):
        look_at_store(copy)


def locking(path: Path) -> sqlite3.Connection:
    connection = sqlite3.connect(path, isolation_level=None)
    connection.execute("BEGIN IMMEDIATE")
    return connection


def test_a_locked_store_is_named(tmp_path: Path) -> None:
    path = tmp_path / "a.db"
    prepare_store(path)
    with closing(locking(path)), closing(connect_writing(path, busy_s=0.01)) as waiting:
        with pytest.raises(sqlite3.OperationalError) as caught:
            waiting.execute("BEGIN IMMEDIATE")
        assert "close that program" in str(translated(caught.value, path))


def test_a_reader_cannot_write(tmp_path: Path) -> None:
    prepare_store(tmp_path / "a.db")
    with (
        closing(connect_reading(tmp_path / "a.db")) as connection,
        pytest.raises(sqlite3.OperationalError, match="readonly"),
    ):
        connection.execute("INSERT INTO bench VALUES ('x')")


@pytest.mark.parametrize(
    ("path", "kind"),
    [
        ("/srv/club/a.db", "nfs4"),
        ("/srv/clubhouse/a.db", "ext4"),
        ("/mnt/my share/a.db", "cifs"),
        ("/home/a.db", "ext4"),
    ],
)
def test_a_network_share_is_known_by_the_table_of_mounts(
    tmp_path: Path, path: str, kind: str
) -> None:
    mounts = tmp_path / "mounts"
    mounts.write_text(
        "/dev/sda1 / ext4 rw 0 0\n"
        "nas:/club /srv/club nfs4 rw 0 0\n"
        "//nas/s /mnt/my\\040share cifs rw 0 0\n"
    )
    assert filesystem_kind(Path(path), mounts) == kind


def test_without_a_table_of_mounts_nothing_is_claimed(tmp_path: Path) -> None:
    assert filesystem_kind(tmp_path, tmp_path / "none") == ""
