"""The smaller commands of the climate room: probe-check and recoat."""

import json
from pathlib import Path

import pytest
import typer
from typer.testing import CliRunner

from sprayout.climate.probe_json import correction_to_json, parse_correction, parse_salt_points
from sprayout.climate.salts import SaltPoint, correction
from sprayout.commands import probe_check, recoat
from sprayout.errors import BadInput
from sprayout.journal.reader import Reader
from sprayout.journal.records import ProbeCheck, Reading
from sprayout.journal.store import prepare_store
from sprayout.journal.writer import Writer
from sprayout.safety.cautions import forbidden_words_in

LIMITS = {
    "name": "quay-crane ochre",
    "dries_by": "cure",
    "flash_off_min": 10,
    "recoat_from_h": 0.25,
    "wrinkle_from_h": 1,
    "wrinkle_to_h": 48,
}


def invoke(arguments: list[str]):
    app = typer.Typer()
    app.callback()(lambda: None)
    probe_check.register(app)
    recoat.register(app)
    return CliRunner().invoke(app, arguments)


def test_probe_check_prints_what_can_be_stored() -> None:
    result = invoke(["probe-check", "--probe", "bench", "--point", "NaCl=77.5@20/240", "--json"])
    printed = json.loads(result.stdout)
    assert printed["kind"] == "probe_correction"
    assert printed["offset_pct"] == pytest.approx(75.48 - 77.5, abs=0.01)
    assert parse_correction(printed).apply(77.5) == pytest.approx(75.48, abs=0.01)


def test_probe_check_in_words() -> None:
    arguments = ["probe-check", "--point", "table salt=77.5@20/240", "--point", "MgCl2=34@20/240"]
    words = invoke(arguments).stdout
    assert "NaCl at 20 °C stands at 75.5 ± 0.1 %RH (Greenspan 1977)" in words
    assert "true %RH =" in words


def test_correction_round_trips() -> None:
    found = correction("bench", [SaltPoint("NaCl", 20.0, 77.0, 90.0)], 1_000)
    assert parse_correction(json.loads(json.dumps(correction_to_json(found)))) == found


@pytest.mark.parametrize(
    ("point", "named"),
    [
        ("NaCl", "wanted SALT=READ@T/MINUTES"),
        ("NaCl=77@20", "wanted SALT=READ@T/MINUTES"),
        ("NaCl=wet@20/240", "read_pct: got 'wet'"),
        ("sugar=77@20/240", "salt: got 'sugar'"),
    ],
)
def test_bad_points_are_refused(point: str, named: str) -> None:
    result = invoke(["probe-check", "--point", point])
    assert isinstance(result.exception, BadInput)
    assert named in str(result.exception)


@pytest.fixture
def store(tmp_path: Path) -> Path:
    """A store that has heard of one humidity probe."""
    path = tmp_path / "club.db"
    prepare_store(path)
    with Writer(path) as writer:
        writer.submit([Reading("quay", "loft", "relative_humidity", 60.0, "%RH", 1_000)])
    return path


POINT = ("--point", "NaCl=78.96@20/240")


def test_a_check_is_put_on_record_and_listed(store: Path) -> None:
    named = ("--probe", "loft", "--person", " Ida  K. ")
    kept = invoke(["probe-check", "--store", str(store), *named, *POINT, "--json"])
    assert json.loads(kept.stdout)["kind"] == "probe-check"
    with Reader(store) as reader:
        (check,) = reader.all(ProbeCheck)
    assert (check.bench, check.device, check.person) == ("quay", "loft", "Ida K.")
    assert check.offset_pct == pytest.approx(-3.48, abs=0.02)
    listed = invoke(["probe-check", "--store", str(store)]).stdout
    assert "quay: loft: -3.5 %RH at 50 %RH" in listed and "checked today" in listed
    rows = json.loads(invoke(["probe-check", "--store", str(store), "--json"]).stdout)["checks"]
    assert rows[0]["id"] == check.id and rows[0]["due"] is False


