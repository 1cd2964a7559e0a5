"""Is a probe telling the truth: silent, stuck, soaked, drifting, slow, or at odds with the others.

Two or more probes in one booth should agree; where they do not, one is named suspect if there is
a reason to: three or more outvote one, and with two the one that shows a fault.  Two that only
disagree leave it open, and say so.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from sprayout.climate.moist_air import dew_point_c

Floats = NDArray[np.float64]

SILENT_S = 15.0
STUCK_S = 1_800.0
SOAKED_PCT, SOAKED_S = 97.0, 600.0
SLOW_S = 120.0
DRIFT_K_DAY = 0.5
# Two probes of ±0.3 K and ±2 %RH (±0.45 K of dew point) each may honestly differ by this much.
AIR_AGREES_K, DEW_AGREES_K = 0.8, 1.3
_RECENT_S = 300.0


class Fault(StrEnum):
    """What may be wrong with a probe."""

    SILENT = "silent"
    STUCK = "stuck"
    SOAKED = "soaked"
    DRIFTING = "drifting"
    SLOW = "slow"
    DISAGREES = "disagrees"


@dataclass(frozen=True, slots=True)
class ProbeSeries:
    """Readings of one probe in time order; arrays of one shape ``(n,)``, NaN for a gap.

    ``checked_days_ago`` is the age of its check over a salt, ``None`` if there was none.
    """

    name: str
    time_s: Floats
    air_c: Floats
    rh_pct: Floats
    checked_days_ago: float | None = None
    silent_s: float = SILENT_S


@dataclass(frozen=True, slots=True)
class ProbeVerdict:
    """What the checks say of one probe; ``agrees`` is ``None`` where nothing could be compared."""

    name: str
    faults: tuple[Fault, ...]
    agrees: bool | None
    words: tuple[str, ...]

    @property
    def suspect(self) -> bool:
        """True where the probe should not be gone by."""
        return bool(self.faults)


@dataclass(frozen=True, slots=True)
class ProbeReport:
    """All probes of a booth; ``open_question`` is a disagreement that names nobody."""

    verdicts: tuple[ProbeVerdict, ...]
    open_question: str | None

    def words(self) -> tuple[str, ...]:
        """Everything that is not as it should be, in words."""
        found = [words for verdict in self.verdicts for words in verdict.words]
        return (*found, self.open_question) if self.open_question else tuple(found)


def check_probes(probes: Sequence[ProbeSeries], now_s: float) -> ProbeReport:
    """Judge all probes of one booth on what they have read so far (hours; a day for drift)."""
    own = {probe.name: _own_faults(probe, probes, now_s) for probe in probes}
    outliers, open_question = _agreement(probes, own, now_s)
    verdicts = []
    for probe in probes:
        found = dict(own[probe.name])
        if probe.name in outliers:
            found[Fault.DISAGREES] = outliers[probe.name]
        words = tuple(f"{probe.name}: {text}" for text in found.values())
        agrees = _agrees(probe, probes, own, outliers, open_question)
        verdicts.append(ProbeVerdict(probe.name, tuple(found), agrees, words))
    return ProbeReport(tuple(verdicts), open_question)


def _agrees(
    probe: ProbeSeries,
    probes: Sequence[ProbeSeries],
    own: dict[str, dict[Fault, str]],
    outliers: dict[str, str],
    open_question: str | None,
) -> bool | None:
    if probe.name in outliers:
        return False
    speaking = [p for p in probes if Fault.SILENT not in own[p.name]]
    if probe not in speaking or len(speaking) < 2 or open_question:
        return None
    return True


def _own_faults(
    probe: ProbeSeries, probes: Sequence[ProbeSeries], now_s: float
) -> dict[Fault, str]:
    found = _plain_faults(probe, probes, now_s)
    if Fault.SILENT in found:
        return found
    # Drift and lag are told against the others, so only against those that nothing is wrong with.
    sound = [o for o in probes if o is not probe and not _plain_faults(o, probes, now_s)]
    checks = ((Fault.DRIFTING, _drifting(probe, sound)), (Fault.SLOW, _slow(probe, sound)))
    return found | {fault: words for fault, words in checks if words}


def _plain_faults(
    probe: ProbeSeries, probes: Sequence[ProbeSeries], now_s: float
) -> dict[Fault, str]:
    good = np.isfinite(probe.air_c) & np.isfinite(probe.rh_pct)
    if not good.any() or now_s - float(probe.time_s[good][-1]) > probe.silent_s:
        return {Fault.SILENT: "silent; look at its cable and power"}
    others = [other for other in probes if other is not probe]
    checks = (
        (Fault.STUCK, _stuck(probe, others, now_s)),
        (Fault.SOAKED, _soaked(probe, others, now_s)),
    )
    return {fault: words for fault, words in checks if words}


def _since(probe: ProbeSeries, values: Floats, since_s: float) -> Floats:
    kept = (probe.time_s >= since_s) & np.isfinite(values)
    return values[kept]


def _spread(values: Floats) -> float:
    return float(values.max() - values.min()) if values.size else 0.0


def _stuck(probe: ProbeSeries, others: Sequence[ProbeSeries], now_s: float) -> str | None:
    """One value for half an hour, while another moved, or with both channels frozen."""
    since = now_s - STUCK_S
    rh, air = _since(probe, probe.rh_pct, since), _since(probe, probe.air_c, since)
    if rh.size < 20 or float(probe.time_s[0]) > since + 60.0 or _spread(rh) > 0.0:
        return None
    moved = any(_spread(_since(o, o.rh_pct, since)) >= 1.0 for o in others)
    if moved or _spread(air) == 0.0:
        return f"stuck at {rh[-1]:.1f} %RH for {STUCK_S / 60:.0f} minutes"
    return None


def _soaked(probe: ProbeSeries, others: Sequence[ProbeSeries], now_s: float) -> str | None:
    """At the top of its range for ten minutes, while no other probe is near it."""
    rh = _since(probe, probe.rh_pct, now_s - SOAKED_S)
    if rh.size < 5 or float(rh.min()) < SOAKED_PCT:
        return None
    heard = [_since(o, o.rh_pct, now_s - SOAKED_S) for o in others]
    if any(h.size and float(np.median(h)) >= SOAKED_PCT - 5.0 for h in heard):
        return None
    doubt = "" if any(h.size for h in heard) else ", unless the air is truly saturated"
    return f"soaked: {rh.min():.0f} %RH or more for {SOAKED_S / 60:.0f} minutes{doubt}; dry it"


def _dew(probe: ProbeSeries) -> Floats:
    return dew_point_c(probe.air_c, probe.rh_pct)


def _reference(others: Sequence[ProbeSeries], time_s: Floats, quantity: str) -> Floats | None:
    """Median over the other probes, brought to ``time_s``."""
    tracks = []
    for other in others:
        values = other.air_c if quantity == "air" else _dew(other)
        good = np.isfinite(values)
        if good.sum() >= 2:
            tracks.append(
                np.interp(time_s, other.time_s[good], values[good], left=np.nan, right=np.nan)
            )
    if not tracks:
        return None
    return np.asarray(np.median(np.vstack(tracks), axis=0))


def _drifting(probe: ProbeSeries, others: Sequence[ProbeSeries]) -> str | None:
    """Dew point running away from the others', told over a day at least.

    With one other probe it cannot be said which of the two runs away, so two are wanted.
    """
    if len(others) < 2:
        return None
    difference = _difference(probe, others)
    if difference is None:
        return None
    hours, gap = difference
    if hours.size < 24 or float(hours[-1] - hours[0]) < 23.0:
        return None
    slope, start = np.polyfit(hours, gap, 1)
    residual = gap - start - slope * hours
    doubt = float(np.std(residual)) / (float(np.std(hours)) * np.sqrt(hours.size / 4.0))
    if abs(slope) * 24.0 < DRIFT_K_DAY or abs(slope) < 3.0 * doubt:
        return None
    return f"drifting: dew point {slope * 24:+.1f} K a day against the others"


def _difference(probe: ProbeSeries, others: Sequence[ProbeSeries]) -> tuple[Floats, Floats] | None:
    """Hourly medians of the dew-point difference to the others."""
    reference = _reference(others, probe.time_s, "dew")
    if reference is None:
        return None
    gap = _dew(probe) - reference
    good = np.isfinite(gap)
    if not good.any():
        return None
    bins = np.floor(probe.time_s[good] / 3_600.0).astype(int)
    hours = np.unique(bins)
    return hours.astype(np.float64), np.array([np.median(gap[good][bins == h]) for h in hours])


def _slow(probe: ProbeSeries, others: Sequence[ProbeSeries]) -> str | None:
    """Lags the others by more than two minutes; told only where the air changed enough."""
    lags = [lag for other in others if (lag := _lag_s(probe, other)) is not None]
    if not lags or min(lags) <= SLOW_S:
        return None
    return f"too slow: {min(lags) / 60:.0f} minutes behind; clear its filter, move it into the air"


def _lag_s(probe: ProbeSeries, other: ProbeSeries) -> float | None:
    """Shift of the other probe's dew point that fits this probe's best, over the last two hours.

    First-order lag is what a clogged filter does; its time constant is searched from 0 to 15 min.
    """
    end = min(float(probe.time_s[-1]), float(other.time_s[-1]))
    grid = np.arange(max(end - 7_200.0, float(probe.time_s[0]), float(other.time_s[0])), end, 20.0)
    if grid.size < 60:
        return None
    mine, theirs = (np.interp(grid, p.time_s, _filled(_dew(p))) for p in (probe, other))
    if _spread(theirs) < 1.5:
        return None
    constants = np.arange(0.0, 901.0, 20.0)
    misfits = [_misfit(mine, _lagged(theirs, constant)) for constant in constants]
    best = int(np.argmin(misfits))
    return float(constants[best]) if misfits[best] < 0.7 * misfits[0] else 0.0


def _filled(values: Floats) -> Floats:
    good = np.isfinite(values)
    index = np.arange(values.size)
    return np.interp(index, index[good], values[good]) if good.any() else np.zeros_like(values)


def _lagged(values: Floats, constant_s: float) -> Floats:
    keep = float(np.exp(-20.0 / constant_s)) if constant_s > 0.0 else 0.0
    out, now = np.empty_like(values), float(values[0])
    for i, value in enumerate(values):
        now = keep * now + (1.0 - keep) * float(value)
        out[i] = now
    return out


def _misfit(one: Floats, other: Floats) -> float:
    gap = one - other
    return float(np.std(gap - gap.mean())) + 1e-6


def _agreement(
    probes: Sequence[ProbeSeries], own: dict[str, dict[Fault, str]], now_s: float
) -> tuple[dict[str, str], str | None]:
    """Outvoted probes by name with the reason, and a disagreement that names nobody."""
    speaking = [p for p in probes if Fault.SILENT not in own[p.name]]
    recent = {p.name: _recent(p, now_s) for p in speaking}
    if len(recent) == 2:
        return _two(speaking, recent, own)
    outvoted: dict[str, str] = {}
    if len(recent) > 2:
        middle = [float(np.median([r[i] for r in recent.values()])) for i in (0, 1)]
        for name, (air, dew) in recent.items():
            if abs(air - middle[0]) > AIR_AGREES_K or abs(dew - middle[1]) > DEW_AGREES_K:
                outvoted[name] = (
                    f"disagrees: air {air - middle[0]:+.1f} K, dew point {dew - middle[1]:+.1f} K "
                    "from the others"
                )
    return outvoted, None


def _recent(probe: ProbeSeries, now_s: float) -> tuple[float, float]:
    since = now_s - _RECENT_S
    air, dew = _since(probe, probe.air_c, since), _since(probe, _dew(probe), since)
    return (
        float(np.median(air)) if air.size else np.nan,
        float(np.median(dew)) if dew.size else np.nan,
    )


def _two(
    speaking: Sequence[ProbeSeries],
    recent: dict[str, tuple[float, float]],
    own: dict[str, dict[Fault, str]],
) -> tuple[dict[str, str], str | None]:
    """Two probes: a fault, or else the older check over a salt, says which one is suspect."""
    (one, (air1, dew1)), (other, (air2, dew2)) = recent.items()
    close = abs(air1 - air2) <= AIR_AGREES_K and abs(dew1 - dew2) <= DEW_AGREES_K
    if close or any(own[name] for name in recent):
        return {}, None
    gap = f"air {air1 - air2:+.1f} K, dew point {dew1 - dew2:+.1f} K"
    unchecked = _longer_unchecked(speaking)
    if unchecked is not None:
        return {
            unchecked: f"disagrees ({one} less {other}: {gap}) and was checked longer ago"
        }, None
    words = "one of them is wrong: check both over a salt, go by the damper one until then"
    return {}, f"{one} and {other} disagree: {gap}; {words}"


def _longer_unchecked(speaking: Sequence[ProbeSeries]) -> str | None:
    """The probe whose check is out of date while the other's is not; ``None`` if both or none."""
    due = [p.name for p in speaking if p.checked_days_ago is None or p.checked_days_ago > 366.0]
    return due[0] if len(due) == 1 else None
