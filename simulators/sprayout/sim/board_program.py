"""The board's own program, loaded under CPython without touching anybody's modules.

The program is flat files that import each other by bare names (``frames``, ``parts``…).  Each
``load`` gives a fresh set of module objects in a room of their own: several boards can live in
one process, and ``sys.modules`` stays as it was.
"""

import builtins
import linecache
from collections.abc import Mapping, Sequence
from functools import cache
from importlib import resources
from pathlib import Path
from types import CodeType, ModuleType
from typing import Any

from sprayout.errors import BadInput

_IN_CHECKOUT = Path(__file__).resolve().parents[3] / "firmware_host" / "board"


def board_folder() -> Path:
    """Where the board's files lie: in the wheel, else in the checkout."""
    shipped = Path(str(resources.files("sprayout.sim"))).parent / "_board"
    for folder in (shipped, _IN_CHECKOUT):
        if (folder / "main.py").is_file():
            return folder
    raise BadInput(
        f"board program: not found in {shipped} nor {_IN_CHECKOUT}; install sprayout again"
    )


def board_files() -> list[Path]:
    """The files that go onto a board, in the order of their names."""
    return sorted(board_folder().glob("*.py"))


@cache
def _compiled(path: Path) -> CodeType:
    linecache.checkcache(str(path))
    return compile(path.read_text(encoding="utf-8"), str(path), "exec")


class BoardModules:
    """One private set of the board's modules; ``modules["program"]`` imports on first use."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._loaded: dict[str, ModuleType] = {}
        self._builtins = {**vars(builtins), "__import__": self._import}

    def __getitem__(self, name: str) -> ModuleType:
        if name not in self._loaded:
            path = self._folder / f"{name}.py"
            module = ModuleType(name)
            module.__file__ = str(path)
            vars(module)["__builtins__"] = self._builtins
            self._loaded[name] = module
            exec(_compiled(path), vars(module))
        return self._loaded[name]

    def _import(
        self,
        name: str,
        names: Mapping[str, object] | None = None,
        local: Mapping[str, object] | None = None,
        wanted: Sequence[str] = (),
        level: int = 0,
    ) -> Any:
        if level == 0 and (self._folder / f"{name}.py").is_file():
            return self[name]
        return builtins.__import__(name, names, local, wanted, level)


def load() -> BoardModules:
    """A fresh set of the board's modules."""
    return BoardModules(board_folder())
