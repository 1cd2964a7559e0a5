"""One program writes to a store; a second is told so, a killed one keeps nobody out."""

import contextlib
import json
import os
import signal
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from sprayout.errors import BadInput, StoreError
from sprayout.journal import records as r
from sprayout.journal.lock import hold
from sprayout.journal.records_json import to_json
from sprayout.journal.store import open_for_writing, prepare_store
from sprayout.journal.writer import Writer

POSIX = pytest.mark.skipif(os.name != "posix", reason="needs SIGKILL")
COMMAND = [sys.executable, "-c", "from sprayout.cli import main; main()"]
PIECE = r.Piece(id="van", bench="quay", name="ice van", made_ms=1_788_540_000_000)
Start = Callable[[Path], subprocess.Popen[str]]


def environment() -> dict[str, str]:
    return {**os.environ, "PYTHONPATH": os.pathsep.join(filter(None, sys.path))}


def sprayout(*words: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [*COMMAND, *words], capture_output=True, text=True, timeout=60, env=environment()
    )


@pytest.fixture
def serve() -> Iterator[Start]:
    """Starts `sprayout serve` and returns once its page answers."""
    started: list[subprocess.Popen[str]] = []

    def start(store: Path) -> subprocess.Popen[str]:
        command = [*COMMAND, "serve", "--store", str(store), "--port", "0"]
        child = subprocess.Popen(
            command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, env=environment()
        )
        started.append(child)
        assert child.stdout is not None and child.stderr is not None
        line = child.stdout.readline()
        assert line.startswith("The bench's page"), child.stderr.read()
        return child

    yield start
    for child in started:
        child.kill()
        child.communicate()


@POSIX
def test_a_second_bench_on_a_store_is_refused_and_a_killed_one_forgotten(
    tmp_path: Path, serve: Start
) -> None:
    store = tmp_path / "club.db"
    first = serve(store)
    second = sprayout("serve", "--store", str(store), "--port", "0")
    assert second.returncode == 2 and second.stdout == ""
    assert second.stderr.count("\n") == 1
    assert f"a running bench (process {first.pid}) writes to it" in second.stderr
    assert "end that one first or give another --store" in second.stderr
    first.send_signal(signal.SIGKILL)
    first.wait(30)
    third = serve(store)
    third.send_signal(signal.SIGTERM)
    assert third.wait(30) == 0
    assert not (tmp_path / "club.db.lock").exists()


@POSIX
def test_an_import_waits_for_nobody_and_readers_take_no_notice(
    tmp_path: Path, serve: Start
) -> None:
    store, file = tmp_path / "club.db", tmp_path / "all.jsonl"
    file.write_text(json.dumps(to_json(PIECE)) + "\n", encoding="utf-8")
    serve(store)
    refused = sprayout("import", str(file), "--store", str(store))
    assert refused.returncode == 2 and refused.stderr.count("\n") == 1
    assert "a running bench" in refused.stderr and "nothing was changed" in refused.stderr
    for words in (
        ("check", "--store", str(store)),
        ("export", "--store", str(store)),
        ("backup", str(tmp_path / "monday.db"), "--store", str(store)),
    ):
        done = sprayout(*words)
        assert done.returncode == 0, done.stderr
    assert "ice van" not in sprayout("export", "--store", str(store)).stdout


@POSIX
def test_a_bench_that_is_ended_while_it_starts_ends_in_order(tmp_path: Path) -> None:
    """SIGTERM in the long imports: no server yet, and nothing half done."""
    code = (
        "import sys, os, signal\n"
        "from sprayout.cli import main\n"
        "class Ended:\n"
        "    def find_spec(self, name, path=None, target=None):\n"
        "        if name == 'uvicorn': os.kill(os.getpid(), signal.SIGTERM)\n"
        "sys.meta_path.insert(0, Ended())\n"
        "main()"
    )
    store = tmp_path / "a.db"
    done = subprocess.run(
        [sys.executable, "-c", code, "serve", "--store", str(store), "--port", "0"],
        capture_output=True, text=True, timeout=60, env=environment(),
    )  # fmt: skip
    assert (done.returncode, done.stdout, done.stderr) == (130, "", "")
    assert list(tmp_path.iterdir()) == []


