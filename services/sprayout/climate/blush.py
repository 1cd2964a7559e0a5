"""Will it blush: the film's coldest moment against the dew point, with its ± and what would help.

Margin = film minimum - dew point: 3 K or more *none*, 0 to 3 K *caution*, below 0 *stop*.  Beside
it the bare surface is wanted 3 K above the dew point and the humidity at most 85 %RH, unless the
paint's data sheet says otherwise (the usual reading of ISO 8502-4 and ISO 12944-7).
"""

import math
from dataclasses import dataclass, replace

from sprayout.climate.heat_transfer import BETA_RANGE
from sprayout.climate.levels import MARGIN_SCALE, Level
from sprayout.climate.moist_air import rh_from_dew_point_pct
from sprayout.climate.reducer import SheetReducer
from sprayout.climate.solvents import WATER
from sprayout.climate.wet_film import Film, FilmPath, film_path, steady_film_c

WANTED_MARGIN_K = 3.0
RH_LIMIT_PCT = 85.0
MODEL_ERROR_K = 1.0
_DRIEST_PCT = 0.5


@dataclass(frozen=True, slots=True)
class SensorError:
    """Half-width of what the probe may be off; defaults are common data-sheet values."""

    air_k: float = 0.3
    rh_pct: float = 2.0
    part_k: float = 0.5


@dataclass(frozen=True, slots=True)
class Blush:
    """The answer for one film in one air.

    ``blush_rh_pct`` is the humidity at which the margin would be nil at this air temperature
    (100 where no humidity does it), ``caution_rh_pct`` the one at which it would be 3 K.
    ``sensor_error_k`` is what sensor error alone does to the margin; ``model_error_k`` comes on
    top.  ``film_steady_c`` is the fresh film's balance without any heat store.
    """

    film_low_c: float
    low_at_s: float
    film_steady_c: float
    dew_point_c: float
    point_kind: str
    margin_k: float
    surface_margin_k: float
    blush_rh_pct: float
    caution_rh_pct: float
    sensor_error_k: float
    beta_spread_k: float
    level: Level
    reasons: tuple[str, ...]
    film_range_c: tuple[float, float] | None = None

    @property
    def plus_minus_k(self) -> float:
        """Sensor and model error together."""
        return math.hypot(self.sensor_error_k, MODEL_ERROR_K)


def assess(
    film: Film, errors: SensorError | None = None, rh_limit_pct: float = RH_LIMIT_PCT
) -> Blush:
    """Judge one film; ``rh_limit_pct`` is the paint's own limit if its data sheet has one."""
    path = film_path(film)
    dew = film.air.dew_point_c
    margin, surface = path.low_c - dew, film.start_c - dew
    level, reasons = _judge(film, margin, surface, rh_limit_pct)
    return Blush(
        film_low_c=path.low_c,
        low_at_s=path.low_at_s,
        film_steady_c=steady_film_c(film),
        dew_point_c=dew,
        point_kind=film.air.dew_point_kind,
        margin_k=margin,
        surface_margin_k=surface,
        blush_rh_pct=humidity_for_margin_pct(film, 0.0, path),
        caution_rh_pct=humidity_for_margin_pct(film, WANTED_MARGIN_K, path),
        sensor_error_k=_sensor_error_k(film, margin, errors or SensorError()),
        beta_spread_k=_beta_spread_k(film),
        level=level,
        reasons=reasons,
    )


def assess_sheet(
    film: Film,
    sheet: SheetReducer,
    errors: SensorError | None = None,
    rh_limit_pct: float = RH_LIMIT_PCT,
) -> Blush:
    """Judge a reducer known by ranges: figures of the middle, level of the fastest blend."""
    middle = assess(replace(film, blend=sheet.middle), errors, rh_limit_pct)
    fast = assess(replace(film, blend=sheet.fastest), errors, rh_limit_pct)
    slow = film_path(replace(film, blend=sheet.slowest)).low_c
    ends = sorted((fast.film_low_c, middle.film_low_c, slow))
    worse = fast if fast.level.rank > middle.level.rank else middle
    return replace(
        middle,
        level=worse.level,
        reasons=tuple(dict.fromkeys((*middle.reasons, *worse.reasons))),
        film_range_c=(ends[0], ends[-1]),
    )


def _judge(
    film: Film, margin: float, surface: float, rh_limit_pct: float
) -> tuple[Level, tuple[str, ...]]:
    reasons = []
    level = MARGIN_SCALE.level(margin)
    if level is not Level.NONE:
        reasons.append(f"film {_side(margin)} the dew point, wanted 3 K above")
    if MARGIN_SCALE.level(surface) is not Level.NONE:
        reasons.append(f"bare part {_side(surface)} the dew point, wanted 3 K above")
        level = _worse(level, MARGIN_SCALE.level(surface))
    if film.air.rh_pct > rh_limit_pct:
        reasons.append(f"humidity {film.air.rh_pct:.0f} %RH, limit {rh_limit_pct:g}")
        level = _worse(level, Level.CAUTION)
    return level, tuple(reasons)


def _side(margin_k: float) -> str:
    return f"{abs(margin_k):.1f} K {'above' if margin_k >= 0.0 else 'below'}"


def _worse(one: Level, other: Level) -> Level:
    return max(one, other, key=lambda level: level.rank)


def with_rh(film: Film, rh_pct: float) -> Film:
    """The same film in air of another humidity."""
    return replace(film, air=replace(film.air, rh_pct=rh_pct))


def humidity_for_margin_pct(film: Film, margin_k: float, path: FilmPath | None = None) -> float:
    """Humidity at which the margin would be ``margin_k`` at this air temperature, at most 100.

    Solvents do not feel the humidity, so one path does; water does, and is solved for.
    """
    if WATER not in (s.name for s in film.blend.solvents):
        low_c = (path or film_path(film)).low_c
        return min(100.0, float(rh_from_dew_point_pct(film.air.air_c, low_c - margin_k)))

    def surplus(rh_pct: float) -> float:
        there = with_rh(film, rh_pct)
        return film_path(there).low_c - there.air.dew_point_c - margin_k

    if surplus(100.0) >= 0.0:
        return 100.0
    if surplus(_DRIEST_PCT) <= 0.0:
        return _DRIEST_PCT
    # Imported at use: 50 MB and 0.4 s that an idle bench does not need.
    from scipy.optimize import brentq

    return float(brentq(surplus, _DRIEST_PCT, 100.0, xtol=0.02))


def _margin(film: Film) -> float:
    return film_path(film).low_c - film.air.dew_point_c


def _sensor_error_k(film: Film, margin: float, errors: SensorError) -> float:
    """Root sum of squares of the margin's answer to each sensor's error, taken one at a time."""
    air = film.air
    warm = replace(film, air=replace(air, air_c=min(air.air_c + errors.air_k, 60.0)))
    step = errors.rh_pct if air.rh_pct + errors.rh_pct <= 100.0 else -errors.rh_pct
    damp = with_rh(film, max(air.rh_pct + step, _DRIEST_PCT))
    changes = [_margin(warm) - margin, _margin(damp) - margin]
    if film.part_c is not None and film.part_c + errors.part_k <= 90.0:
        changes.append(_margin(replace(film, part_c=film.part_c + errors.part_k)) - margin)
    return math.hypot(*changes)


def _beta_spread_k(film: Film) -> float:
    """Half the spread of the film's low over the β that the evaporation rates leave open."""
    low, high = (film_path(replace(film, beta=beta)).low_c for beta in BETA_RANGE)
    return abs(high - low) / 2.0
