"""Clocks of a coat: flash-off, recoat, the wrinkle window, pot life, in the air that really was.

The data sheet's times hold at its reference air.  Evaporation runs faster or slower as the film
model says (temperature, air speed, and humidity where water is in it), cure by a factor of 2 for
10 K (common practice, no source).  A clock counts the minutes it would have been at reference;
blind minutes (a silent probe) count with the slowest and the fastest pace that may have been, so
the answer stays open exactly as long as it is open.
"""

from dataclasses import dataclass, replace
from enum import StrEnum

from sprayout.climate.levels import Level
from sprayout.climate.moist_air import BoothAir
from sprayout.climate.paint_limits import PaintLimits
from sprayout.climate.part import FOIL, Part
from sprayout.climate.reducer import Blend
from sprayout.climate.wet_film import Film, film_path

_CURE_STEP_K = 10.0
_REFERENCE_RH_PCT = 50.0
_GONE_SHARE = 0.1  # flash-off compares the time for nine tenths of the solvents to leave
_BLIND_C = (5.0, 35.0)  # the air that a silent probe may have been in


class Stage(StrEnum):
    """What to do with a coat now."""

    WET = "leave it: not flashed off"
    EARLY = "too early to recoat"
    RECOAT = "recoat now"
    WRINKLE = "wrinkle window: too late to recoat wet, too early to recoat dry"
    HARD = "recoat again, rub it down first"
    UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True)
class Pace:
    """How fast things go beside the reference air of the data sheet; 2 is twice as fast."""

    evaporation: float
    cure: float


@dataclass(frozen=True, slots=True)
class Elapsed:
    """Minutes since the coat as they would count at reference: least and most they can be."""

    evaporation_min: tuple[float, float] = (0.0, 0.0)
    cure_min: tuple[float, float] = (0.0, 0.0)
    blind_min: float = 0.0


@dataclass(frozen=True, slots=True)
class ClockReading:
    """Where a coat stands and when the next thing happens, in minutes at the present pace."""

    stage: Stage
    level: Level
    next_stage: Stage | None
    next_min: float | None
    words: str


def cure_pace(limits: PaintLimits, air_c: float) -> float:
    """Factor 2 for 10 K from the reference temperature (common practice, no source)."""
    return float(2.0 ** ((air_c - limits.reference_c) / _CURE_STEP_K))


def pace(
    limits: PaintLimits,
    air: BoothAir | None,
    blend: Blend | None = None,
    part: Part = FOIL,
    air_speed_ms: float | None = None,
) -> Pace | None:
    """Pace in this air; ``None`` where the air is not known.

    Without a reducer evaporation is taken to follow the cure's factor of 2 for 10 K.
    """
    if air is None:
        return None
    cure = cure_pace(limits, air.air_c)
    if blend is None:
        return Pace(cure, cure)
    reference = BoothAir(limits.reference_c, _REFERENCE_RH_PCT, air.pressure_pa)
    usual = _gone_s(Film(reference, blend, part))
    now = _gone_s(Film(air, blend, part, air_speed_ms=air_speed_ms))
    return Pace(usual / now, cure)


def _gone_s(film: Film) -> float:
    return float(film_path(film, _GONE_SHARE).time_s[-1])


def advance(elapsed: Elapsed, limits: PaintLimits, now: Pace | None, minutes: float) -> Elapsed:
    """Count ``minutes`` on, at the pace that was; ``None`` for minutes without a reading."""
    if minutes < 0.0:
        raise ValueError(f"a clock cannot run backwards: {minutes} minutes")
    if now is not None:
        return replace(
            elapsed,
            evaporation_min=_plus(
                elapsed.evaporation_min, now.evaporation, now.evaporation, minutes
            ),
            cure_min=_plus(elapsed.cure_min, now.cure, now.cure, minutes),
        )
    slow, fast = (cure_pace(limits, air_c) for air_c in _BLIND_C)
    return Elapsed(
        _plus(elapsed.evaporation_min, slow, fast, minutes),
        _plus(elapsed.cure_min, slow, fast, minutes),
        elapsed.blind_min + minutes,
    )


