"""The shape of the source: one namespace package, imports that point down, words we do not use."""

import ast
import os
import re
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
SOURCES = [ROOT / "services", ROOT / "firmware_host", ROOT / "simulators"]
FILES = sorted(p for root in SOURCES for p in (root / "sprayout").rglob("*.py"))

#: Room -> rooms of sprayout it may import besides itself and `errors` (shared/DESIGN.md, Layout).
ALLOWED = {
    "errors": set(),
    "link": set(),
    "sim": {"link"},
    "colour": set(),
    "climate": set(),
    "mixing": {"colour"},
    "safety": {"climate"},
    "journal": {"colour", "mixing", "climate", "safety"},
    "intake": {"link", "journal", "colour", "mixing", "climate", "safety"},
    "review": {"journal", "colour", "mixing", "climate", "safety"},
    "clock": set(),
    "assets": set(),
    "settings": {"intake", "climate", "safety"},
}
CORE = {"colour", "climate", "mixing", "safety"}
EVERYTHING_BUT_SIM = {
    "link", "colour", "climate", "mixing", "safety", "journal", "intake", "review", "clock",
    "assets", "settings", "bench", "acts",
}  # fmt: skip
ALLOWED["bench"] = EVERYTHING_BUT_SIM - {"bench", "acts", "assets", "settings"}
ALLOWED["acts"] = EVERYTHING_BUT_SIM - {"assets"}
ALLOWED["station"] = EVERYTHING_BUT_SIM
ALLOWED["web"] = EVERYTHING_BUT_SIM | {"station"}
ALLOWED["commands"] = EVERYTHING_BUT_SIM | {"station", "web", "sim", "cli"}
ALLOWED["cli"] = ALLOWED["commands"] | {"commands"}

#: What a core room may import from outside sprayout: values and arithmetic, never I/O or a clock.
PURE_MODULES = {
    "__future__", "bisect", "collections", "csv", "dataclasses", "difflib", "enum", "fractions",
    "functools", "heapq", "importlib", "io", "itertools", "json", "math", "numbers", "numpy", "re",
    "scipy", "statistics", "string", "textwrap", "types", "typing", "html", "operator", "hashlib",
    "contextlib", "unicodedata", "datetime",
}  # fmt: skip


def room(path: Path) -> str:
    part = path.relative_to(next(r for r in SOURCES if path.is_relative_to(r)) / "sprayout").parts
    return part[0].removesuffix(".py")


def imported(path: Path) -> set[str]:
    found: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found.update(alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}: relative import"
            found.add(node.module or "")
            if node.module == "sprayout":
                found.update(f"sprayout.{alias.name}" for alias in node.names)
    return found


@pytest.mark.parametrize("root", SOURCES, ids=lambda r: r.name)
def test_source_roots_share_one_namespace_package(root: Path) -> None:
    assert (root / "sprayout").is_dir()
    assert not (root / "sprayout" / "__init__.py").exists()


def test_the_wheel_is_built_from_those_roots() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    wheel = project["tool"]["hatch"]["build"]["targets"]["wheel"]
    assert sorted(wheel["packages"]) == sorted(f"{r.name}/sprayout" for r in SOURCES)
    assert sorted(wheel["dev-mode-dirs"]) == sorted(r.name for r in SOURCES)


@pytest.mark.parametrize("path", FILES, ids=lambda p: p.relative_to(ROOT).as_posix())
def test_imports_point_down(path: Path) -> None:
    own = room(path)
    used = {m.split(".")[1] for m in imported(path) if m.startswith("sprayout.")}
    assert used - {own, "errors"} <= ALLOWED[own]


@pytest.mark.parametrize(
    "path", [p for p in FILES if room(p) in CORE], ids=lambda p: p.relative_to(ROOT).as_posix()
)
def test_core_rooms_do_no_input_or_output(path: Path) -> None:
    outside = {m.split(".")[0] for m in imported(path)} - {"sprayout"}
    assert outside <= PURE_MODULES
    text = path.read_text(encoding="utf-8")
    assert not re.search(r"\b(open|print|input)\(", text)
    assert not re.search(r"\b(now|today|utcnow)\(\)", text)
    if "importlib" in text:
        assert "importlib.resources" in text or "from importlib import resources" in text


@pytest.mark.parametrize(
    "heavy", ["scipy.stats", "scipy.optimize", "scipy.interpolate", "fpdf", "PIL.Image"]
)
def test_an_idle_bench_does_not_carry_what_it_does_not_need(heavy: str) -> None:
    """Each of these costs tens of megabytes; they are imported where they are used."""
    code = f"import sys, sprayout.commands.running; sys.exit({heavy!r} in sys.modules)"
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)}
    subprocess.run([sys.executable, "-c", code], env=environment, check=True)