def test_the_lock_is_let_go_with_the_writer(tmp_path: Path) -> None:
    path = tmp_path / "a.db"
    prepare_store(path)
    with Writer(path), pytest.raises(BadInput, match=rf"another writer \(process {os.getpid()}\)"):
        Writer(path)
    with Writer(path) as writer:
        writer.submit([PIECE]).result(10)
    assert sorted(p.name for p in tmp_path.iterdir()) == ["a.db"]


def test_a_store_by_another_name_is_the_same_store(tmp_path: Path) -> None:
    path, link = tmp_path / "a.db", tmp_path / "linked.db"
    prepare_store(path)
    link.symlink_to(path)
    with hold(path, "one"), pytest.raises(BadInput, match=r"one \(process"):
        hold(link, "two")


def test_what_is_left_of_a_lock_is_no_lock(tmp_path: Path) -> None:
    path = tmp_path / "a.db"
    (tmp_path / "a.db.lock").write_text("left by a power cut", encoding="utf-8")
    _, lock = open_for_writing(path, "one")
    lock.release()
    lock.release()
    assert sorted(p.name for p in tmp_path.iterdir()) == ["a.db"]


def test_a_lock_that_does_not_say_whose_it_is_still_holds(tmp_path: Path) -> None:
    path = tmp_path / "a.db"
    with hold(path, "one"):
        (tmp_path / "a.db.lock").write_text("{", encoding="utf-8")
        with pytest.raises(BadInput, match="another sprayout writes to it"):
            hold(path, "two")


def test_a_store_that_is_refused_is_not_locked(tmp_path: Path) -> None:
    foreign = tmp_path / "letters.txt"
    foreign.write_text("dear Ida", encoding="utf-8")
    with pytest.raises(BadInput, match="not a store of sprayout"):
        open_for_writing(foreign, "one")
    with pytest.raises(BadInput, match="make it first"):
        open_for_writing(tmp_path / "nowhere" / "a.db", "one")
    assert [p.name for p in tmp_path.iterdir()] == ["letters.txt"]


NOBODY = 65_534


@contextlib.contextmanager
def somebody_without_rights() -> Iterator[None]:
    """Root may write anywhere: then the block runs as the user nobody."""
    root = os.geteuid() == 0
    if root:
        os.seteuid(NOBODY)
    try:
        yield
    finally:
        if root:
            os.seteuid(0)


def test_a_folder_that_cannot_be_written_is_said_to_be_so() -> None:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        path = folder / "a.db"
        prepare_store(path)
        folder.chmod(0o555)
        try:
            with somebody_without_rights(), pytest.raises(StoreError, match="read-only"):
                hold(path, "one")
        finally:
            folder.chmod(0o755)


@POSIX
def test_a_lock_that_is_left_has_the_stores_mode(tmp_path: Path) -> None:
    path, file = tmp_path / "a.db", tmp_path / "a.db.lock"
    prepare_store(path)
    for mode in (0o660, 0o600, 0o666):
        path.chmod(mode)
        with hold(path, "one"):
            held = file.stat()
            assert held.st_mode & 0o777 == mode
            assert (held.st_uid, held.st_gid) == (path.stat().st_uid, path.stat().st_gid)


def test_a_lock_that_cannot_be_opened_is_named() -> None:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        path, file = folder / "a.db", folder / "a.db.lock"
        prepare_store(path)
        file.write_text("left by a killed program", encoding="utf-8")
        folder.chmod(0o777)
        file.chmod(0o444)
        named = r"a\.db\.lock cannot be opened: .*read-only"
        with somebody_without_rights(), pytest.raises(StoreError, match=named):
            hold(path, "one")
