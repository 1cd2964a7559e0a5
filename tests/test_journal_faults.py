"""Kill -9, power cut, full disk: what was acknowledged is there and the file is whole.

``SPRAYOUT_FAULT_ROUNDS=300`` makes 300 rounds, as `sprayout benchmark journal` does.
"""

import json
import os
from contextlib import closing
from pathlib import Path

import pytest

from sprayout.commands.benchmarks.journal_faults import (
    full_disk,
    kill_rounds,
    power_cut_rounds,
    second_of_readings,
    small_disk,
)
from sprayout.errors import BadInput, StoreError
from sprayout.journal.importing import import_file
from sprayout.journal.interchange import Range, export_lines
from sprayout.journal.records_json import to_json
from sprayout.journal.schema import VERSION
from sprayout.journal.store import connect_reading, prepare_store

ROUNDS = int(os.environ.get("SPRAYOUT_FAULT_ROUNDS", "6"))


@pytest.mark.skipif(os.name != "posix", reason="needs SIGKILL")
def test_a_killed_writer_loses_nothing_it_acknowledged(tmp_path: Path) -> None:
    found = kill_rounds(tmp_path, ROUNDS, seed=8)
    assert (found.lost, found.damaged) == (0, 0)
    assert found.acknowledged > ROUNDS


def test_a_power_cut_loses_nothing_it_acknowledged(tmp_path: Path) -> None:
    found = power_cut_rounds(tmp_path, 4 * ROUNDS, seed=8)
    assert (found.lost, found.damaged) == (0, 0)
    assert found.acknowledged > ROUNDS


def test_an_import_that_fills_the_disk_changes_nothing(tmp_path: Path) -> None:
    file = tmp_path / "much.jsonl"
    readings = (x for number in range(50) for x in second_of_readings(number))
    file.write_text("".join(json.dumps(to_json(x)) + "\n" for x in readings))
    try:
        with small_disk(tmp_path, 512) as disk:
            path = disk / "a.db"
            prepare_store(path)
            with pytest.raises(StoreError, match="disk is full"):
                import_file(path, file)
            with closing(connect_reading(path)) as connection:
                assert list(export_lines(connection, Range())) == []
            assert prepare_store(path).version == VERSION
    except BadInput as error:
        pytest.skip(str(error))


def test_a_full_disk_is_said_and_waited_out(tmp_path: Path) -> None:
    try:
        found = full_disk(tmp_path)
    except BadInput as error:
        pytest.skip(str(error))
    assert found.rounds > 0, "records waited while the disk was full"
    assert (found.lost, found.damaged) == (0, 0)