@pytest.mark.parametrize(
    ("arguments", "named"),
    [
        ([], "got no --point"),
        (["--store", "STORE", "--probe", "attic", *POINT], "wanted a probe on record: loft (quay)"),
        (["--store", "STORE", "--probe", "loft", "--bench", "x", *POINT], "a probe on record"),
        (["--store", "STORE", "--probe", "loft", "--person", " ", *POINT], "enter your name"),
        (["--store", "/nowhere/x.db", "--probe", "loft", *POINT], "/nowhere/x.db"),
    ],
)
def test_checks_that_cannot_be_kept_are_refused(
    store: Path, arguments: list[str], named: str
) -> None:
    given = [str(store) if word == "STORE" else word for word in arguments]
    result = invoke(["probe-check", *given])
    assert result.exception is not None and named in str(result.exception)
    with Reader(store) as reader:
        assert reader.all(ProbeCheck) == []


@pytest.mark.parametrize("values", ["NaCl", [{"salt": "NaCl"}], [3]])
def test_bad_point_lists_are_refused(values: object) -> None:
    with pytest.raises(BadInput, match="point"):
        parse_salt_points(values)


def test_a_broken_stored_correction_is_refused() -> None:
    with pytest.raises(BadInput, match="probe correction"):
        parse_correction({"probe": "bench"})


@pytest.fixture
def limits(tmp_path: Path) -> str:
    path = tmp_path / "limits.json"
    path.write_text(json.dumps(LIMITS), encoding="utf-8")
    return str(path)


def test_recoat_tells_the_stage(limits: str) -> None:
    common = ["recoat", "--limits", limits, "--air-c", "23", "--rh-pct", "50", "--json"]
    stages = [
        json.loads(invoke([*common, "--minutes", m]).stdout)["coat"]["stage"]
        for m in ("5", "12", "30", "120", "3000")
    ]
    assert stages == ["wet", "early", "recoat", "wrinkle", "hard"]


def test_recoat_in_words_with_cautions(limits: str) -> None:
    arguments = ["recoat", "--limits", limits, "--minutes", "120", "--reducer", "toluene=1"]
    words = invoke([*arguments, "--air-c", "18", "--rh-pct", "50"]).stdout
    assert "wrinkle window" in words
    assert "respirator" in words.lower()
    assert forbidden_words_in(words) == ()


def test_recoat_without_air_is_unknown(limits: str) -> None:
    result = invoke(["recoat", "--limits", limits, "--minutes", "90", "--json"])
    answer = json.loads(result.stdout)
    assert answer["coat"]["stage"] == "unknown"
    assert answer["pace"] is None


@pytest.mark.parametrize(
    ("text", "named"),
    [("{", "is not JSON"), ("[]", "holds no object"), ('{"name": "x"}', "dries_by is missing")],
)
def test_bad_limits_files_are_refused(tmp_path: Path, text: str, named: str) -> None:
    path = tmp_path / "limits.json"
    path.write_text(text, encoding="utf-8")
    result = invoke(["recoat", "--limits", str(path), "--minutes", "1"])
    assert isinstance(result.exception, BadInput)
    assert named in str(result.exception)


@pytest.mark.parametrize(
    ("extra", "named"),
    [(["--air-c", "20"], "got half of it"), (["--minutes", "-5"], "minutes: got -5")],
)
def test_bad_recoat_requests_are_refused(limits: str, extra: list[str], named: str) -> None:
    result = invoke(["recoat", "--limits", limits, "--minutes", "1", *extra])
    assert isinstance(result.exception, BadInput)
    assert named in str(result.exception)


def test_a_missing_limits_file_is_refused(tmp_path: Path) -> None:
    result = invoke(["recoat", "--limits", str(tmp_path / "none.json"), "--minutes", "1"])
    assert isinstance(result.exception, BadInput)
    assert "cannot read" in str(result.exception)
