"""``sprayout export``: the record, or a stretch of it, in a form that other programs read."""

from __future__ import annotations

import json
import sqlite3
import sys
from collections.abc import Generator, Iterable, Iterator
from contextlib import closing
from pathlib import Path
from typing import Annotated

import typer

from sprayout.errors import BadInput, StoreError
from sprayout.journal.cgats import cgats_text
from sprayout.journal.interchange import END_MS, Range, export_lines, parse_when
from sprayout.journal.spreadsheet import sheets
from sprayout.journal.store import connect_reading, look_at_store, translated

FORMATS = ("jsonl", "csv", "cgats")


def export(
    store: Path, chosen: Range, form: str, out: Path | None, kind: str | None
) -> dict[str, object]:
    """Write what is chosen; returns what was written where."""
    if form not in FORMATS:
        raise BadInput(f"--format: got {form!r}, wanted one of {', '.join(FORMATS)}")
    look_at_store(store)
    try:
        with closing(connect_reading(store)) as connection:
            if form == "csv":
                return _export_csv(connection, chosen, out, kind)
            lines = (
                export_lines(connection, chosen)
                if form == "jsonl"
                else cgats_text(connection, chosen)
            )
            return {"format": form, "files": {str(out or "-"): _write(lines, out)}}
    except sqlite3.Error as error:
        raise translated(error, store) from error


def _export_csv(
    connection: sqlite3.Connection, chosen: Range, out: Path | None, kind: str | None
) -> dict[str, object]:
    if out is None and kind is None:
        raise BadInput(
            "--format csv: there is one table a kind; name a folder with --out, or one --kind"
        )
    if out is not None:
        out.mkdir(exist_ok=True)
    files: dict[str, int] = {}
    for sheet in sheets(connection, chosen):
        if kind in (None, sheet.name):
            to = None if out is None else out / f"{sheet.name}.csv"
            files[str(to or "-")] = _write(sheet.lines, to)
    return {"format": "csv", "files": files}


def _write(lines: Generator[str], out: Path | None) -> int:
    """To stdout, or to a file that has its name only once it is whole; returns the line count."""
    counted = _Counted(lines)
    with closing(lines):
        if out is None:
            sys.stdout.buffer.writelines(line.encode() for line in counted)
            sys.stdout.buffer.flush()
        else:
            _write_file(counted, out)
    return counted.n


def _write_file(lines: Iterable[str], out: Path) -> None:
    new = out.with_name(out.name + ".new")
    try:
        with new.open("wb") as file:
            file.writelines(line.encode() for line in lines)
        new.replace(out)
    except OSError as error:
        new.unlink(missing_ok=True)
        raise StoreError(f"export {out}: cannot be written ({error.strerror})") from error


class _Counted:
    """Lines that are counted while they pass."""

    def __init__(self, lines: Iterable[str]) -> None:
        self._lines = lines
        self.n = 0

    def __iter__(self) -> Iterator[str]:
        for line in self._lines:
            self.n += 1
            yield line


def register(app: typer.Typer) -> None:
    """Add ``export`` to the command line."""

    @app.command("export")
    def export_command(
        store: Annotated[Path, typer.Option(help="The store to read.")],
        from_: Annotated[str | None, typer.Option("--from", help="First time or date.")] = None,
        to: Annotated[str | None, typer.Option("--to", help="Time or date to stop before.")] = None,
        form: Annotated[str, typer.Option("--format", help="jsonl, csv or cgats.")] = "jsonl",
        bench: Annotated[str | None, typer.Option(help="One bench only.")] = None,
        kind: Annotated[str | None, typer.Option(help="With csv: one table only.")] = None,
        out: Annotated[Path | None, typer.Option(help="File to write; with csv a folder.")] = None,
        as_json: Annotated[bool, typer.Option("--json", help="With --out: what was written.")] = (
            False
        ),
    ) -> None:
        """Write records as JSON lines (all of them), CSV tables or CGATS.17 colour data."""
        if as_json and out is None:
            raise BadInput("--json: says what was written, and stdout holds that; give --out too")
        from_ms = 0 if from_ is None else parse_when(from_, "--from")
        to_ms = END_MS if to is None else parse_when(to, "--to")
        if to_ms <= from_ms:
            raise BadInput(f"--to: got {to}, wanted a time after --from {from_}")
        done = export(store, Range(from_ms, to_ms, bench), form, out, kind)
        if as_json:
            typer.echo(json.dumps(done))
