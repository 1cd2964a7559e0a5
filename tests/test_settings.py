"""Settings: environment over file over default; the first wrong entry is named."""

import re
from pathlib import Path

import pytest

from sprayout.errors import SettingsError
from sprayout.settings import SETTINGS, Setting, override, read_settings


def test_defaults_are_the_tables() -> None:
    in_force = read_settings(environment={})
    assert dict(in_force.values) == {row.name: row.default for row in SETTINGS}


def test_environment_goes_over_file_and_file_over_default(tmp_path: Path) -> None:
    file = tmp_path / "bench.toml"
    file.write_text('bench = "from-file"\nport = 9000\n', encoding="utf-8")
    in_force = read_settings(file, {"SPRAYOUT_BENCH": "from-environment"})
    assert in_force.text("bench") == "from-environment"
    assert in_force.whole("port") == 9000
    assert in_force.text("host") == "127.0.0.1"


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("prot = 1", "unknown setting 'prot'"),
        ('port = "high"', "port is 'high', wanted a whole number"),
        ("port = 70000", "port is 70000, wanted 0 to 65535"),
        ("port = 8000.5", "wanted a whole number"),
        ('region = "moon"', "wanted us or uk or eu"),
        ("port = true", "wanted a whole number"),
        ("tolerance_de00 = nan", "tolerance_de00 is nan"),
        ("foreign = 3", "wanted [[foreign]] tables"),
        ("port = ", "not TOML"),
    ],
)
def test_a_wrong_file_is_refused_by_name(tmp_path: Path, text: str, words: str) -> None:
    file = tmp_path / "bench.toml"
    file.write_text(text, encoding="utf-8")
    with pytest.raises(SettingsError, match=r".+") as refused:
        read_settings(file, {})
    assert words in str(refused.value) and "\n" not in str(refused.value)


def test_a_file_that_is_not_there_is_named(tmp_path: Path) -> None:
    with pytest.raises(SettingsError, match="No such file"):
        read_settings(tmp_path / "none.toml", {})


def test_a_wrong_environment_value_is_named() -> None:
    with pytest.raises(SettingsError, match="SPRAYOUT_PORT: port is 'x'"):
        read_settings(environment={"SPRAYOUT_PORT": "x"})


def test_the_command_line_goes_over_all() -> None:
    in_force = override(read_settings(environment={"SPRAYOUT_PORT": "9000"}), port=0, host=None)
    assert in_force.whole("port") == 0
    with pytest.raises(SettingsError, match="--port"):
        override(in_force, port=-1)


@pytest.mark.parametrize("row", SETTINGS, ids=lambda row: row.name)
def test_every_setting_is_read_by_somebody(row: Setting) -> None:
    """A setting that nothing reads is a promise that is not kept."""
    services = Path(__file__).resolve().parent.parent / "services" / "sprayout"
    reads = re.compile(rf'(?:text|number|whole)\(\s*"{row.name}"|values\["{row.name}"\]')
    others = [path for path in services.rglob("*.py") if path.name != "settings.py"]
    assert any(reads.search(path.read_text(encoding="utf-8")) for path in others)
