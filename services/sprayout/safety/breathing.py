"""The breathing zone of one coat: 15-minute and 8-hour means beside the limits, and IDLH.

Room air (well mixed, divided by the mixing divisor) plus the near field's G/beta while spraying,
both for somebody without a respirator.  Saturation caps each vapour.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from sprayout.safety import exposure, two_box
from sprayout.safety.assessment import Finding, Level, Row, RowLimit
from sprayout.safety.limits import Limit, excursion_of, from_data_sheet, lowest_8h, lowest_15min
from sprayout.safety.load import Coat, Load, Product, Vapour
from sprayout.safety.refusals import named
from sprayout.safety.respirator import cap_of
from sprayout.safety.room_air import build_up
from sprayout.safety.substances import Substance, known
from sprayout.safety.tables import Source, source, sources
from sprayout.safety.wording import said

KEYS = ("breathing_15_min", "breathing_8_h")
MOST_M3H = 10_000.0
"""More air than any room of this trade is given: what it does not reach, air alone does not do
(project choice)."""
_Mean = Callable[[Vapour, Coat, "Room", float], float]


@dataclass(frozen=True, slots=True)
class Room:
    """The room around the booth.

    ``fresh_air_m3h`` is its own change of air besides a ducted booth's; ``mixing_divisor`` 3 and
    ``escape_share`` 1 (all of the vapour passes the person) are on the careful side (project
    choice); ``near_radius_m`` and ``air_speed_m_min`` describe the breathing zone (memory).
    """

    volume_m3: float
    fresh_air_m3h: float | None = None
    mixing_divisor: float = 3.0
    escape_share: float = 1.0
    near_radius_m: float = 0.5
    air_speed_m_min: float = 3.6


def cannot_assess(key: str, missing: str) -> Finding:
    """The finding for something that is not known."""
    words = f"Cannot assess: {missing}. What is missing does not count as nothing."
    return Finding(
        key, Level.CANNOT_ASSESS, words, would_help=(f"find out and enter it: {missing}",)
    )


def why_unknown(load: Load | None) -> str:
    """What stands in the way of a load, for a person."""
    if load is None:
        return "what is sprayed, how much and how long is not all known"
    return "; ".join(load.unknown)


def judge_breathing(
    product: Product | None,
    load: Load | None,
    coat: Coat | None,
    room: Room | None,
    fresh_m3h: float | None,
    region: str,
) -> list[Finding]:
    """Findings for 15 min and 8 h, and one more where IDLH is reached.

    ``fresh_m3h`` is the air that leaves the room; any ``None`` is *cannot assess*.
    """
    if product is None or load is None or coat is None or not load.complete:
        return [cannot_assess(key, why_unknown(load)) for key in KEYS]
    if room is None or fresh_m3h is None:
        return [
            cannot_assess(key, "room volume or the air that leaves it is not known") for key in KEYS
        ]
    short = [(v, _near_15_min(v, coat, room, fresh_m3h)) for v in load.vapours]
    long = [(v, _near_8_h(v, coat, room, fresh_m3h)) for v in load.vapours]
    judged = [
        _index(KEYS[0], "15 min", short, [_short(v, product, region) for v in load.vapours]),
        _index(KEYS[1], "8 h", long, [_long(v, product, region) for v in load.vapours]),
    ]
    whole = [
        replace(
            found,
            assumptions=assumed(room, coat),
            would_help=_help(found, load, coat, room, fresh_m3h, mean),
        )
        for found, mean in zip(judged, (_near_15_min, _near_8_h), strict=True)
    ]
    return [*_dangerous(load, coat, room, fresh_m3h), *whole]


def assumed(room: Room, coat: Coat | None = None) -> tuple[str, ...]:
    """What every figure of breathing rests on."""
    said_of = [
        "all of the solvent turns to vapour while it is sprayed: an upper bound",
        f"room of {room.volume_m3:g} m³, mixing divisor {room.mixing_divisor:g}, clean air enters",
        f"{room.escape_share:.0%} of the vapour passes you",
        f"breathing zone: half a ball of {room.near_radius_m:g} m, air at "
        f"{room.air_speed_m_min:g} m/min (common assumption, no measurement)",
        "no respirator is counted",
    ]
    if coat is not None and coat.coats > 1:
        said_of.append(f"{coat.coats} coats one after the other without a pause")
    return tuple(said_of)


def _help(
    found: Finding, load: Load, coat: Coat, room: Room, fresh_m3h: float, mean: _Mean
) -> tuple[str, ...]:
    """What would bring the index to 1; the air it takes by the same model as the index."""
    index = dict(found.figures).get("index")
    if found.level is Level.NOTHING_FOUND:
        return ()
    if index is None:
        return (named("missing_limit").way,)
    limits = {row.key: row.limit.value for row in found.rows if row.limit is not None}

    def index_at(flow_m3h: float) -> float:
        return sum(
            mean(v, coat, room, flow_m3h) / limits[_row_key(v)]
            for v in load.vapours
            if _row_key(v) in limits
        )

    enough = _enough_m3h(index_at, fresh_m3h) if index > 1 else None
    if enough is not None:
        air = f"about {said(enough)} m³/h of air out of the room instead of {said(fresh_m3h)}"
    elif index > 1:
        air = "more air alone does not do it: spray well inside the booth's face"
    else:
        air = "open a window while you spray and until the coats have dried"
    return (air, "spray less at a time, with pauses between the coats")


def _enough_m3h(index_at: Callable[[float], float], from_m3h: float) -> float | None:
    """The least flow at which the falling index is at most 1, to three digits upwards.

    ``None`` where not even :data:`MOST_M3H` brings it there.
    """
    low, high = from_m3h, MOST_M3H
    if low >= high or index_at(high) > 1:
        return None
    while high - low > 1e-3 * high:
        middle = (low + high) / 2.0
        low, high = (middle, high) if index_at(middle) > 1 else (low, middle)
    step = 10.0 ** (math.floor(math.log10(high)) - 2)
    return math.ceil(high / step) * step


def _row_key(vapour: Vapour) -> str:
    return f"{vapour.substance.key}_ppm"


def _dangerous(load: Load, coat: Coat, room: Room, fresh_m3h: float) -> list[Finding]:
    """A refusal where the peak of one vapour reaches IDLH (or its stand-in), else nothing."""
    for vapour in load.vapours:
        litres = vapour.l_min * room.escape_share
        spraying = coat.minutes * coat.coats
        far = build_up(room.volume_m3, fresh_m3h, litres, spraying, divisor=room.mixing_divisor)
        peak = _held(vapour, far.ppm_end + _near_ppm(litres, room))
        cap, cap_words = cap_of(vapour.substance)
        if cap is not None and peak >= cap:
            words = f"{vapour.substance.name}, {cap_words}: {named('idlh').words()}"
            cites = sources(("npg", "osha_134"))
            limit = RowLimit(cap, "ppm", cap_words, source("npg"))
            rows = (Row("peak_ppm", f"{vapour.substance.name} at its peak", peak, "ppm", limit),)
            way = (named("idlh").way,)
            return [Finding("idlh", Level.REFUSE, words, cites, rows, assumed(room), way)]
    return []


def _near_15_min(vapour: Vapour, coat: Coat, room: Room, fresh_m3h: float) -> float:
    """ppm in the breathing zone: room air plus G/beta for the spraying part of 15 min.

    The evening's coats are taken without a pause between them: an upper bound.
    """
    spraying = coat.minutes * coat.coats
    litres = vapour.l_min * room.escape_share
    far = exposure.worst_15_min_ppm(
        room.volume_m3, fresh_m3h, litres, spraying, divisor=room.mixing_divisor
    )
    share = min(1.0, spraying / exposure.SHORT_TERM_MIN)
    return _held(vapour, far + _near_ppm(litres, room) * share)


def _near_8_h(vapour: Vapour, coat: Coat, room: Room, fresh_m3h: float) -> float:
    litres = vapour.l_min * room.escape_share
    far = exposure.eight_hour_ppm(
        room.volume_m3, fresh_m3h, litres, coat.minutes, coat.coats, room.mixing_divisor
    )
    share = min(1.0, coat.minutes * coat.coats / (exposure.WORKDAY_H * 60.0))
    return _held(vapour, far + _near_ppm(litres, room) * share)


def _near_ppm(litres_min: float, room: Room) -> float:
    near = two_box.hemisphere(room.near_radius_m, room.air_speed_m_min)
    return litres_min * 1000.0 / near.exchange_m3_min


def _held(vapour: Vapour, ppm: float) -> float:
    """Not above what air can hold."""
    saturated = vapour.substance.saturation_ppm
    return ppm if saturated is None else min(ppm, saturated)


def _from_sheet(substance: Substance, product: Product, region: str) -> Limit | None:
    for name, ppm in product.data_sheet_limits_ppm:
        if known(name) == substance:
            return from_data_sheet(substance, region, ppm)
    return None


def _long(vapour: Vapour, product: Product, region: str) -> Limit | None:
    """The data sheet's 8-h limit where one was entered, else the lowest of our tables."""
    sheet = _from_sheet(vapour.substance, product, region)
    return sheet or lowest_8h(vapour.substance, region)


