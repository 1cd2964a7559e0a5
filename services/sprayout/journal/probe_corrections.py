"""Salt checks on record as the climate room takes them."""

import sqlite3
from collections.abc import Iterable

from sprayout.climate.salts import Correction, SaltPoint
from sprayout.journal.records import ProbeCheck, SaltReading
from sprayout.journal.tables import select_records


def as_correction(check: ProbeCheck) -> Correction:
    """One check on record as a correction."""
    return Correction(
        probe=check.device,
        at_ms=check.at_ms,
        offset_pct=check.offset_pct,
        gain=check.gain,
        low_pct=check.low_pct,
        high_pct=check.high_pct,
        uncertainty_pct=check.uncertainty_pct,
        points=tuple(SaltPoint(p.salt, p.t_c, p.read_pct, p.minutes) for p in check.points),
    )


def on_record(
    found: Correction, *, key: str, bench: str, person: str | None = None, note: str = ""
) -> ProbeCheck:
    """A correction as it is kept."""
    return ProbeCheck(
        id=key,
        bench=bench,
        device=found.probe,
        at_ms=found.at_ms,
        offset_pct=found.offset_pct,
        gain=found.gain,
        low_pct=found.low_pct,
        high_pct=found.high_pct,
        uncertainty_pct=found.uncertainty_pct,
        points=tuple(
            SaltReading(salt=p.salt, t_c=p.t_c, read_pct=p.read_pct, minutes=p.minutes)
            for p in found.points
        ),
        person=person,
        note=note,
    )


def counting(checks: Iterable[ProbeCheck]) -> tuple[Correction, ...]:
    """The corrections of those checks that were not withdrawn."""
    return tuple(as_correction(check) for check in checks if check.withdrawn_ms is None)


def corrections_of(connection: sqlite3.Connection, bench: str) -> tuple[Correction, ...]:
    """All corrections of one bench's probes."""
    return counting(select_records(connection, ProbeCheck, "bench = ?", (bench,)))
