"""The airbrushes on record, and the one in hand, which goes on the next coat's record."""

import asyncio
from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from sprayout.acts.bench import Bench
from sprayout.acts.shelf import named
from sprayout.errors import BadInput
from sprayout.journal.records import Airbrush, Coat


class Equipping:
    """A change makes a new record of the same name, so that old coats keep what was set then."""

    def __init__(self, bench: Bench) -> None:
        self.airbrush: Airbrush | None = None
        self._bench = bench
        self._one_at_a_time = asyncio.Lock()

    def take_over(self) -> None:
        """Take in hand what was used or set last."""
        read, bench = self._bench.reader, self._bench.bench
        newest = next(iter(read.all(Airbrush, bench=bench, newest=True, limit=1)), None)
        coats = read.all(Coat, bench=bench, newest=True, limit=1)
        last = coats[0] if coats else None
        used = read.get(Airbrush, last.airbrush) if last and last.airbrush else None
        by_coat = last is not None and newest is not None and last.start_ms > newest.made_ms
        self.airbrush = used if used and by_coat else newest

    def airbrushes(self) -> list[Airbrush]:
        """Return the newest record of each name, the newest first."""
        found: dict[str, Airbrush] = {}
        for made in self._bench.reader.all(Airbrush, bench=self._bench.bench, newest=True):
            found.setdefault(made.name, made)
        return list(found.values())

    def named_airbrush(self, name: str) -> Airbrush:
        """Return an airbrush by id, or the newest of that name."""
        known = self._bench.reader.get(Airbrush, name)
        if known is not None and known.bench == self._bench.bench:
            return known
        words = " ".join(name.split())
        found = next((a for a in self.airbrushes() if a.name == words), None)
        if found is None:
            raise BadInput(f"airbrush: got {name!r}, wanted one on record; enter it first")
        return found

    async def set_airbrush(self, name: str, given: Mapping[str, Any]) -> Airbrush:
        """Put an airbrush as it is set now on record; what is not given stays as it was."""
        async with self._one_at_a_time:
            words = named(name, "airbrush")
            before = next((a for a in self.airbrushes() if a.name == words), None)
            return await self._keep(before or self._new(words), given)

    async def cleaned(self, name: str) -> Airbrush:
        """Put on record that it was cleaned now."""
        async with self._one_at_a_time:
            known = self.named_airbrush(name)
            newest = next(a for a in self.airbrushes() if a.name == known.name)
            return await self._keep(newest, {"cleaned_ms": self._bench.now_ms()})

    def choose(self, name: str) -> Airbrush:
        """Take an airbrush in hand."""
        self.airbrush = self.named_airbrush(name)
        self._bench.tell("state")
        return self.airbrush

    def _new(self, name: str) -> Airbrush:
        return Airbrush(id="", bench=self._bench.bench, name=name, made_ms=0)

    async def _keep(self, before: Airbrush, given: Mapping[str, Any]) -> Airbrush:
        now_ms = self._bench.now_ms()
        cleaned_ms = given.get("cleaned_ms")
        if cleaned_ms is not None and cleaned_ms > now_ms:
            raise BadInput("cleaned: got a time to come, wanted when it was cleaned last")
        made = replace(before, id=self._bench.new_id("airbrush"), made_ms=now_ms, **given)
        await self._bench.commit([made])
        self.airbrush = made
        self._bench.tell("state")
        return made
