"""``recoat`` as JSON: where a coat stands in the air it has been in."""

from typing import Any

from sprayout.climate.coat_clocks import (
    ClockReading,
    Elapsed,
    Pace,
    advance,
    pace,
    pot_life,
    read_clock,
)
from sprayout.climate.moist_air import BoothAir
from sprayout.climate.paint_limits import PaintLimits, judge_limits
from sprayout.climate.reducer import parse_reducer


def answer_recoat(
    limits: PaintLimits,
    minutes: float,
    air: BoothAir | None,
    reducer: str | None = None,
    air_speed_ms: float | None = None,
) -> dict[str, Any]:
    """A coat of ``minutes`` ago in one unchanging air; the station counts changing air itself."""
    blend = parse_reducer(reducer) if reducer else None
    now = pace(limits, air, blend, air_speed_ms=air_speed_ms)
    elapsed = advance(Elapsed(), limits, now, minutes)
    dew = air.dew_point_c if air else None
    findings = judge_limits(
        limits, air.air_c if air else None, air.rh_pct if air else None, None, dew
    )
    return {
        "coat": clock_to_json(read_clock(limits, elapsed, now)),
        "pot_life": clock_to_json(pot_life(limits, elapsed, now)),
        "pace": pace_to_json(now),
        "limits": [{"limit": f.limit, "level": str(f.level), "words": f.words} for f in findings],
    }


def clock_to_json(found: ClockReading) -> dict[str, Any]:
    """A clock for the page."""
    return {
        "stage": found.stage.name.lower(),
        "level": str(found.level),
        "next_stage": found.next_stage.name.lower() if found.next_stage else None,
        "next_min": None if found.next_min is None else round(found.next_min, 1),
        "words": found.words,
    }


def pace_to_json(now: Pace | None) -> dict[str, float] | None:
    """Pace beside the data sheet's reference air."""
    if now is None:
        return None
    return {"evaporation": round(now.evaporation, 3), "cure": round(now.cure, 3)}
