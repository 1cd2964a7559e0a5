"""The board's files: each compiles for the board, and only ``main.py`` knows ``machine``."""

import ast
import subprocess
import sys
from pathlib import Path

import pytest

from sprayout.sim import board_program

FILES = board_program.board_files()


def imported(path: Path) -> set[str]:
    found = set()
    for node in ast.walk(ast.parse(path.read_text())):
        if isinstance(node, ast.Import):
            found |= {name.name for name in node.names}
        elif isinstance(node, ast.ImportFrom):
            found.add(str(node.module))
    return found


@pytest.mark.needs("mpy-cross")
@pytest.mark.parametrize("path", FILES, ids=lambda path: path.name)
def test_file_compiles_for_the_board(path: Path, tmp_path: Path) -> None:
    command = ["mpy-cross", "-o", str(tmp_path / "out.mpy"), str(path)]
    done = subprocess.run(command, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.name)
def test_only_main_touches_the_machine(path: Path) -> None:
    """Everything else gets bus, clock, pins and cable as arguments."""
    hardware = {"machine", "micropython", "time", "select", "network", "socket", "sys", "gc"}
    radio = {"wifi.py": {"network", "time"}, "tcp.py": {"select", "socket"}}
    if path.name != "main.py":
        assert not imported(path) & hardware - radio.get(path.name, set())


def test_board_imports_nothing_that_a_board_lacks() -> None:
    ours = {path.stem for path in FILES}
    built_in = {"json", "binascii", "gc", "machine", "micropython", "select", "sys", "time"}
    built_in |= {"errno", "network", "ntptime", "socket"}  # with a radio
    for path in FILES:
        assert imported(path) <= ours | built_in, path.name


def test_loading_the_program_leaves_other_modules_alone() -> None:
    before = dict(sys.modules)
    first, second = board_program.load(), board_program.load()
    assert first["program"].Program is not second["program"].Program
    assert first["program"].Part is first["parts"].Part
    assert {name for name in sys.modules if name not in before} <= {"json", "binascii"}


def test_traceback_names_the_boards_own_file() -> None:
    with pytest.raises(Exception, match="of must be") as caught:
        board_program.load()["host_requests"].roles_of({"of": 3})
    assert caught.traceback[-1].path.name == "host_requests.py"
