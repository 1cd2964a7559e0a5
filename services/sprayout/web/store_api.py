"""The store itself over HTTP: how it does, is it whole, every flag there was, and a way out."""

import shutil
import sqlite3
from collections.abc import Generator, Iterator
from contextlib import closing
from dataclasses import asdict
from pathlib import Path
from tempfile import SpooledTemporaryFile
from typing import Annotated, Any, Literal

from fastapi import APIRouter, Query
from fastapi.responses import StreamingResponse

from sprayout.errors import BadInput, StoreError
from sprayout.journal.cgats import cgats_text
from sprayout.journal.check import check
from sprayout.journal.interchange import END_MS, Range, export_lines, parse_when
from sprayout.journal.records_json import KINDS, to_json
from sprayout.journal.spreadsheet import sheets
from sprayout.journal.store import connect_reading, look_at_store, translated
from sprayout.station import Station

Json = dict[str, Any]
Form = Literal["jsonl", "csv", "cgats"]
MEDIA = {
    "jsonl": "application/jsonl",
    "csv": "text/csv; charset=utf-8",
    "cgats": "text/plain; charset=utf-8",
}
IN_MEMORY_BYTES = 4_000_000
PIECE_BYTES = 65_536
Spool = SpooledTemporaryFile[bytes]
ENDING = {"jsonl": "jsonl", "csv": "csv", "cgats": "txt"}


def router(station: Station) -> APIRouter:
    """Return the routes."""
    routes = APIRouter(prefix="/api", tags=["record"])
    _flags(routes, station)
    _ways_out(routes, station)
    _health(routes, station)
    return routes


def _flags(routes: APIRouter, station: Station) -> None:
    @routes.get("/flags")
    def flags(
        start: Annotated[str | None, Query(alias="from")] = None,
        end: Annotated[str | None, Query(alias="to")] = None,
        coat: Annotated[str | None, Query(max_length=200)] = None,
        limit: Annotated[int, Query(ge=1, le=1000)] = 200,
    ) -> list[Json]:
        """Return the flags that stood in a stretch, newest first, with who read them and when."""
        chosen = _range(start, end)
        found = station.reader.flags(
            station.bench, chosen.from_ms, chosen.to_ms, coat=coat, limit=limit
        )
        return [to_json(flag) for flag in found]


def _ways_out(routes: APIRouter, station: Station) -> None:
    @routes.get("/export", response_class=StreamingResponse)
    def export(
        form: Annotated[Form, Query(alias="format")] = "jsonl",
        start: Annotated[str | None, Query(alias="from")] = None,
        end: Annotated[str | None, Query(alias="to")] = None,
        kind: Annotated[str | None, Query(max_length=40)] = None,
    ) -> StreamingResponse:
        """Return the record, or a stretch of it, as `sprayout export` writes it."""
        if (form == "csv") != (kind is not None):
            raise BadInput("kind: wanted with csv, which is one table a kind, and with csv alone")
        if kind is not None and kind not in KINDS:
            raise BadInput(f"kind: got {kind!r}, wanted one of {', '.join(KINDS)}")
        whole = _whole(station.reader.path, form, _range(start, end), kind)
        headers = {
            "Content-Disposition": f'attachment; filename="{kind or "record"}.{ENDING[form]}"',
            "Content-Length": str(whole.tell()),
        }
        return StreamingResponse(_pieces(whole), media_type=MEDIA[form], headers=headers)


def _range(start: str | None, end: str | None) -> Range:
    from_ms = 0 if start is None else parse_when(start, "from")
    to_ms = END_MS if end is None else parse_when(end, "to")
    if to_ms <= from_ms:
        raise BadInput(f"to: got {end}, wanted a time after from {start}")
    return Range(from_ms, to_ms)


def _whole(path: Path, form: Form, chosen: Range, kind: str | None) -> Spool:
    """Write all of it down before a word is sent: half a record must not look like a whole one.

    Nor does a slow reader keep the store's read transaction open.
    """
    whole = Spool(IN_MEMORY_BYTES)
    try:
        with (
            closing(connect_reading(path)) as connection,
            closing(_lines(connection, form, chosen, kind)) as lines,
        ):
            whole.writelines(line.encode() for line in lines)
    except sqlite3.Error as error:
        whole.close()
        raise translated(error, path) from error
    except OSError as error:
        whole.close()
        raise StoreError(f"export: cannot be prepared ({error.strerror}); free space") from error
    return whole


def _lines(
    connection: sqlite3.Connection, form: Form, chosen: Range, kind: str | None
) -> Generator[str]:
    if form == "jsonl":
        yield from export_lines(connection, chosen)
    elif form == "cgats":
        yield from cgats_text(connection, chosen)
    else:
        for sheet in sheets(connection, chosen):
            if sheet.name == kind:
                yield from sheet.lines


def _pieces(whole: Spool) -> Iterator[bytes]:
    with whole:
        whole.seek(0)
        while piece := whole.read(PIECE_BYTES):
            yield piece


def _health(routes: APIRouter, station: Station) -> None:
    path = station.reader.path

    @routes.get("/store")
    def store() -> Json:
        """Return where the record lies, how large it is and whether it can be written."""
        found, state = look_at_store(path), station.writer.state
        return {
            "file": path.name,
            "version": found.version,
            "bytes": path.stat().st_size,
            "free_bytes": shutil.disk_usage(path.parent).free,
            "writable": state.writable,
            "waiting": state.waiting,
            "words": state.words,
            "warnings": list(found.warnings),
        }

    @routes.get("/store/check")
    def check_store() -> Json:
        """Check the store as `sprayout check` does; it takes seconds on a long one."""
        try:
            with closing(connect_reading(path)) as connection:
                found = check(connection, station.now_ms())
        except sqlite3.Error as error:
            raise translated(error, path) from error
        return {
            "sound": not any(n.level == "fault" for n in found),
            "found": [asdict(n) for n in found],
        }
