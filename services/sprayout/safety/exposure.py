"""What is breathed, set beside the limits: means over 15 min and 8 h, and the mixture index.

29 CFR 1910.1000(d): E = sum(C T)/8 and E_m = sum(C/L); an index over 1 is over the limit.
"""

from collections.abc import Sequence

from sprayout.errors import BadInput
from sprayout.safety.assessment import Level
from sprayout.safety.given import above_zero, mixing_divisor, not_below_zero
from sprayout.safety.room_air import build_up

SHORT_TERM_MIN = 15.0
WORKDAY_H = 8.0
ACTION_INDEX = 0.5
"""Half of the limit: where workplace programmes begin to act (common practice, no source)."""


def time_weighted_ppm(
    ppm: Sequence[float], hours: Sequence[float], over_h: float = WORKDAY_H
) -> float:
    """E = sum(C_a T_a)/8.  The hours left of the eight count as clean air."""
    if len(ppm) != len(hours) or not ppm:
        raise BadInput(
            f"time-weighted mean: got {len(ppm)} concentrations and {len(hours)} times, "
            "wanted one time for each"
        )
    pairs = zip(ppm, hours, strict=True)
    dose = sum(not_below_zero("ppm", c, "ppm") * not_below_zero("hours", t, "h") for c, t in pairs)
    return dose / above_zero("averaging time", over_h, "h")


def mixture_index(parts: Sequence[tuple[float, float | None]]) -> float | None:
    """sum(C/L) of (concentration, limit); ``None`` as soon as one limit is missing."""
    if not parts:
        raise BadInput("mixture: got no parts, wanted concentration and limit of each")
    known = known_index(parts)
    return None if any(limit is None for _, limit in parts) else known


def known_index(parts: Sequence[tuple[float, float | None]]) -> float:
    """The index of those parts whose limit is known: the true one is at least this."""
    index = 0.0
    for concentration, limit in parts:
        amount = not_below_zero("concentration", concentration)
        if limit is not None:
            index += amount / above_zero("limit", limit, do="take it from the data sheet")
    return index


def level_of_index(index: float | None, at_least: float = 0.0) -> Level:
    """Over 1 stop and ventilate, over 0.5 a caution; unknown unless the known part is over 1."""
    if index is None:
        return Level.STOP if at_least > 1 else Level.CANNOT_ASSESS
    if index > 1:
        return Level.STOP
    return Level.CAUTION if index > ACTION_INDEX else Level.NOTHING_FOUND


def worst_15_min_ppm(
    volume_m3: float,
    flow_m3h: float,
    generation_l_min: float,
    minutes: float,
    *,
    start_ppm: float = 0.0,
    divisor: float = 1.0,
) -> float:
    """The highest 15-minute mean around one coat in well-mixed air, decay after it included.

    Looks at windows that begin between the coat's start and its end, in steps of a sixtieth of
    the coat; the mean is smooth there, so the step costs less than 0.1 %.
    """
    whole = above_zero("minutes", minutes, "min", "say how long the coat takes")
    begins = [whole * step / 60.0 for step in range(61)]

    def dose(until: float) -> float:
        return _dose(volume_m3, flow_m3h, generation_l_min, whole, until, start_ppm, divisor)

    return max(dose(b + SHORT_TERM_MIN) - dose(b) for b in begins) / SHORT_TERM_MIN


def eight_hour_ppm(
    volume_m3: float,
    flow_m3h: float,
    generation_l_min: float,
    minutes: float,
    coats: int = 1,
    divisor: float = 1.0,
) -> float:
    """The 8-h mean of an evening of equal coats, for someone who stays until the air has cleared.

    Each coat's dose is its whole vapour over Q' (what goes in must go out), or with too little
    air what eight hours in the room can hold: an upper bound either way.
    """
    volume = above_zero("volume", volume_m3, "m³")
    flow = not_below_zero("flow", flow_m3h, "m³/h") / 60.0 / mixing_divisor(divisor)
    litres = generation_l_min * above_zero("minutes", minutes, "min") * coats
    shut_ppm = litres * 1000.0 / volume
    if flow == 0:
        return shut_ppm
    return min(shut_ppm, litres * 1000.0 / flow / (WORKDAY_H * 60.0))


def _dose(
    volume: float,
    flow: float,
    rate: float,
    whole: float,
    until: float,
    start_ppm: float,
    divisor: float,
) -> float:
    """ppm-minutes from the coat's start until then."""
    if until <= 0:
        return 0.0
    spraying = min(until, whole)
    during = build_up(volume, flow, rate, spraying, start_ppm=start_ppm, divisor=divisor)
    dose = during.ppm_mean * spraying
    if until > whole:
        rest = until - whole
        after = build_up(volume, flow, 0.0, rest, start_ppm=during.ppm_end, divisor=divisor)
        dose += after.ppm_mean * rest
    return dose
