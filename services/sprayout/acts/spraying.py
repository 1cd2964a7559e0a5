"""Coats from start to end, and the cautions a person reads before the first of an evening."""

import asyncio
from collections.abc import Callable, Coroutine
from dataclasses import replace

from sprayout.acts.bench import Bench
from sprayout.acts.dividing import Dividing
from sprayout.acts.equipping import Equipping
from sprayout.acts.matching import Matching
from sprayout.acts.ventilating import Ventilating
from sprayout.bench.evening import evening_of
from sprayout.bench.film_watch import part_of
from sprayout.climate.part_temperature import surface_named
from sprayout.errors import BadInput
from sprayout.journal.reader import CoatOnRecord
from sprayout.journal.records import (
    Airbrush,
    CautionsAcknowledged,
    Coat,
    Json,
    Piece,
    Record,
)
from sprayout.safety import cautions

OnEnd = Callable[[Coat], Coroutine[object, object, None]]
"""Told of a coat that has ended, once it is on record."""

COATS_SHOWN = 50
#: The fan is wanted on for so long after a coat, until the drying vapour is gone
#: (29 CFR 1910.107(d)(2); the time is common practice, no source).
FAN_AFTER_COAT_MS = 30 * 60_000
COAT_KINDS = ("tack coat", "wet coat", "clear coat", "primer coat")