def _short(vapour: Vapour, product: Product, region: str) -> Limit | None:
    """The lowest short-term limit; three times the data sheet's 8-h one where we know none."""
    found = lowest_15min(vapour.substance, region)
    sheet = _from_sheet(vapour.substance, product, region)
    return found or (excursion_of(sheet) if sheet else None)


def _index(
    key: str,
    over: str,
    found: Sequence[tuple[Vapour, float]],
    limits: Sequence[Limit | None],
) -> Finding:
    """The additive index over one averaging time; a missing limit cannot be judged."""
    parts = [(p, lim.ppm if lim else None) for (_, p), lim in zip(found, limits, strict=True)]
    index, at_least = exposure.mixture_index(parts), exposure.known_index(parts)
    level = exposure.level_of_index(index, at_least)
    cites: tuple[Source, ...] = tuple(dict.fromkeys(lim.source for lim in limits if lim))
    words = _index_words(over, index, at_least)
    rows = tuple(
        Row(_row_key(v), v.substance.name, ppm, "ppm", _row_limit(limit))
        for (v, ppm), limit in zip(found, limits, strict=True)
    )
    whole = RowLimit(1.0, "", "1: the parts of all limits together", source("osha_1000"))
    rows = (Row("index", "mixture index", index, "", whole), *rows)
    return Finding(key, level, words, cites, rows)


def _row_limit(limit: Limit | None) -> RowLimit | None:
    if limit is None or limit.ppm is None:
        return None
    words = limit.words() if not limit.note else f"{limit.words()}; {limit.note}"
    return RowLimit(limit.ppm, "ppm", words, limit.source)


def _index_words(over: str, index: float | None, at_least: float) -> str:
    if index is None:
        return (
            f"Breathing zone, mean over {over}: cannot assess, a limit is missing for this region; "
            f"what is known adds up to {said(at_least)} of 1. {named('missing_limit').way}"
        )
    side = "over" if index > 1 else "not over"
    return (
        f"Breathing zone without a respirator, mean over {over}: {said(index)} times the lowest "
        f"published limits together, {side} 1. An estimate, not a measurement."
    )
