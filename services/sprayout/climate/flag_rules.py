"""The flags of the bench as a table: what each one reads, how it judges, what it says.

A rule looks at one moment only; hysteresis over time and minimum dwell are in
:mod:`sprayout.climate.flags`.  A missing, silent or impossible input is judged *unknown*.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Literal

from sprayout.climate.forecast import Forecast, Outlook
from sprayout.climate.levels import MARGIN_SCALE, Level, Scale
from sprayout.climate.moist_air import dew_point_c
from sprayout.climate.paint_limits import LimitFinding

SILENT_AFTER_MS = 15_000


@dataclass(frozen=True, slots=True)
class Measured:
    """Last value of a channel and its age; ``None`` where nothing ever came."""

    value: float | None
    age_ms: int | None

    @classmethod
    def missing(cls) -> "Measured":
        """A channel that the bench has and that has not spoken."""
        return cls(None, None)

    def fresh(self, low: float, high: float, silent_after_ms: int) -> float | None:
        """The value if it is recent and possible, else ``None``."""
        if self.value is None or self.age_ms is None or self.age_ms > silent_after_ms:
            return None
        return self.value if low <= self.value <= high else None


FanState = Literal["confirmed", "not confirmed", "unknown"]


@dataclass(frozen=True, slots=True)
class BoothInputs:
    """What the rules read at one moment.  ``None`` for a channel that the bench does not have."""

    air_c: Measured
    rh_pct: Measured
    part_c: Measured | None = None
    part_words: str = ""
    fan_state: FanState = "unknown"
    fan_words: str = "no sensor says that the fan turns"
    calibration_age_days: float | None = None
    calibration_due: tuple[str, ...] = ()
    fan_wanted: bool | None = None
    film_margin_k: Measured | None = None
    film_advice: str | None = None
    film_unknown: str = ""
    paint_rh_max_pct: float = 85.0
    paint_findings: tuple[LimitFinding, ...] = ()
    probe_words: tuple[str, ...] = ()
    probes_due: tuple[str, ...] = ()
    forecast: Forecast | None = None
    silent_after_ms: int = SILENT_AFTER_MS

    def dew_point_c(self) -> float | None:
        """Dew (or frost) point of the booth air, ``None`` unless both readings are good."""
        air, rh = self.fresh_air_c(), self.fresh_rh_pct()
        return None if air is None or rh is None else float(dew_point_c(air, rh))

    def fresh_air_c(self) -> float | None:
        """Air temperature if it is recent and within -20…60 °C."""
        return self.air_c.fresh(-20.0, 60.0, self.silent_after_ms)

    def fresh_rh_pct(self) -> float | None:
        """Relative humidity if it is recent and within 0.1…100 %."""
        return self.rh_pct.fresh(0.1, 100.0, self.silent_after_ms)


@dataclass(frozen=True, slots=True)
class Judgement:
    """What a rule finds at one moment; ``value`` is ``None`` where it cannot judge."""

    value: float | None
    scale: Scale
    words: str
    rests_on: tuple[str, ...]
    would_help: str

    def level(self, standing: Level) -> Level:
        """Level now, given the last level that was known."""
        if self.value is None or math.isnan(self.value):
            return Level.UNKNOWN
        return self.scale.level(self.value, standing)


@dataclass(frozen=True, slots=True)
class FlagRule:
    """One flag: a level must hold ``raise_after_ms`` to rise and ``lower_after_ms`` to fall."""

    key: str
    title: str
    judge: Callable[[BoothInputs], Judgement]
    raise_after_ms: int = 3_000
    lower_after_ms: int = 60_000


# Without a film margin the humidity alone is judged: the paint's limit gives caution, and from
# 50 %RH there is a note, for a fast reducer on foil may blush there (blush model, medium lacquer
# thinner at 26.7 °C: nil margin at 54 %RH).
_FAST_REDUCER_RH_PCT = 50.0


def _unknown(missing: str, scale: Scale, rests_on: tuple[str, ...]) -> Judgement:
    words = f"cannot be judged: {missing} is missing, silent or impossible"
    return Judgement(None, scale, words, rests_on, "look at the probe, its cable and its power")


def judge_humid(inputs: BoothInputs) -> Judgement:
    """Blush risk, from the film margin where a reducer is known, else from humidity alone."""
    if inputs.film_margin_k is None:
        return _judge_humidity_alone(inputs)
    margin = inputs.film_margin_k.fresh(-100.0, 100.0, inputs.silent_after_ms)
    rests_on = ("film_margin_k", "air_temperature", "relative_humidity")
    if inputs.film_unknown:
        words = f"the wet film cannot be worked out: {inputs.film_unknown}"
        help_ = "a reducer whose solvents are known, or the maker's word on humidity"
        return Judgement(None, MARGIN_SCALE, words, rests_on, help_)
    if margin is None or inputs.fresh_air_c() is None or inputs.fresh_rh_pct() is None:
        return _unknown("the film margin or the booth air", MARGIN_SCALE, rests_on)
    side = "above" if margin >= 0.0 else "below"
    words = f"the wet film would come to {abs(margin):.1f} K {side} the dew point"
    help_ = inputs.film_advice or "a slower reducer, a warmer part, drier air, or wait"
    return Judgement(margin, MARGIN_SCALE, words, rests_on, help_)


def _judge_humidity_alone(inputs: BoothInputs) -> Judgement:
    limit = inputs.paint_rh_max_pct
    scale = Scale(hysteresis=2.0, note=min(_FAST_REDUCER_RH_PCT, limit - 1.0), caution=limit)
    rests_on = ("relative_humidity",)
    rh = inputs.fresh_rh_pct()
    if rh is None:
        return _unknown("relative humidity", scale, rests_on)
    words = f"{rh:.0f} %RH, the paint's limit {limit:g}; no reducer given, so no film temperature"
    return Judgement(rh, scale, words, rests_on, "name the reducer, then the film is worked out")


def judge_surface(inputs: BoothInputs) -> Judgement:
    """Margin of the bare part to the dew point."""
    rests_on = ("part_temperature", "air_temperature", "relative_humidity")
    dew = inputs.dew_point_c()
    if dew is None:
        return _unknown("air temperature or humidity", MARGIN_SCALE, rests_on)
    if inputs.part_c is None:
        return _judge_unmeasured_surface(inputs, dew)
    part = inputs.part_c.fresh(-20.0, 90.0, inputs.silent_after_ms)
    if part is None:
        unknown = _unknown("part temperature", MARGIN_SCALE, rests_on)
        if not inputs.part_words:
            return unknown
        return replace(unknown, words=f"part temperature is not known: {inputs.part_words}")
    how = f" ({inputs.part_words})" if inputs.part_words else ""
    words = (
        f"part {part:.1f} °C{how}, dew point {dew:.1f} °C: margin {part - dew:.1f} K, wanted 3 K"
    )
    return Judgement(part - dew, MARGIN_SCALE, words, rests_on, _warm_to(part, dew))


def _judge_unmeasured_surface(inputs: BoothInputs, dew: float) -> Judgement:
    """No thermometer on the part: it is taken as warm as the air, and never judged *none*."""
    air = inputs.fresh_air_c()
    assert air is not None  # a dew point was worked out from it
    scale = Scale(hysteresis=0.5, note=math.inf, caution=3.0, stop=0.0, low_is_bad=True)
    words = (
        f"part temperature is not measured; were it that of the air, the margin to the dew point "
        f"would be {air - dew:.1f} K"
    )
    help_ = "measure the part; one brought in from the cold may be wet already"
    return Judgement(air - dew, scale, words, ("air_temperature", "relative_humidity"), help_)


def _warm_to(part_c: float, dew_c: float) -> str:
    short = dew_c + 3.0 - part_c
    if short <= 0.0:
        return "nothing needed"
    return f"warm the part by {short:.1f} K, to {dew_c + 3.0:.1f} °C, or dry the air"


def judge_silent(inputs: BoothInputs) -> Judgement:
    """Seconds since the booth probe last gave both air temperature and humidity."""
    limit_s = inputs.silent_after_ms / 1e3
    scale = Scale(hysteresis=0.0, caution=limit_s)
    rests_on = ("air_temperature", "relative_humidity")
    help_ = "look at the probe, its cable and its power; do not go by the last numbers"
    ages = [m.age_ms for m in (inputs.air_c, inputs.rh_pct) if m.value is not None]
    if len(ages) < 2 or None in ages:
        return Judgement(math.inf, scale, "the booth probe has not spoken", rests_on, help_)
    age_s = max(age for age in ages if age is not None) / 1e3
    if age_s <= limit_s and (inputs.fresh_air_c() is None or inputs.fresh_rh_pct() is None):
        words = f"the booth probe reads {inputs.air_c.value:g} °C, {inputs.rh_pct.value:g} %RH"
        return Judgement(math.inf, scale, f"{words}, which cannot be", rests_on, help_)
    words = f"the booth probe last spoke {age_s:.0f} s ago"
    return Judgement(age_s, scale, words, rests_on, help_)


# Days after which the white tile is due; common practice, no source.
_CALIBRATION_NOTE_DAYS = 7.0
_CALIBRATION_SCALE = Scale(hysteresis=0.0, note=_CALIBRATION_NOTE_DAYS, caution=30.0)


def judge_calibration(inputs: BoothInputs) -> Judgement:
    """Age of the colour calibration, and what else makes it due."""
    age = inputs.calibration_age_days
    rests_on, help_ = ("calibration",), "measure dark and white tile"
    if age is None or math.isnan(age):
        words = "the sensor has not been calibrated"
        return Judgement(math.inf, _CALIBRATION_SCALE, words, rests_on, help_)
    if inputs.calibration_due:
        # The colour room's own reasons: hours, temperature, the check tile.  At least a note.
        value = max(age, _CALIBRATION_NOTE_DAYS + 1.0)
        return Judgement(
            value, _CALIBRATION_SCALE, "; ".join(inputs.calibration_due), rests_on, help_
        )
    words = f"white tile last measured {age:.1f} days ago"
    return Judgement(age, _CALIBRATION_SCALE, words, rests_on, help_)


# 1 where the fan is confirmed, 0 where it is not.
_FAN_SCALE = Scale(hysteresis=0.0, stop=0.5, low_is_bad=True)


def judge_fan(inputs: BoothInputs) -> Judgement:
    """Fan state, as the safety room judges it, while somebody sprays or may be spraying."""
    rests_on = ("air_speed", "booth_pressure", "fan_power")
    if inputs.fan_wanted is False:
        return Judgement(math.inf, _FAN_SCALE, "nobody is spraying", rests_on, "nothing needed")
    value = {"confirmed": 1.0, "not confirmed": 0.0}.get(inputs.fan_state)
    help_ = "switch the fan on, look at filter and duct; do not spray without it"
    return Judgement(value, _FAN_SCALE, inputs.fan_words, rests_on, help_)


# For findings that come with a level of their own: 1 note, 2 caution.
_FINDING_SCALE = Scale(hysteresis=0.0, note=0.5, caution=1.5)


def judge_paint_limits(inputs: BoothInputs) -> Judgement:
    """The booth against the data sheet of the paint in hand; nothing where no paint is chosen."""
    rests_on, help_ = ("paint data sheet", "booth air"), "wait, or warm or dry the booth"
    broken = [f for f in inputs.paint_findings if f.level in (Level.CAUTION, Level.STOP)]
    unread = [f for f in inputs.paint_findings if f.level is Level.UNKNOWN]
    words = "; ".join(f.words for f in (broken or unread)) or "nothing outside the data sheet"
    value = 2.0 if broken else None if unread else 0.0
    return Judgement(value, _FINDING_SCALE, words, rests_on, help_)


def judge_probes(inputs: BoothInputs) -> Judgement:
    """What the checks of the probes against each other found."""
    words = "; ".join(inputs.probe_words) or "no probe is suspect"
    help_ = "check the probes over a salt; go by the damper one until then"
    value = 2.0 if inputs.probe_words else 0.0
    return Judgement(value, _FINDING_SCALE, words, ("probes",), help_)


def judge_probes_due(inputs: BoothInputs) -> Judgement:
    """Humidity probes whose check over a salt is out of date; a note."""
    words = "; ".join(inputs.probes_due) or "no salt check is out of date"
    help_ = "check the probe over one or two saturated salts"
    value = 1.0 if inputs.probes_due else 0.0
    return Judgement(value, _FINDING_SCALE, words, ("salt checks",), help_)


_SOON_SCALE = Scale(hysteresis=15.0, note=30.0, low_is_bad=True)


def judge_forecast(inputs: BoothInputs) -> Judgement:
    """Minutes until the margin is lost, by its trend; an extra warning, no judgement of now."""
    rests_on, help_ = ("margin trend",), "spray the last coat before then, or not tonight"
    ahead = inputs.forecast
    if ahead is None or ahead.outlook is not Outlook.LOST or ahead.minutes is None:
        words = ahead.words if ahead is not None else "no forecast yet"
        return Judgement(math.inf, _SOON_SCALE, words, rests_on, help_)
    return Judgement(ahead.minutes, _SOON_SCALE, ahead.words, rests_on, help_)


RULES: tuple[FlagRule, ...] = (
    FlagRule("humid_blush_risk", "humid: blush risk", judge_humid, 3_000, 120_000),
    FlagRule("surface_near_dew_point", "surface near dew point", judge_surface, 3_000, 120_000),
    FlagRule("probe_silent", "probe silent", judge_silent, 0, 10_000),
    FlagRule("calibration_due", "calibration due", judge_calibration, 0, 0),
    FlagRule("fan_not_confirmed", "fan not confirmed", judge_fan, 5_000, 5_000),
    FlagRule("outside_paint_limits", "outside the paint's limits", judge_paint_limits),
    FlagRule("probe_suspect", "probe suspect", judge_probes, 60_000, 600_000),
    FlagRule("probe_check_due", "humidity probe's check due", judge_probes_due, 0, 0),
    FlagRule("margin_going", "margin will be lost soon", judge_forecast, 120_000, 600_000),
)