class Spraying:
    """The coat that is running, those on record, and who has read the cautions tonight."""

    def __init__(
        self,
        bench: Bench,
        matching: Matching,
        ventilating: Ventilating,
        equipping: Equipping,
        dividing: Dividing,
        on_end: OnEnd,
    ) -> None:
        self.running: Coat | None = None
        self.coats: list[CoatOnRecord] = []
        self.acknowledged: CautionsAcknowledged | None = None
        self.piece: Piece | None = None
        self._bench = bench
        self._matching = matching
        self._ventilating = ventilating
        self._equipping = equipping
        self._dividing = dividing
        self._on_end = on_end
        # Two tablets, or a double tap, must not start two coats.
        self._one_at_a_time = asyncio.Lock()

    def take_over(self) -> None:
        """Go on with a coat that was running when the last run ended."""
        self.refresh()
        running = [entry.coat for entry in self.coats if entry.coat.end_ms is None]
        self.running = running[0] if running else None
        self.piece = self.coats[0].piece if self.coats else None
        signed = self._bench.reader.all(
            CautionsAcknowledged, bench=self._bench.bench, evening=self._tonight(), newest=True
        )
        self.acknowledged = signed[0] if signed else None

    def refresh(self) -> None:
        """Read the list of coats anew."""
        self.coats = self._bench.reader.coats(self._bench.bench, limit=COATS_SHOWN)

    def _tonight(self) -> str:
        return evening_of(self._bench.now_ms())

    def acknowledged_tonight(self) -> CautionsAcknowledged | None:
        """Return who has read the cautions this evening; yesterday's reading does not count."""
        signed = self.acknowledged
        return signed if signed is not None and signed.evening == self._tonight() else None

    def last_ended(self) -> Coat | None:
        """Return the coat that ended last."""
        ended = [entry.coat for entry in self.coats if entry.coat.end_ms is not None]
        return max(ended, key=lambda coat: coat.end_ms or 0, default=None)

    def fan_wanted(self) -> bool:
        """Return whether the fan should run: a coat is being sprayed or is still drying."""
        if self.running is not None:
            return True
        ended = [entry.coat.end_ms for entry in self.coats if entry.coat.end_ms is not None]
        return bool(ended) and self._bench.now_ms() - max(ended) < FAN_AFTER_COAT_MS

    async def acknowledge_cautions(self, person: str) -> CautionsAcknowledged:
        """Put on record that a named person has read tonight's cautions."""
        region = self._bench.settings.text("region")
        signed = CautionsAcknowledged(
            id=self._bench.new_id("cautions"),
            bench=self._bench.bench,
            evening=self._tonight(),
            person=named_person(person),
            at_ms=self._bench.now_ms(),
            cautions=tuple(caution.key for caution in cautions.for_spraying(region)),
        )
        await self._bench.commit([signed])
        self.acknowledged = signed
        self._bench.tell("state")
        return signed

    async def choose_piece(
        self,
        name: str,
        metal: str | None = None,
        metal_mm: float | None = None,
        surface: str | None = None,
    ) -> Piece:
        """Take a piece in hand, so that its metal counts for the film; new ones go on record.

        ``surface`` is what an infrared thermometer sees of it.
        """
        if surface is not None:
            surface = surface_named(surface)
        async with self._one_at_a_time:
            piece, new = self._piece(name)
            known = (piece.metal, piece.metal_mm, piece.surface)
            said = (
                metal or piece.metal,
                metal_mm if metal_mm is not None else piece.metal_mm,
                surface or piece.surface,
            )
            if (said[0] is None) != (said[1] is None):
                raise BadInput("piece: wanted metal and metal_mm together; give both or neither")
            changed = replace(piece, metal=said[0], metal_mm=said[1], surface=said[2])
            part_of(changed)
            if new or said != known:
                await self._bench.commit([changed])
            self.piece = changed
            self.refresh()
            self._bench.tell("state")
            return changed

    async def start(
        self,
        piece: str,
        kind: str,
        settings: Json | None = None,
        *,
        part: str | None = None,
        airbrush: str | None = None,
    ) -> Coat:
        """Begin a coat on the named piece; a piece not yet on record is put there.

        Without `airbrush` it is the one in hand; an empty name means none.
        """
        async with self._one_at_a_time:
            return await self._start(piece, kind, settings, part, airbrush)

    async def _start(
        self, piece: str, kind: str, settings: Json | None, part: str | None, airbrush: str | None
    ) -> Coat:
        signed = self.acknowledged_tonight()
        if signed is None:
            raise BadInput(
                "coat: the cautions have not been read this evening; read them, enter your name, "
                "then start the coat"
            )
        if self.running is not None:
            raise BadInput(f"coat: a {self.running.kind} is running; end it first")
        if kind not in COAT_KINDS:
            raise BadInput(f"coat: got kind {kind!r}, wanted one of {', '.join(COAT_KINDS)}")
        known, new = self._piece(piece)
        of_part = None if part is None else self._dividing.part(known, part)
        brush = self._airbrush(airbrush)
        batch = self._matching.batch
        booth, cartridge = self._ventilating.booth, self._ventilating.cartridge
        coat = Coat(
            id=self._bench.new_id("coat"),
            bench=self._bench.bench,
            piece=known.id,
            kind=kind,
            start_ms=self._bench.now_ms(),
            part=of_part.id if of_part else None,
            batch=batch.id if batch else None,
            airbrush=brush.id if brush else None,
            booth=booth.id if booth else None,
            cartridge=cartridge.id if cartridge else None,
            settings=settings or {},
            person=signed.person,
        )
        records: list[Record] = [known, coat] if new else [coat]
        await self._bench.commit(records)
        self.running, self.piece = coat, known
        self.refresh()
        self._bench.tell("state")
        return coat

    def _airbrush(self, name: str | None) -> Airbrush | None:
        if name is None:
            return self._equipping.airbrush
        return self._equipping.named_airbrush(name) if name.strip() else None

    def _piece(self, name: str) -> tuple[Piece, bool]:
        words = " ".join(name.split())
        if not 1 <= len(words) <= 120:
            raise BadInput(f"piece: got a name of {len(words)} letters, wanted 1 to 120; name it")
        found = self._bench.reader.all(Piece, bench=self._bench.bench, name=words, limit=1)
        if found:
            return found[0], False
        piece_id = self._bench.new_id("piece")
        made = Piece(id=piece_id, bench=self._bench.bench, name=words, made_ms=self._bench.now_ms())
        return made, True

    async def sprayed(
        self, coat_id: str, ml: float, area_cm2: float | None, check: Callable[[Coat, float], None]
    ) -> Coat:
        """Put on record what a coat took out of the cup, and the area it went over.

        `check` refuses what the coat's cup cannot have held.
        """
        async with self._one_at_a_time:
            coat = self._bench.reader.get(Coat, coat_id)
            if coat is None:
                raise BadInput(f"coat: got {coat_id!r}, wanted one on record; choose from the list")
            check(coat, ml)
            area = {} if area_cm2 is None else {"area_cm2": area_cm2}
            changed = replace(coat, settings={**coat.settings, "sprayed_ml": ml, **area})
            await self._bench.commit([changed])
            if self.running is not None and self.running.id == coat_id:
                self.running = changed
            self.refresh()
            self._bench.tell("state")
            return changed

    async def end(self, coat_id: str) -> CoatOnRecord:
        """End the running coat; its conditions are worked out in the same transaction."""
        async with self._one_at_a_time:
            return await self._end(coat_id)

    async def _end(self, coat_id: str) -> CoatOnRecord:
        running = self.running
        if running is None or running.id != coat_id:
            raise BadInput(
                f"coat: {coat_id!r} is not running; it may have been ended on another screen; look "
                "at the list of coats"
            )
        ended = ended_at(running, self._bench.now_ms())
        await self._bench.commit([ended])
        self.running = None
        self.refresh()
        await self._on_end(ended)
        self._bench.tell("state")
        on_record = self._bench.reader.coat(coat_id)
        assert on_record is not None
        return on_record


def ended_at(coat: Coat, now_ms: int) -> Coat:
    """Return the coat, ended.  A clock that was set back must not keep a coat from ending."""
    if now_ms >= coat.start_ms:
        return replace(coat, end_ms=now_ms)
    note = f"{coat.note} The clock was set back during this coat; its end is not known.".strip()
    return replace(coat, end_ms=coat.start_ms, note=note)


def named_person(person: str) -> str:
    """Return the name, refused where nobody can be meant by it."""
    words = " ".join(person.split())
    if not 1 <= len(words) <= 80:
        raise BadInput(f"name: got {len(words)} letters, wanted 1 to 80; enter your name")
    return words
