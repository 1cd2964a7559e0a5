"""docs/journal.md names every table and column of the store, with type and reference."""

import re
from contextlib import closing
from pathlib import Path

from sprayout.journal import records as r
from sprayout.journal.store import connect_reading, prepare_store
from sprayout.journal.writer import Writer

DOCS = Path(__file__).resolve().parent.parent / "docs" / "journal.md"
Columns = dict[str, tuple[str, str]]  # column -> type, table it refers to


def documented() -> dict[str, Columns]:
    tables: dict[str, Columns] = {}
    for section in DOCS.read_text(encoding="utf-8").split("\n### ")[1:]:
        rows = re.findall(r"^\| `(\w+)` \| (\w+)[^|]*\| *(?:`(\w+)`)? *\|", section, re.MULTILINE)
        tables[section.split("`")[1]] = {name: (kind, other) for name, kind, other in rows}
    return tables


def built(path: Path) -> dict[str, Columns]:
    prepare_store(path)
    with Writer(path) as writer:
        writer.submit([r.Reading("quay", "probe", "air_temperature", 20.0, "Cel", 1)])
    tables: dict[str, Columns] = {}
    with closing(connect_reading(path)) as connection:
        for _, name, kind, *_ in connection.execute("PRAGMA table_list").fetchall():
            if kind != "table" or name.startswith(("sqlite_", "_sqlite")):
                continue
            links = connection.execute(f"PRAGMA foreign_key_list({name})").fetchall()
            refers = {link[3]: link[2] for link in links}
            columns = connection.execute(f"PRAGMA table_info({name})").fetchall()
            tables[re.sub(r"_1$", "_N", name)] = {
                c[1]: (c[2], refers.get(c[1], "")) for c in columns
            }
    return tables


def test_every_table_and_column_is_documented(tmp_path: Path) -> None:
    found = built(tmp_path / "a.db")
    minute = found["minute_N"]
    assert found.pop("hour_N") == minute == found.pop("day_N")
    assert documented() == found
