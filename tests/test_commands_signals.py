"""Ctrl-C and SIGTERM: the bench ends by itself, quickly, in words, with a sound store."""

import os
import queue
import signal
import subprocess
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from sprayout.safety.cautions import one_line

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="Windows has no such signals")
WAIT_S = 60
START = [sys.executable, "-c", "from sprayout.cli import main; main()"]


@contextmanager
def started(folder: Path, *words: str) -> Iterator[subprocess.Popen[str]]:
    """A command whose page is up and cautions are shown; its temporary files lie in `folder`."""
    paths = os.pathsep.join(sys.path)
    environment = {
        **os.environ,
        "PYTHONPATH": paths,
        "TMPDIR": str(folder),
        "PYTHONUNBUFFERED": "1",
    }
    run = subprocess.Popen(
        [*START, *words], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, env=environment
    )
    lines: queue.Queue[str] = queue.Queue()
    assert run.stdout is not None
    reading = threading.Thread(target=lambda: [lines.put(line) for line in run.stdout or ()])
    reading.start()
    try:
        assert "The bench's page: http://" in lines.get(timeout=WAIT_S)
        while one_line() not in lines.get(timeout=WAIT_S):
            pass
        yield run
    finally:
        run.kill()
        run.wait(WAIT_S)
        reading.join(WAIT_S)
        run.stdout.close()
        if run.stderr is not None:
            run.stderr.close()


def ended(run: subprocess.Popen[str], number: signal.Signals) -> str:
    """What stands on stderr after the signal; the command came to its own end."""
    run.send_signal(number)
    assert run.wait(WAIT_S) == 0
    return run.stderr.read() if run.stderr else ""


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
def test_serve_ends_in_order_and_leaves_a_sound_store(
    tmp_path: Path, number: signal.Signals
) -> None:
    store = tmp_path / "bench.sqlite"
    with started(tmp_path, "serve", "--store", str(store), "--port", "0") as run:
        assert ended(run, number) == ""
    # The last connection was closed in order, so SQLite has put its log away.
    assert [path.name for path in tmp_path.iterdir()] == ["bench.sqlite"]
    paths = os.pathsep.join(sys.path)
    checked = subprocess.run(
        [*START, "check", "--store", str(store)],
        capture_output=True, text=True, env={**os.environ, "PYTHONPATH": paths}, check=False,
    )  # fmt: skip
    assert checked.returncode == 0 and "sound" in checked.stdout


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
def test_demo_ends_in_order_and_clears_its_folder_away(
    tmp_path: Path, number: signal.Signals
) -> None:
    with started(tmp_path, "demo", "--port", "0") as run:
        assert ended(run, number) == ""
    assert list(tmp_path.iterdir()) == []
