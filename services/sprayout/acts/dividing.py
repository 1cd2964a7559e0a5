"""Parts of a piece: the hull and the deck of one boat, each with a target and coats of its own."""

import asyncio
from collections.abc import Mapping
from dataclasses import replace

from sprayout.acts.bench import Bench
from sprayout.acts.shelf import named
from sprayout.errors import BadInput
from sprayout.journal.records import Part, Piece, Target


class Dividing:
    """The parts on record."""

    def __init__(self, bench: Bench) -> None:
        self._bench = bench
        self._one_at_a_time = asyncio.Lock()

    def piece(self, name: str) -> Piece:
        """Return a piece of this bench by id or name."""
        read, bench = self._bench.reader, self._bench.bench
        piece = read.get(Piece, name)
        if piece is None or piece.bench != bench:
            words = " ".join(name.split())
            piece = next(iter(read.all(Piece, bench=bench, name=words, limit=1)), None)
        if piece is None:
            raise BadInput(f"piece: got {name!r}, wanted one on record; see the list of pieces")
        return piece

    def parts(self, piece: Piece) -> list[Part]:
        """Return the parts of a piece."""
        return self._bench.reader.all(Part, piece=piece.id)

    def part(self, piece: Piece, name: str) -> Part:
        """Return a part of the piece by id or name."""
        words = " ".join(name.split())
        parts = self.parts(piece)
        found = next((p for p in parts if name == p.id or words == p.name), None)
        if found is None:
            known = ", ".join(p.name for p in parts) or "none yet"
            raise BadInput(
                f"part: got {name!r}, wanted a part of {piece.name} ({known}); enter it first"
            )
        return found

    async def set_part(self, piece: str, name: str, given: Mapping[str, str | None]) -> Part:
        """Put a part on record, or change the one of that name; what is not given stays."""
        async with self._one_at_a_time:
            whole, words = self.piece(piece), named(name, "part")
            known = next((p for p in self.parts(whole) if p.name == words), None)
            part = known or Part(
                id=self._bench.new_id("part"), bench=self._bench.bench, piece=whole.id, name=words
            )
            if "target" in given:
                part = replace(part, target=self._target(given["target"]))
            if given.get("note") is not None:
                part = replace(part, note=str(given["note"]).strip())
            await self._bench.commit([part])
            self._bench.tell("state")
            return part

    def _target(self, name: str | None) -> str | None:
        if name is None:
            return None
        read, bench = self._bench.reader, self._bench.bench
        target = read.get(Target, name)
        if target is None or target.bench != bench:
            words = " ".join(name.split())
            named_so = read.all(Target, bench=bench, name=words, newest=True, limit=1)
            target = named_so[0] if named_so else None
        if target is None:
            raise BadInput(f"target: got {name!r}, wanted one on record; set it first")
        return target.id
