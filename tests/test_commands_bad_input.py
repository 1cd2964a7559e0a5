"""The command line on bad input: exit 2, one line on stderr, no traceback, nothing changed."""

import importlib
import inspect
import os
import socket
import sqlite3
import subprocess
import sys
from pathlib import Path

import pytest

from sprayout.commands.benchmark import NAMES, SEEDED


def sprayout(*words: str, timeout: float = 60) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-c", "from sprayout.cli import main; main()", *words]
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)}
    return subprocess.run(
        command, capture_output=True, text=True, env=environment, timeout=timeout, check=False
    )


def refused(done: subprocess.CompletedProcess[str], words: str) -> None:
    assert done.returncode == 2, done.stderr
    assert done.stdout == ""
    assert done.stderr.count("\n") == 1 and "Traceback" not in done.stderr
    assert words in done.stderr


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (("--serial", "/dev/no-such-board"), "/dev/no-such-board"),
        (("--mqtt", "http://broker"), "mqtt://host:port"),
        (("--mqtt", "mqtt://broker:port"), "port"),
        (("--port", "99999"), "port is 99999"),
        (("--settings", "/no/settings.toml"), "settings.toml"),
        (("--host", ""), "got no host"),
        (("--host", "no.such.host.invalid"), "wanted an address of this machine"),
    ],
)
def test_serve_refuses_before_it_writes(
    tmp_path: Path, options: tuple[str, ...], words: str
) -> None:
    store = tmp_path / "bench.sqlite"
    refused(sprayout("serve", "--store", str(store), *options), words)
    assert list(tmp_path.iterdir()) == []


def test_serve_refuses_a_bench_that_cannot_stand_in_a_topic(tmp_path: Path) -> None:
    (tmp_path / "settings.toml").write_text('bench = "quay/one"\n', encoding="utf-8")
    store = tmp_path / "bench.sqlite"
    refused(
        sprayout("serve", "--store", str(store), "--settings", str(tmp_path / "settings.toml")),
        "'quay/one': wanted a name without /",
    )
    assert not store.exists()


def test_serve_names_a_port_in_use(tmp_path: Path) -> None:
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = taken.getsockname()[1]
        done = sprayout("serve", "--store", str(tmp_path / "bench.sqlite"), "--port", str(port))
    refused(done, f"127.0.0.1:{port} cannot be opened")
    assert list(tmp_path.iterdir()) == []


def test_serve_leaves_a_store_that_is_not_ours_as_it_is(tmp_path: Path) -> None:
    store = tmp_path / "recipes.sqlite"
    with sqlite3.connect(store) as other:
        other.execute("create table soup (name text)")
    other.close()
    before = store.read_bytes()
    refused(sprayout("serve", "--store", str(store), "--port", "0"), "recipes.sqlite")
    assert store.read_bytes() == before


def test_serve_refuses_a_file_that_is_no_database(tmp_path: Path) -> None:
    store = tmp_path / "notes.txt"
    store.write_text("drops: " + "blue " * 500, encoding="utf-8")
    before = store.read_bytes()
    refused(sprayout("serve", "--store", str(store), "--port", "0"), "notes.txt")
    assert store.read_bytes() == before


@pytest.mark.parametrize(
    ("words", "named"),
    [
        (("demo", "--speed", "0"), "--speed: got 0"),
        (("demo", "--for", "-1"), "--for: got -1"),
        (("demo", "--speed", "1000"), "--speed: got 1000, wanted 0.1 to 600"),
        (("demo", "--speed", "fast"), "speed"),
        (("frobnicate",), "frobnicate"),
        (("benchmark", "nothing"), "'nothing'"),
        (("benchmark", "review", "--first-seed", "7"), "--first-seed: review takes none"),
    ],
)
def test_commands_name_what_is_wrong(words: tuple[str, ...], named: str) -> None:
    refused(sprayout(*words), named)


def test_the_benchmarks_that_take_other_seeds_are_those_named() -> None:
    modules = {n: importlib.import_module(f"sprayout.commands.benchmarks.{n}") for n in NAMES}
    takes = {n for n, m in modules.items() if "first_seed" in inspect.signature(m.run).parameters}
    assert takes == set(SEEDED)
