"""The booth as it is set up, the purge clock after the last coat, and the cartridge in use."""

import math
from dataclasses import dataclass, replace

from sprayout.acts.bench import Bench
from sprayout.acts.shelf import named
from sprayout.errors import BadInput
from sprayout.journal.records import Booth, Cartridge, Coat
from sprayout.safety.cartridge import CartridgeLog, worn
from sprayout.safety.interlock import FanState
from sprayout.safety.purge import Remaining, purge_clock, remaining

MS_PER_MIN = 60_000
MS_PER_H = 3_600_000
MS_PER_DAY = 86_400_000
NO_BOOTH = Remaining(None, "Purge not known: enter the booth's volume and the fan's measured flow.")
NO_COAT = Remaining(None, "No coat yet this evening.")


@dataclass(slots=True)
class FanMinutes:
    """Minutes of confirmed fan since the last coat ended; None where nobody watched."""

    since_ms: int
    confirmed_ms: int = 0
    last_look_ms: int | None = None

    def look(self, monotonic_ms: int, fan: FanState) -> None:
        """Count the time since the last look if the fan is confirmed now."""
        if self.last_look_ms is not None and fan.confirmed:
            self.confirmed_ms += max(monotonic_ms - self.last_look_ms, 0)
        self.last_look_ms = monotonic_ms


class Ventilating:
    """What stands between the vapour and the lungs, as far as the bench knows."""

    def __init__(self, bench: Bench) -> None:
        self.booth: Booth | None = None
        self.cartridge: Cartridge | None = None
        self._fan: FanMinutes | None = None
        self._bench = bench

    def take_over(self) -> None:
        """Go on with the booth and the cartridge on record."""
        read, bench = self._bench.reader, self._bench.bench
        self.booth = next(iter(read.all(Booth, bench=bench, newest=True, limit=1)), None)
        fitted = read.all(Cartridge, bench=bench, newest=True, limit=1)
        self.cartridge = next((c for c in fitted if c.changed_ms is None), None)

    async def set_booth(self, booth: Booth) -> Booth:
        """Put a booth set-up on record; the newest counts."""
        for what, value in (
            ("width", booth.width_m),
            ("height", booth.height_m),
            ("volume", booth.volume_m3),
            ("flow", booth.flow_m3h),
        ):
            if value is not None and not (math.isfinite(value) and value > 0):
                raise BadInput(f"booth: got {what} {value:g}, wanted more than 0; measure it")
        kept = replace(booth, name=named(booth.name, "booth"))
        await self._bench.commit([kept])
        self.booth = kept
        self._bench.tell("state")
        return kept

    async def fit_cartridge(self, name: str, kind: str, opened_ms: int | None = None) -> Cartridge:
        """Begin a new cartridge; one in use is closed."""
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
        if self.cartridge is not None:
            hours = max(coat.end_ms - coat.start_ms, 0) / MS_PER_H
            used = (self.cartridge.hours_used or 0.0) + hours
            self.cartridge = replace(self.cartridge, hours_used=used)
            await self._bench.commit([self.cartridge])

    def log(self) -> CartridgeLog | None:
        """Return the log of the cartridge in use, its humid hours told from the coats on record.

        A coat whose humidity was not read, or reached 85 %, counts as humid.
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
                rh = entry.conditions.channel("relative_humidity") if entry.conditions else None
                hours = max(coat.end_ms - coat.start_ms, 0) / MS_PER_H
                log = worn(log, min(hours, 24.0), rh.high if rh else None)
        return log

    def look(self, fan: FanState) -> None:
        """Count the fan's confirmed minutes; called with every look at the booth."""
        if self._fan is not None:
            self._fan.look(self._bench.monotonic_ms(), fan)

    def purge(self, fan: FanState) -> Remaining:
        """Return what is left of the purge after the last coat."""
        if self._fan is None:
            return NO_COAT
        booth = self.booth
        if booth is None or booth.volume_m3 is None or booth.flow_m3h is None:
            return NO_BOOTH
        clock = purge_clock(booth.volume_m3, booth.flow_m3h)
        return remaining(clock, self._fan.confirmed_ms / MS_PER_MIN, fan)
