"""The command line of the record: export, import, backup, restore, check, with exit codes."""

import json
from pathlib import Path

import pytest

from sprayout.cli import main
from sprayout.journal import records as r
from sprayout.journal.store import prepare_store
from sprayout.journal.writer import Writer

T0 = 1_788_540_000_000


@pytest.fixture
def store(tmp_path: Path) -> Path:
    path = tmp_path / "club.db"
    prepare_store(path)
    with Writer(path) as writer:
        writer.submit(
            [
                r.Piece(id="van", bench="quay", name="ice van", made_ms=T0),
                r.Reading("quay", "probe", "air_temperature", 20.5, "Cel", T0),
                r.Reading("quay", "probe", "air_temperature", 20.6, "Cel", T0 + 86_400_000),
            ]
        ).result(10)
    return path


class Ran:
    """What a command wrote and how it ended."""

    def __init__(self, capfd: pytest.CaptureFixture[str], *words: object) -> None:
        with pytest.raises(SystemExit) as ended:
            main([str(w) for w in words])
        self.code = ended.value.code
        self.out, self.err = capfd.readouterr()


def test_export_and_import(store: Path, tmp_path: Path, capfd: pytest.CaptureFixture[str]) -> None:
    whole = Ran(capfd, "export", "--store", store)
    assert (whole.code, whole.err) == (0, "")
    assert [json.loads(x)["kind"] for x in whole.out.splitlines()] == [
        "piece",
        "reading",
        "reading",
    ]
    file = tmp_path / "all.jsonl"
    done = Ran(capfd, "export", "--store", store, "--out", file, "--json")
    assert json.loads(done.out) == {"format": "jsonl", "files": {str(file): 3}}
    assert file.read_text() == whole.out
    taken = Ran(capfd, "import", file, "--store", tmp_path / "new.db", "--json")
    assert json.loads(taken.out)["new"] == 3
    assert Ran(capfd, "export", "--store", tmp_path / "new.db").out == whole.out


def test_a_day_of_it_and_a_table_of_it(store: Path, capfd: pytest.CaptureFixture[str]) -> None:
    day = ("--from", "2026-09-05", "--to", "2026-09-06")
    lines = Ran(capfd, "export", "--store", store, *day).out.splitlines()
    assert [json.loads(x)["kind"] for x in lines] == ["piece", "reading"]
    table = Ran(capfd, "export", "--store", store, "--format", "csv", "--kind", "reading", *day)
    assert table.out.splitlines() == [
        "bench,device,channel,value,unit,at",
        "quay,probe,air_temperature,20.6,Cel,2026-09-05T16:40:00.000Z",
    ]


def test_backup_restore_and_check(
    store: Path, tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    copy, again = tmp_path / "copy.db", tmp_path / "again.db"
    assert json.loads(Ran(capfd, "backup", copy, "--store", store, "--json").out)["checked"]
    assert Ran(capfd, "restore", copy, "--store", again).code == 0
    found = Ran(capfd, "check", "--store", again, "--json")
    assert (found.code, json.loads(found.out)["sound"]) == (0, True)


def test_check_ends_with_1_on_a_fault(store: Path, capfd: pytest.CaptureFixture[str]) -> None:
    held = bytearray(store.read_bytes())
    held[8192:8256] = b"\xa5" * 64
    store.write_bytes(held)
    found = Ran(capfd, "check", "--store", store)
    assert found.code == 1
    assert "fault, integrity: " in found.out and "restore the last backup" in found.out


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["export", "--store", "none.db"], "there is no such file"),
        (["export", "--store", "club.db", "--format", "xml"], "wanted one of jsonl, csv, cgats"),
        (["export", "--store", "club.db", "--format", "csv"], "name a folder with --out"),
        (["export", "--store", "club.db", "--from", "noon"], "--from: got 'noon'"),
        (
            ["export", "--store", "club.db", "--from", "2026-09-05", "--to", "2026-09-05"],
            "--to: got",
        ),
        (["export", "--store", "club.db", "--json"], "give --out too"),
        (["import", "none.jsonl", "--store", "club.db"], "cannot be read"),
        (["backup", "club.db", "--store", "club.db"], "choose another name"),
        (["restore", "none.db", "--store", "new.db"], "there is no such file"),
        (["check", "--store", "none.db"], "there is no such file"),
    ],
)
def test_bad_input_is_one_line_and_exit_2(
    store: Path,
    capfd: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
    words: list[str],
    said: str,
) -> None:
    monkeypatch.chdir(store.parent)
    before = {p.name: p.read_bytes() for p in store.parent.iterdir()}
    ran = Ran(capfd, *words)
    assert ran.code == 2 and ran.out == ""
    assert said in ran.err and ran.err.count("\n") == 1
    assert {p.name: p.read_bytes() for p in store.parent.iterdir()} == before
