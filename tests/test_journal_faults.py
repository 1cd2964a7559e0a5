"""Kill -9, power cut, full disk: what was acknowledged is there and the file is whole.

``SPRAYOUT_FAULT_ROUNDS=300`` makes 300 rounds, as `sprayout benchmark journal` does.
"""

import os
from pathlib import Path

import pytest

from sprayout.commands.benchmarks.journal_faults import full_disk, kill_rounds, power_cut_rounds
from sprayout.errors import BadInput

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


def test_a_full_disk_is_said_and_waited_out(tmp_path: Path) -> None:
    try:
        found = full_disk(tmp_path)
    except BadInput as error:
        pytest.skip(str(error))
    assert found.rounds > 0, "records waited while the disk was full"
    assert (found.lost, found.damaged) == (0, 0)
