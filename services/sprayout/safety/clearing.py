"""The purge clock of one booth: how long the fan stays on after the last coat."""

import math
from dataclasses import replace

from sprayout.safety.assessment import Finding, Level, Row
from sprayout.safety.booth import Booth
from sprayout.safety.breathing import Room, cannot_assess
from sprayout.safety.purge import PurgeClock, purge_clock
from sprayout.safety.tables import sources


def clock_for(booth: Booth | None, room: Room | None) -> PurgeClock | str:
    """The clock, or what has to be known first.

    Air that goes back into the room through a filter clears nothing: then the room's own air
    counts, and without any there is no clock.  A ducted booth clears the room too, where its
    volume is known: vapour that passed the face lingers there, and the longer clock counts.
    """
    if booth is None:
        return "enter the booth's volume, its measured flow and where its air goes"
    if booth.exhaust is None:
        return "whether the booth blows outdoors or back into the room is not known"
    divisor = room.mixing_divisor if room else Room(1.0).mixing_divisor
    if booth.exhaust == "recirculating":
        if room is None or not room.fresh_air_m3h:
            return "the booth's filter clears no vapour, and the room's own fresh air is not known"
        return purge_clock(room.volume_m3, room.fresh_air_m3h, mixing_divisor=divisor)
    if booth.volume_m3 is None or not booth.flow_m3h:
        return "the booth's volume or its delivered flow is not known"
    if room is None:
        clock = purge_clock(booth.volume_m3, booth.flow_m3h, mixing_divisor=divisor)
        return replace(clock, assumption=f"{clock.assumption} {_NO_ROOM}")
    leaves_m3h = booth.flow_m3h + (room.fresh_air_m3h or 0.0)
    whole_m3 = max(booth.volume_m3, room.volume_m3)
    return purge_clock(whole_m3, leaves_m3h, mixing_divisor=divisor)


_NO_ROOM = "The booth's own air alone: enter the room, where vapour lingers longer."


def judge_purge(booth: Booth | None, room: Room | None) -> Finding:
    """Minutes of running fan to a hundredth of the vapour; always a caution."""
    clock = clock_for(booth, room)
    if isinstance(clock, str):
        return cannot_assess("purge", clock)
    words = (
        f"After the last coat: door shut, fan on for at least {math.ceil(clock.minutes)} min, and "
        "until the coats are dry. An estimate; a clearance time measured with smoke comes first."
    )
    rows = (
        Row("minutes", "fan on after the last coat", clock.minutes, "min"),
        Row("air_changes", "air changes in that time", clock.air_changes, ""),
    )
    return Finding(
        "purge", Level.CAUTION, words, sources(("ideal_gas",)), rows, (clock.assumption,)
    )
