"""The part's temperature: entered by a person, else by infrared as its surface allows.

What a person measured by contact and typed in counts for half an hour, and before any infrared
reading.  An infrared reading of bare metal sees the room mirrored in it: then there is none.
"""

from dataclasses import dataclass, replace

from sprayout.bench.booth_watch import BoothWatch, Latest
from sprayout.climate.flag_rules import BoothInputs, Measured
from sprayout.climate.part_temperature import from_infrared

BY_HAND = "by hand"
CHANNEL = "part_temperature"
#: A thin part follows its air within this time (common practice, no source).
ENTERED_COUNTS_MS = 30 * 60_000


@dataclass(frozen=True, slots=True)
class PartReading:
    """The part's temperature as it counts: where it comes from, and what is to be said of it."""

    measured: Measured | None
    by: str | None
    words: str


def part_reading(
    booth: BoothWatch, surface: str | None, air_c: float | None, now_ms: int, monotonic_ms: int
) -> PartReading:
    """The part's temperature now; ``measured`` is missing where a reading says nothing of it."""
    entered = next(
        (e for e in booth.all_latest() if (e.device, e.channel) == (BY_HAND, CHANNEL)), None
    )
    if entered is not None and entered.age_ms(now_ms, monotonic_ms) <= ENTERED_COUNTS_MS:
        minutes = entered.age_ms(now_ms, monotonic_ms) / 60_000
        words = f"entered {minutes:.0f} min ago" if minutes >= 1 else "entered just now"
        return PartReading(Measured(entered.value, 0), "entered", words)
    read = [e for e in booth.all_latest() if e.channel == CHANNEL and e.device != BY_HAND]
    latest = booth.best(read, now_ms, monotonic_ms)
    if latest is None:
        return PartReading(None, None, "")
    return _by_infrared(latest, surface, air_c, latest.age_ms(now_ms, monotonic_ms))


def _by_infrared(
    latest: Latest, surface: str | None, air_c: float | None, age_ms: int
) -> PartReading:
    if surface is None:
        words = "taken as painted; say what the surface is, bare metal mirrors the room"
        return PartReading(Measured(latest.value, age_ms), "infrared", words)
    found = from_infrared(latest.value, air_c, surface)
    if found.part_c is None:
        return PartReading(Measured.missing(), "infrared", found.warning or "")
    plus_minus = 0.5 if found.plus_minus_k is None else found.plus_minus_k
    words = f"by infrared on {surface}, ± {plus_minus:.1f} K"
    return PartReading(Measured(found.part_c, age_ms), "infrared", words)


def with_part(inputs: BoothInputs, part: PartReading) -> BoothInputs:
    """The inputs with the part's temperature as it counts."""
    return replace(inputs, part_c=part.measured, part_words=part.words)
