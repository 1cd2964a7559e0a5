"""The clock after the last coat: how long the door stays shut and the fan on.

An estimate from assumed mixing, not a measurement; fresh coats go on giving off vapour while
they dry.  Where a booth's clearance time has been measured with smoke and posted, that one holds.
"""

import math
from dataclasses import dataclass

from sprayout.safety.given import not_below_zero
from sprayout.safety.interlock import FanState
from sprayout.safety.room_air import purge

SHARE_LEFT = 0.01
"""The default goal: 1 % of the vapour left, 4.6 well-mixed air changes (CDC Table B.1's 99 %)."""


@dataclass(frozen=True, slots=True)
class PurgeClock:
    """Minutes of running fan that the purge takes, and what that rests on."""

    minutes: float
    air_changes: float
    assumption: str


@dataclass(frozen=True, slots=True)
class Remaining:
    """What is left of the purge; ``minutes`` is ``None`` where it cannot be said."""

    minutes: float | None
    words: str


def purge_clock(
    volume_m3: float,
    flow_m3h: float,
    from_ppm: float = 1.0,
    to_ppm: float = SHARE_LEFT,
    mixing_divisor: float = 3.0,
) -> PurgeClock:
    """Minutes from the last coat to ``to_ppm``; the defaults leave 1 % at a mixing divisor of 3.

    Give two concentrations, or leave both out for a purge to 1 %.
    """
    taken = purge(volume_m3, flow_m3h, from_ppm, to_ppm, mixing_divisor)
    assumption = (
        f"Assumes the fan moves {flow_m3h:g} m³/h from {volume_m3:g} m³ all the time, mixing "
        f"divisor {mixing_divisor:g}, no more spraying, and dry coats; wet ones go on giving off "
        "vapour, so leave the fan on until they are dry."
    )
    return PurgeClock(taken.minutes, taken.air_changes, assumption)


def remaining(
    clock: PurgeClock, fan_minutes_since_last_coat: float | None, fan: FanState
) -> Remaining:
    """What is left, counting only minutes in which the fan was confirmed.

    ``fan_minutes_since_last_coat`` is that count, ``None`` where nobody kept it.  Without a
    confirmed fan the clock says nothing.
    """
    if not fan.confirmed:
        return Remaining(None, f"Purge clock stopped. {fan.words}")
    if fan_minutes_since_last_coat is None:
        return Remaining(None, "Purge not known: no record of the fan since the last coat.")
    counted = not_below_zero("minutes since the last coat", fan_minutes_since_last_coat, "min")
    left = clock.minutes - counted
    if left > 0:
        words = f"Keep the door shut and the fan on for {math.ceil(left)} more min (estimate)."
        return Remaining(left, words)
    words = (
        "The purge time is over by this estimate, which measures nothing. Leave the fan on while "
        "anything smells or feels wet."
    )
    return Remaining(0.0, words)
