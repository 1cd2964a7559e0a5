"""The published figures shipped with the package, read once: the room's only look outside."""

import csv
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache
from importlib.resources import files


@dataclass(frozen=True, slots=True)
class Source:
    """Where a figure comes from, its address, and how it reached us.

    ``mark`` is ``read``, ``part`` (part read, rest from memory), ``memory``, ``derived`` or
    ``choice``.
    """

    key: str
    title: str
    address: str
    mark: str


@cache
def rows(name: str) -> tuple[dict[str, str], ...]:
    """The rows of ``data/<name>.csv``, comment lines left out."""
    text = files("sprayout.safety").joinpath("data", f"{name}.csv").read_text("utf-8")
    return tuple(csv.DictReader(line for line in text.splitlines() if not line.startswith("#")))


@cache
def source(key: str) -> Source:
    """The source of that key; an unknown key is a fault of ours (``KeyError``)."""
    for row in rows("sources"):
        if row["key"] == key:
            return Source(row["key"], row["title"], row["address"], row["mark"])
    raise KeyError(key)


def sources(keys: Iterable[str]) -> tuple[Source, ...]:
    """The sources of those keys, each once, in the order given."""
    return tuple(source(key) for key in dict.fromkeys(keys))


def number(text: str) -> float | None:
    """A table's cell as a number; ``None`` where it is empty."""
    return float(text) if text else None