def _plus(
    span: tuple[float, float], slow: float, fast: float, minutes: float
) -> tuple[float, float]:
    return span[0] + slow * minutes, span[1] + fast * minutes


def read_clock(limits: PaintLimits, elapsed: Elapsed, now: Pace | None) -> ClockReading:
    """Stage of a coat; *unknown* while its limits are unstated or blind minutes leave it open."""
    if limits.flash_off_min is None:
        return _open("the data sheet's flash-off time is not entered")
    if limits.recoat_from_h is None:
        return _open("the data sheet's recoat time is not entered")
    slow, fast = (_stage(limits, elapsed, end) for end in (0, 1))
    if slow is not fast:
        return _open(f"{elapsed.blind_min:.0f} minutes without a reading: {slow} or {fast}")
    following, minutes = _next(limits, elapsed, now)
    words = str(slow)
    if following is not None and minutes is not None:
        words = f"{slow}; in about {_span_words(minutes)}: {following}"
    return ClockReading(slow, _LEVEL_OF[slow], following, minutes, words)


_LEVEL_OF = {
    Stage.WET: Level.CAUTION,
    Stage.EARLY: Level.CAUTION,
    Stage.RECOAT: Level.NONE,
    Stage.WRINKLE: Level.STOP,
    Stage.HARD: Level.NOTE,
}


def _open(why: str) -> ClockReading:
    return ClockReading(Stage.UNKNOWN, Level.UNKNOWN, None, None, f"unknown: {why}")


def _marks(limits: PaintLimits) -> list[tuple[Stage, float, bool]]:
    """Stages in order, the reference minutes at which each begins, and whether cure counts."""
    by_cure = limits.dries_by == "cure"
    hours = (
        (Stage.RECOAT, limits.recoat_from_h),
        (Stage.WRINKLE, limits.wrinkle_from_h),
        (Stage.HARD, limits.wrinkle_to_h),
    )
    marks = [(Stage.EARLY, limits.flash_off_min or 0.0, False)]
    return marks + [(stage, h * 60.0, by_cure) for stage, h in hours if h is not None]


def _stage(limits: PaintLimits, elapsed: Elapsed, end: int) -> Stage:
    stage = Stage.WET
    for following, mark, by_cure in _marks(limits):
        counted = (elapsed.cure_min if by_cure else elapsed.evaporation_min)[end]
        if counted < mark:
            break
        stage = following
    return stage


def _next(
    limits: PaintLimits, elapsed: Elapsed, now: Pace | None
) -> tuple[Stage | None, float | None]:
    for following, mark, by_cure in _marks(limits):
        counted = (elapsed.cure_min if by_cure else elapsed.evaporation_min)[0]
        if counted < mark:
            speed = None if now is None else now.cure if by_cure else now.evaporation
            return following, None if not speed else (mark - counted) / speed
    return None, None


def _span_words(minutes: float) -> str:
    return f"{minutes:.0f} minutes" if minutes < 90.0 else f"{minutes / 60.0:.1f} hours"


def pot_life(limits: PaintLimits, since_mixing: Elapsed, now: Pace | None) -> ClockReading:
    """Pot life of a mixed batch; it runs by cure, so warmth shortens it."""
    if limits.pot_life_h is None:
        return _open("the data sheet's pot life is not entered; a one-part paint has none")
    left = [limits.pot_life_h * 60.0 - counted for counted in since_mixing.cure_min]
    if left[1] <= 0.0:
        stop = "pot life is over or may be: do not spray it, mix anew"
        return ClockReading(Stage.UNKNOWN, Level.STOP, None, 0.0, stop)
    if now is None or now.cure <= 0.0:
        return _open("no reading of the air, so the pot life left is not known")
    minutes = left[1] / now.cure
    level = Level.CAUTION if minutes < 30.0 else Level.NONE
    words = f"usable for about {_span_words(minutes)} more at this temperature"
    return ClockReading(Stage.RECOAT, level, None, minutes, words)
