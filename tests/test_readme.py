"""The README stays true: its commands, its list of commands, the settings, the folders."""

import re
import subprocess
import sys
from pathlib import Path

import pytest
import typer

from sprayout.cli import COMMANDS, build_app

ROOT = Path(__file__).resolve().parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")


def one_line_helps() -> dict[str, str]:
    """Name and first sentence of every command, from the command line itself."""
    app = build_app()
    group = typer.main.get_command(app)
    return {
        name: " ".join((command.help or "").split("\n\n")[0].split())
        for name, command in group.commands.items()
    }


def test_ci_runs_the_readmes_test_command() -> None:
    script = ROOT / ".ci" / "readme_command.py"
    for name, words in (("demo", "sprayout demo"), ("tests", "pytest")):
        done = subprocess.run(
            [sys.executable, script, name], capture_output=True, text=True, check=True
        )
        assert words in done.stdout and done.stdout.count("\n") == 1
    assert ".ci/readme_command.py tests" in (ROOT / ".ci" / "run").read_text(encoding="utf-8")


def test_the_list_of_commands_is_that_of_the_command_line() -> None:
    block = README.partition("<!-- commands: begin -->")[2].partition("<!-- commands: end -->")[0]
    rows = dict(re.findall(r"^\| `sprayout ([a-z-]+)` \| (.+) \|$", block, flags=re.MULTILINE))
    assert rows == one_line_helps()


def test_every_command_of_the_table_is_registered_by_its_module() -> None:
    assert set(COMMANDS) == set(one_line_helps())


@pytest.mark.parametrize("document", ["README.md", "DEVELOPERS.md", "CHANGELOG.md"])
def test_every_link_leads_to_a_file(document: str) -> None:
    text = (ROOT / document).read_text(encoding="utf-8")
    links = [link for link in re.findall(r"\]\(([^)#]+)", text) if "://" not in link]
    missing = [link for link in links if not (ROOT / link).exists()]
    assert missing == []


def test_developers_md_names_every_room() -> None:
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    rooms = [
        path.name
        for root in ("services", "firmware_host", "simulators")
        for path in (ROOT / root / "sprayout").iterdir()
        if path.is_dir() and path.name != "__pycache__"
    ]
    assert [room for room in rooms if f"`{room}/`" not in text] == []
