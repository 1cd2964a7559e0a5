"""What would bring the film 3 K above the dew point: how much of each thing that helps."""

from collections.abc import Callable
from dataclasses import dataclass, replace

from sprayout.climate.blush import (
    WANTED_MARGIN_K,
    Blush,
    humidity_for_margin_pct,
)
from sprayout.climate.forecast import Forecast, Outlook
from sprayout.climate.levels import Level
from sprayout.climate.moist_air import BoothAir, rh_from_dew_point_pct
from sprayout.climate.reducer import Blend
from sprayout.climate.solvents import WATER, Solvent, solvent
from sprayout.climate.wet_film import Film, film_path

_MOST_PART_K = 25.0
_MOST_BOOTH_K = 15.0


@dataclass(frozen=True, slots=True)
class Advice:
    """Each remedy alone, ``None`` where it cannot do it by itself.

    ``slow_share`` is the volume share of the reducer to replace by the slow solvent named;
    ``booth_k`` warms air and part together with no moisture added.
    """

    dehumidify_to_pct: float | None
    warm_part_k: float | None
    warm_booth_k: float | None
    slow_share: float | None
    slow_solvent: str
    words: tuple[str, ...]


def advise(film: Film, blush: Blush) -> Advice | None:
    """Remedies for a film that is too near the dew point; ``None`` where nothing is needed."""
    if blush.level is Level.NONE:
        return None
    wanted = blush.dew_point_c + WANTED_MARGIN_K
    slow = _slow_solvent(film.blend)
    dry = humidity_for_margin_pct(film, WANTED_MARGIN_K)
    part_k = _warm_part_k(film, wanted)
    booth_k = _smallest(lambda k: _booth_low(film, k, blush.dew_point_c) - wanted, _MOST_BOOTH_K)
    share = _smallest(lambda x: _slowed_low(film, slow, x) - wanted, 1.0)
    dry_to = dry if dry < film.air.rh_pct else None
    words = (
        _dry_words(dry_to),
        _part_words(film, part_k),
        _booth_words(booth_k),
        _slow_words(share, slow.name),
    )
    return Advice(dry_to, part_k, booth_k, share, slow.name, tuple(w for w in words if w))


def help_words(advice: Advice | None, ahead: Forecast | None = None) -> str:
    """Everything that would help in one line, for a flag; with the wait if the trend is known."""
    wait = (wait_words(ahead),) if ahead is not None else ()
    words = (*(advice.words if advice is not None else ()), *wait)
    return "; ".join(word for word in words if word) or "nothing needed"


def wait_words(ahead: Forecast) -> str:
    """Whether waiting helps, and until about when."""
    if ahead.outlook is not Outlook.REGAINED or ahead.minutes is None:
        return "waiting is not known to help"
    until = f"{ahead.latest_min:.0f}" if ahead.latest_min is not None else "many"
    return f"wait about {ahead.minutes:.0f} minutes ({ahead.earliest_min:.0f} to {until})"


def _smallest(surplus: Callable[[float], float], most: float) -> float | None:
    """Smallest amount that leaves nothing wanting, ``None`` if even the most does not."""
    if surplus(0.0) >= 0.0:
        return 0.0
    if surplus(most) < 0.0:
        return None
    # Imported at use: 50 MB and 0.4 s that an idle bench does not need.
    from scipy.optimize import brentq

    return float(brentq(surplus, 0.0, most, xtol=most * 1e-3))


def _warm_part_k(film: Film, wanted_c: float) -> float | None:
    most = min(_MOST_PART_K, 90.0 - film.start_c)
    return _smallest(
        lambda k: film_path(replace(film, part_c=film.start_c + k)).low_c - wanted_c, most
    )


def _booth_low(film: Film, warmer_k: float, dew_c: float) -> float:
    air_c = min(film.air.air_c + warmer_k, 60.0)
    rh = min(100.0, float(rh_from_dew_point_pct(air_c, dew_c)))
    part = None if film.part_c is None else film.part_c + warmer_k
    air = BoothAir(air_c, rh, film.air.pressure_pa)
    return film_path(replace(film, air=air, part_c=part)).low_c


def _slowed_low(film: Film, slow: Solvent, share: float) -> float:
    slowed = film.blend.mixed_with(Blend((slow,), (1.0,)), share)
    return film_path(replace(film, blend=slowed)).low_c


def _slow_solvent(blend: Blend) -> Solvent:
    """A stand-in for a slow reducer: relative evaporation rate 0.4, or 0.07 for water-borne."""
    borne = WATER in (s.name for s in blend.solvents)
    return solvent("EB (2-butoxyethanol)" if borne else "MAK (2-heptanone)")


def _dry_words(dry_to: float | None) -> str:
    return f"dry the air to {dry_to:.0f} %RH at this temperature" if dry_to is not None else ""


def _part_words(film: Film, warmer_k: float | None) -> str:
    if film.part.metal is None:
        return "warming the part does nothing on foil, which holds no heat"
    if warmer_k is None:
        return f"warming the part alone does not do it, not even by {_MOST_PART_K:.0f} K"
    if warmer_k <= 0.0:
        return ""
    to_c = film.start_c + warmer_k
    return f"warm the part by {warmer_k:.1f} K, to {to_c:.0f} °C, the heater off before you spray"


def _booth_words(warmer_k: float | None) -> str:
    if warmer_k is None:
        return f"warming the booth alone does not do it, not even by {_MOST_BOOTH_K:.0f} K"
    if warmer_k <= 0.0:
        return ""
    return f"warm booth and part by {warmer_k:.1f} K without adding moisture (no open flame)"


def _slow_words(share: float | None, name: str) -> str:
    if share is None:
        return "no slower reducer does it alone"
    if share <= 0.0:
        return ""
    return (
        f"take a slower reducer: as if {share * 100:.0f} % of it were one like {name}; "
        "only one that the paint's maker allows"
    )
