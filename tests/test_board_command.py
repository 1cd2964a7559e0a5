"""``sprayout board``: install, self-test, emulate, as a person runs them."""

import json
import os
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from sprayout.sim.board_program import board_files
from sprayout.sim.faults import NoAnswer
from sprayout.sim.pty_cable import serve_on_pty
from sprayout.sim.surroundings import SteadySurroundings
from sprayout.sim.virtual_board import VirtualBoard

ROOT = Path(__file__).resolve().parent.parent
SOURCES = os.pathsep.join(str(ROOT / part) for part in ("services", "firmware_host", "simulators"))
SPRAYOUT = [sys.executable, "-c", "from sprayout.cli import main; main()", "board"]


def environment(**given: str) -> dict[str, str]:
    return os.environ | {"PYTHONPATH": SOURCES} | given


def sprayout(*words: str, **given: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [*SPRAYOUT, *words], capture_output=True, text=True, env=environment(**given), timeout=60
    )


@contextmanager
def emulated(*words: str) -> Iterator[str]:
    process = subprocess.Popen(
        [*SPRAYOUT, "emulate", *words], stdout=subprocess.PIPE, text=True, env=environment()
    )
    assert process.stdout is not None
    try:
        yield process.stdout.readline().strip()
    finally:
        process.terminate()
        process.stdout.close()
        assert process.wait(timeout=20) == 0


def test_emulated_board_passes_its_self_test_and_leaves_no_port_behind(tmp_path: Path) -> None:
    link = tmp_path / "board"
    with emulated("--link", str(link), "--seed", "4") as path:
        assert path == str(link)
        done = sprayout("self-test", "--serial", path, "--json")
        document = json.loads(done.stdout)
        assert (done.returncode, done.stderr) == (0, "")
        assert document["passed"] and document["sensor"] == "spectral-8"
        assert all(check["passed"] for check in document["checks"])
    assert not link.is_symlink()


def test_rgb_board_can_be_emulated() -> None:
    with emulated("--sensor", "rgb", "--surface", "nothing") as path:
        done = sprayout("self-test", "--serial", path)
    assert "sensor rgb" in done.stdout
    assert "tcs34725, identity 0x44" in done.stdout


def test_failing_self_test_names_what_failed_and_exits_1() -> None:
    board = VirtualBoard(SteadySurroundings(), faults=[NoAnswer("sht31")])
    with serve_on_pty(board) as cable:
        done = sprayout("self-test", "--serial", cable.path)
    assert done.returncode == 1
    assert "FAIL  climate chip" in done.stdout
    assert "sht31: no answer at 0x44" in done.stdout
    assert "self-test failed: climate chip" in done.stderr
    assert "Traceback" not in done.stderr


def test_port_without_a_board_is_one_line(tmp_path: Path) -> None:
    missing = sprayout("self-test", "--serial", str(tmp_path / "none"))
    assert (missing.returncode, missing.stdout) == (2, "")
    assert missing.stderr.count("\n") == 1 and "it is not there" in missing.stderr


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--sensor", "ten-band"), "--sensor: got 'ten-band', wanted one of spectral-8, rgb"),
        (("--surface", "the moon"), "surface: got 'the moon', wanted one of"),
    ],
)
def test_emulate_refuses_what_it_does_not_know(words: tuple[str, ...], said: str) -> None:
    done = sprayout("emulate", *words)
    assert done.returncode == 2
    assert said in done.stderr and done.stderr.count("\n") == 1


def test_install_says_how_to_get_what_is_missing(tmp_path: Path) -> None:
    with serve_on_pty(VirtualBoard(SteadySurroundings())) as cable:
        done = sprayout("install", "--serial", cable.path, PATH=str(tmp_path))
    if "pip install mpremote" not in done.stderr:
        pytest.skip("mpremote stands beside this Python")
    assert (done.returncode, done.stdout) == (2, "")


def stand_in(folder: Path, code: int, says: str) -> str:
    """A program named mpremote that writes down how it was called."""
    script = folder / "mpremote"
    script.write_text(
        f'#!/bin/sh\nprintf "%s\\n" "$*" >> {folder}/called\necho "{says}" >&2\nexit {code}\n'
    )
    script.chmod(0o755)
    return f"{folder}{os.pathsep}{os.environ['PATH']}"


@pytest.mark.skipif(
    Path(sys.executable).with_name("mpremote").exists(), reason="a real mpremote would be run"
)
def test_install_copies_every_file_and_resets(tmp_path: Path) -> None:
    path = stand_in(tmp_path, 0, "")
    with serve_on_pty(VirtualBoard(SteadySurroundings())) as cable:
        done = sprayout("install", "--serial", cable.path, PATH=path)
        assert done.returncode == 0, done.stderr
        copied, reset = (tmp_path / "called").read_text().splitlines()
    assert copied.startswith(f"connect {cable.path} fs cp ") and copied.endswith(" :")
    assert [Path(word).name for word in copied.split()[4:-1]] == [p.name for p in board_files()]
    assert reset == f"connect {cable.path} reset"
    assert f"{len(board_files())} files copied" in done.stdout


@pytest.mark.skipif(
    Path(sys.executable).with_name("mpremote").exists(), reason="a real mpremote would be run"
)
def test_install_that_cannot_reach_the_prompt_says_what_to_do(tmp_path: Path) -> None:
    path = stand_in(tmp_path, 1, "could not enter raw repl")
    with serve_on_pty(VirtualBoard(SteadySurroundings())) as cable:
        done = sprayout("install", "--serial", cable.path, PATH=path)
    assert done.returncode == 2
    assert "could not enter raw repl" in done.stderr
    assert "hold its push button while plugging it in" in done.stderr


def test_show_lists_the_files_and_touches_no_board() -> None:
    done = sprayout("install", "--show")
    assert done.stdout.splitlines() == [str(path) for path in board_files()]
