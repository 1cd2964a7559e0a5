"""Humidity probes checked over salts: put on record, in force, due again, withdrawn."""

from collections.abc import Sequence
from dataclasses import replace

from sprayout.acts.bench import Bench
from sprayout.acts.shelf import named
from sprayout.acts.spraying import named_person
from sprayout.acts.watching import Watching
from sprayout.climate.corrections import in_force, is_due, state_words
from sprayout.climate.salts import Correction, SaltPoint, correction
from sprayout.errors import BadInput
from sprayout.journal.probe_corrections import counting, on_record
from sprayout.journal.records import ProbeCheck

HUMIDITY = "relative_humidity"


class Probing:
    """The checks of one bench's probes, newest first."""

    def __init__(self, bench: Bench, watching: Watching) -> None:
        self.checks: list[ProbeCheck] = []
        self._bench = bench
        self._watching = watching

    def take_over(self) -> None:
        """Read the checks on record and correct the booth's humidity by them."""
        read = self._bench.reader
        self.checks = read.all(ProbeCheck, bench=self._bench.bench, newest=True)
        self._watching.booth.corrections = counting(self.checks)

    def probes(self) -> tuple[str, ...]:
        """Return the devices that have told of humidity, now or on record."""
        heard = {e.device for e in self._watching.booth.all_latest() if e.channel == HUMIDITY}
        bench = self._bench.bench
        on_file = {
            c.device
            for c in self._bench.reader.channels()
            if c.bench == bench and c.channel == HUMIDITY
        }
        return tuple(sorted(heard | on_file))

    async def check(
        self,
        probe: str,
        points: Sequence[SaltPoint],
        person: str | None = None,
        note: str = "",
    ) -> ProbeCheck:
        """Put a check on record; from now on what is derived from the probe is corrected."""
        device = self._probe(probe)
        found = correction(device, points, self._bench.now_ms())
        kept = on_record(
            found,
            key=self._bench.new_id("probe"),
            bench=self._bench.bench,
            person=None if person is None else named_person(person),
            note=note,
        )
        await self._bench.commit([kept])
        return self._took(kept)

    async def withdraw(self, check_id: str, person: str) -> ProbeCheck:
        """Take a check out of force; it stays on record with who did so."""
        known = next((check for check in self.checks if check.id == check_id), None)
        if known is None:
            raise BadInput(f"probe check: got {check_id!r}, wanted one on record; look at the list")
        if known.withdrawn_ms is not None:
            return known
        by = f"withdrawn by {named_person(person)}"
        changed = replace(
            known,
            withdrawn_ms=self._bench.now_ms(),
            note="; ".join(words for words in (known.note, by) if words),
        )
        await self._bench.commit([changed])
        return self._took(changed)

    def _took(self, check: ProbeCheck) -> ProbeCheck:
        self.take_over()
        self._bench.tell("state")
        return next((kept for kept in self.checks if kept.id == check.id), check)

    def _probe(self, name: str) -> str:
        device, known = named(name, "probe"), self.probes()
        if device not in known:
            heard = ", ".join(known) or "none so far"
            raise BadInput(
                f"probe: got {device!r}, which has told of no humidity here (heard: {heard}); "
                "choose one of these"
            )
        return device

    def in_force(self, device: str) -> Correction | None:
        """Return the correction that counts for a device now."""
        return in_force(self._watching.booth.corrections, device, self._bench.now_ms())

    def due(self) -> tuple[str, ...]:
        """Return in words which probes have a check that is out of date."""
        now_ms = self._bench.now_ms()
        devices = dict.fromkeys(check.device for check in self.checks)
        found = (self.in_force(device) for device in devices)
        return tuple(state_words(c, now_ms) for c in found if c is not None and is_due(c, now_ms))
