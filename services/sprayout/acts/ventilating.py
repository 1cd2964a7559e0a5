"""The booth as it is set up, the purge clock after the last coat, and the cartridge in use."""

import asyncio
from dataclasses import dataclass, replace

from sprayout.acts.bench import Bench
from sprayout.acts.shelf import named
from sprayout.bench import booth_on_record as booths
from sprayout.bench.evening import evening_of
from sprayout.errors import BadInput
from sprayout.journal.records import Booth, Cartridge, Coat
from sprayout.safety.cartridge import CartridgeLog, worn
from sprayout.safety.clearing import clock_for
from sprayout.safety.interlock import FanState
from sprayout.safety.purge import PurgeClock, Remaining, remaining

MS_PER_MIN = 60_000
MS_PER_H = 3_600_000
MS_PER_DAY = 86_400_000
NO_COAT = Remaining(None, "No coat yet this evening.")
SPRAYING = Remaining(None, "A coat is being sprayed; the purge begins when it ends.")


@dataclass(slots=True)
class FanMinutes:
    """Minutes of confirmed fan since the last coat ended; None where nobody watched."""

    since_ms: int
    confirmed_ms: int = 0
    last_look_ms: int | None = None
    was_confirmed: bool = False

    def look(self, monotonic_ms: int, fan: FanState) -> None:
        """Count the time since the last look if the fan was confirmed then and is so now."""
        if self.last_look_ms is not None and fan.confirmed and self.was_confirmed:
            self.confirmed_ms += max(monotonic_ms - self.last_look_ms, 0)
        self.last_look_ms, self.was_confirmed = monotonic_ms, fan.confirmed


class Ventilating:
    """What stands between the vapour and the lungs, as far as the bench knows."""

    def __init__(self, bench: Bench) -> None:
        self.booth: Booth | None = None
        self.cartridge: Cartridge | None = None
        self._fan: FanMinutes | None = None
        self._bench = bench
        # A double tap must not leave a cartridge open for ever.
        self._one_at_a_time = asyncio.Lock()

    def take_over(self, last: Coat | None = None) -> None:
        """Go on with booth and cartridge on record, and with the purge after this evening's coat.

        Nobody watched the fan in between, so none of that time is counted.
        """
        if last is not None and last.end_ms is not None:
            tonight = evening_of(self._bench.now_ms())
            self._fan = FanMinutes(last.end_ms) if evening_of(last.end_ms) == tonight else None
        read, bench = self._bench.reader, self._bench.bench
        self.booth = next(iter(read.all(Booth, bench=bench, newest=True, limit=1)), None)
        fitted = read.all(Cartridge, bench=bench, newest=True, limit=1)
        self.cartridge = next((c for c in fitted if c.changed_ms is None), None)

    async def set_booth(self, booth: Booth) -> Booth:
        """Put a booth set-up on record; the newest counts.

        One that cannot be, or whose unit looks wrong and was not confirmed, is refused.
        """
        booths.check(booth, self.usual_room())
        kept = replace(booth, name=named(booth.name, "booth"))
        await self._bench.commit([kept])
        self.booth = kept
        self._bench.tell("state")
        return kept

    async def fit_cartridge(self, name: str, kind: str, opened_ms: int | None = None) -> Cartridge:
        """Begin a new cartridge; one in use is closed."""
        async with self._one_at_a_time:
            return await self._fit(name, kind, opened_ms)

    async def _fit(self, name: str, kind: str, opened_ms: int | None) -> Cartridge:
        now_ms = self._bench.now_ms()
        fresh = Cartridge(
            id=self._bench.new_id("cartridge"),
            bench=self._bench.bench,
            name=named(name, "cartridge"),
            type=named(kind, "cartridge type"),
            fitted_ms=now_ms,
            opened_ms=now_ms if opened_ms is None else opened_ms,
            hours_used=0.0,
        )
        old = [replace(self.cartridge, changed_ms=now_ms)] if self.cartridge else []
        await self._bench.commit([*old, fresh])
        self.cartridge = fresh
        self._bench.tell("state")
        return fresh

    async def coat_ended(self, coat: Coat) -> None:
        """Start the purge clock and write the coat's time onto the cartridge."""
        if coat.end_ms is None:
            return
        self._fan = FanMinutes(coat.end_ms)
        async with self._one_at_a_time:
            worn_then = self._worn_in(coat)
            if worn_then is None:
                return
            hours = max(coat.end_ms - coat.start_ms, 0) / MS_PER_H
            used = replace(worn_then, hours_used=(worn_then.hours_used or 0.0) + hours)
            await self._bench.commit([used])
            if self.cartridge is not None and self.cartridge.id == used.id:
                self.cartridge = used

    def _worn_in(self, coat: Coat) -> Cartridge | None:
        """Return the cartridge of a coat: the one it began with, else the one in use now."""
        if coat.cartridge is None or (self.cartridge and coat.cartridge == self.cartridge.id):
            return self.cartridge
        return self._bench.reader.get(Cartridge, coat.cartridge)

    def log(self) -> CartridgeLog | None:
        """Return the log of the cartridge in use, its humid hours told from the coats on record.

        Hours in which no humidity was read count as humid, and so do coats that reached 85 % and
        hours that stand on the cartridge but belong to no coat found: a clock may have been set
        back.
        """
        cartridge = self.cartridge
        if cartridge is None:
            return None
        now_ms, opened_ms = self._bench.now_ms(), cartridge.opened_ms
        days = None if opened_ms is None else max(now_ms - opened_ms, 0) / MS_PER_DAY
        log = CartridgeLog(cartridge.name, days)
        for entry in self._bench.reader.coats(cartridge.bench, from_ms=cartridge.fitted_ms):
            coat = entry.coat
            if coat.cartridge == cartridge.id and coat.end_ms is not None:
                hours = min(max(coat.end_ms - coat.start_ms, 0) / MS_PER_H, 24.0)
                rh = entry.conditions.channel("relative_humidity") if entry.conditions else None
                unread_h = min(rh.gap_s / 3600.0, hours) if rh else hours
                log = worn(log, unread_h, None)
                log = worn(log, hours - unread_h, rh.high if rh else None)
        unexplained = (cartridge.hours_used or 0.0) - log.worn_h
        return worn(log, min(unexplained, 24.0), None) if unexplained > 1e-6 else log

    def look(self, fan: FanState) -> None:
        """Count the fan's confirmed minutes; called with every look at the booth."""
        if self._fan is not None:
            self._fan.look(self._bench.monotonic_ms(), fan)

    def purge(self, fan: FanState, spraying: bool = False) -> Remaining:
        """Return what is left of the purge after the last coat; nothing is while one is sprayed."""
        if spraying:
            return SPRAYING
        if self._fan is None:
            return NO_COAT
        clock = self.clock()
        if isinstance(clock, str):
            return Remaining(None, f"Purge not known: {clock}.")
        return remaining(clock, self._fan.confirmed_ms / MS_PER_MIN, fan)

    def clock(self) -> PurgeClock | str:
        """Return the purge clock of the booth on record, or what has to be known first."""
        try:
            usual = self.usual_room()
            return clock_for(booths.set_up(self.booth), booths.room_of(self.booth, usual))
        except BadInput as error:  # an import may bring what no form lets through
            return f"the booth on record cannot be used ({error})"

    def usual_room(self) -> dict[str, float]:
        """Return the room as the settings have it, for a booth that says nothing of it."""
        settings = self._bench.settings
        return {
            "volume_m3": settings.number("room_volume_m3"),
            "fresh_air_m3h": settings.number("room_fresh_air_m3h"),
            "divisor": settings.number("mixing_divisor"),
        }
