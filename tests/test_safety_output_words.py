"""The words that no output may hold: in this room's strings, its tables, and all help texts."""

import ast
import importlib.util
from collections.abc import Iterator
from pathlib import Path

import pytest
import typer
from typer.testing import CliRunner

from sprayout import cli
from sprayout.errors import BadInput
from sprayout.safety.air_request import answer_air
from sprayout.safety.air_words import air_words
from sprayout.safety.tables import rows
from sprayout.safety.wording import FORBIDDEN_WORDS, forbidden_words_in

ROOT = Path(__file__).resolve().parent.parent
SERVICES = ROOT / "services" / "sprayout"
ROOM = [*sorted((SERVICES / "safety").glob("*.py")), SERVICES / "commands" / "air.py"]
#: The guard itself has to spell the words out.
SPELT_OUT = {"wording.py"}
TABLES = ("substances", "limits", "sources", "booth_velocities", "assigned_factors")


def texts_of(source: str) -> Iterator[str]:
    """Every string of a module, pieces of f-strings joined; docstrings too, help comes of them."""
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.JoinedStr):
            pieces = (p.value for p in node.values if isinstance(p, ast.Constant))
            yield " _ ".join(str(piece) for piece in pieces)
        elif isinstance(node, ast.Constant) and isinstance(node.value, str):
            yield node.value


@pytest.mark.parametrize("path", ROOM, ids=lambda p: p.name)
def test_no_string_of_the_room_holds_them(path: Path) -> None:
    if path.name in SPELT_OUT:
        return
    for text in texts_of(path.read_text("utf-8")):
        assert forbidden_words_in(text) == (), text


def test_the_guard_would_see_them() -> None:
    source = "".join(f'a = "it is {word}"\n' for word in FORBIDDEN_WORDS) + 'b = f"so {a} safe"\n'
    assert sum(len(forbidden_words_in(text)) for text in texts_of(source)) >= 4


@pytest.mark.parametrize("name", TABLES)
def test_no_table_holds_them(name: str) -> None:
    for row in rows(name):
        for cell in row.values():
            assert forbidden_words_in(cell) == (), cell


ASKED: list[tuple[str, dict[str, object]]] = [
    ("purge", {"volume_m3": 30, "flow_m3h": 300, "from": 100, "to": 1}),
    ("dilution", {"substance": "MEK", "evaporation_ml_min": 1, "target_ppm": 100}),
    ("build-up", {"volume_m3": 30, "flow_m3h": 0, "generation_l_min": 0.1, "minutes": 9}),
    ("face-velocity", {"flow_m3h": 400, "width_m": 0.5, "height_m": 0.4}),
    ("explosive", {"substance": "toluene", "ml": 10, "volume_m3": 0.1}),
    ("mixture", {"part": ["1/50"]}),
    ("two-box", {"generation_mg_min": 9, "flow_m3_min": 1, "radius_m": 1, "air_speed_m_min": 3}),
    ("cartridge", {"substance": "xylene", "ppm": 50, "rh_pct": 60}),
    ("respirator", {"substance": "toluene", "ppm": 1}),
    *(("substance", {"name": row["key"]}) for row in rows("substances")),
]


@pytest.mark.parametrize("region", ["us", "uk", "eu"])
@pytest.mark.parametrize(("kind", "fields"), ASKED)
def test_no_answer_holds_them(kind: str, fields: dict[str, object], region: str) -> None:
    found = answer_air(kind, {**fields, "region": region})
    assert forbidden_words_in(air_words(found)) == ()
    assert forbidden_words_in(repr(found)) == ()


@pytest.mark.parametrize("wrong", [0, -1, float("nan"), "x", 1e30])
def test_no_error_holds_them(wrong: object) -> None:
    for kind, fields in ASKED[:9]:
        for name in fields:
            try:
                answer_air(kind, {**fields, name: wrong})
            except BadInput as error:
                assert forbidden_words_in(str(error)) == ()


def helps(group: object, path: tuple[str, ...] = ()) -> Iterator[tuple[str, ...]]:
    """The path of every command and group below this one, itself first."""
    yield path
    for name, command in getattr(group, "commands", {}).items():
        yield from helps(command, (*path, name))


def commands_there() -> list[str]:
    """Commands whose module exists in this checkout."""
    there = []
    for name, module in cli.COMMANDS.items():
        if importlib.util.find_spec(f"sprayout.commands.{module}") is not None:
            there.append(name)
    return there


def test_no_help_text_of_any_command_holds_them() -> None:
    app = cli.build_app(commands_there())
    runner = CliRunner(env={"COLUMNS": "400", "TERMINAL_WIDTH": "400"})
    paths = list(helps(typer.main.get_command(app)))
    assert ("air", "purge") in paths
    for path in paths:
        shown = runner.invoke(app, [*path, "--help"])
        assert shown.exit_code == 0, path
        assert forbidden_words_in(shown.stdout) == (), path
