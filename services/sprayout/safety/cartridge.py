"""How long an organic-vapour cartridge may serve, and the log of one that is in use.

The rule of thumb (OSHA Respirator eTool, after AIHA, The Occupational Environment, ch. 36):
boiling point above 70 °C and below 200 ppm gives 8 h at normal work; life falls in proportion to
work, grows five-fold for a tenth of the concentration, and halves above 85 % humidity.  Use it
only together with another method.  Between the published points we interpolate with the
exponent log10(5) (derived).
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from sprayout.errors import BadInput
from sprayout.safety.assessment import Finding, Level, Row
from sprayout.safety.given import above_zero, not_below_zero, percent
from sprayout.safety.refusals import for_substance, named
from sprayout.safety.substances import Substance
from sprayout.safety.tables import sources

EXPONENT = math.log10(5.0)
RULE_HOURS, RULE_PPM, RULE_BOILING_C, HUMID_PCT = 8.0, 200.0, 70.0, 85.0
VOLATILE_BELOW_C = 65.0
"""Below this boiling point an opened cartridge is not kept: vapour wanders through it (memory)."""


@dataclass(frozen=True, slots=True)
class Estimate:
    """Hours of the rule of thumb, or ``None`` and the ``reason`` why it does not apply."""

    hours: float | None
    reason: str


def rule_of_thumb_h(ppm: float, rh_pct: float, work_ratio: float = 1.0) -> float:
    """8 h (200/C)^log10(5) / work, halved above 85 %RH: bare arithmetic, validity unchecked."""
    amount = above_zero("concentration", ppm, "ppm", "a cartridge's life at 0 ppm is not a figure")
    work = above_zero("work ratio", work_ratio, do="1 is normal work, 2 is twice the breathing")
    humid = 0.5 if percent("relative humidity", rh_pct) > HUMID_PCT else 1.0
    return RULE_HOURS * math.pow(RULE_PPM / amount, EXPONENT) / work * humid


def estimate(substance: Substance, ppm: float, rh_pct: float, work_ratio: float = 1.0) -> Estimate:
    """Hours where the published rule applies, else ``None`` with the reason."""
    hours = rule_of_thumb_h(ppm, rh_pct, work_ratio)
    reason = does_not_apply(substance, ppm)
    return Estimate(None if reason else hours, reason)


def refused(substance: Substance, ppm: float | None) -> str:
    """The words of a substance that is refused or has reached IDLH; empty where neither is so."""
    refusal = for_substance(substance)
    if refusal:
        return refusal.words()
    idlh = substance.idlh_in_ppm
    reached = idlh is not None and ppm is not None and ppm >= idlh.value
    return named("idlh").words() if reached else ""


def does_not_apply(substance: Substance, ppm: float, own_ppm: float | None = None) -> str:
    """Why the rule says nothing of this vapour at this concentration; empty where it does.

    ``own_ppm`` is the vapour's own part of ``ppm`` where several count together; IDLH is its own.
    """
    stop = refused(substance, ppm if own_ppm is None else own_ppm)
    if stop:
        return stop
    if substance.kind == "particulate":
        return f"Does not apply: {substance.name} is a particulate, the rule is for organic vapour."
    if substance.filter_us == "ammonia":
        return f"Does not apply: {substance.name} needs its own cartridge; ask its maker."
    boiling = substance.boiling_c
    if boiling is None:
        return f"Does not apply: the boiling point of {substance.name} is not known to us."
    if boiling.value <= RULE_BOILING_C:
        return (
            f"Does not apply: {substance.name} boils at {boiling.value:g} °C and the rule is for "
            "more than 70 °C; such vapour passes early. Ask the cartridge's maker."
        )
    if ppm > RULE_PPM:
        return (
            f"Does not apply: {ppm:g} ppm, and the rule covers up to 200 ppm. Ventilate, or ask "
            "the cartridge's maker."
        )
    return ""


@dataclass(frozen=True, slots=True)
class CartridgeLog:
    """One pair of cartridges in use.

    ``opened_days_ago`` is ``None`` where nobody wrote the date; ``humid_h`` is the part of
    ``worn_h`` above 85 %RH or with no humidity reading.
    """

    label: str
    opened_days_ago: float | None
    worn_h: float = 0.0
    humid_h: float = 0.0


def worn(log: CartridgeLog, hours: float, rh_pct: float | None) -> CartridgeLog:
    """The log after ``hours`` more; without a humidity reading they count as humid."""
    more = not_below_zero("hours worn", hours, "h")
    if more > 24:
        raise BadInput(f"hours worn: got {more:g}, wanted at most 24 at a time; enter hours")
    humid = rh_pct is None or percent("relative humidity", rh_pct) > HUMID_PCT
    return replace(log, worn_h=log.worn_h + more, humid_h=log.humid_h + (more if humid else 0.0))


@dataclass(frozen=True, slots=True)
class PairState:
    """What is to be said of a pair in use; ``left_h`` ``None`` where it cannot be reckoned.

    ``more`` is what a fresh pair is told as well.
    """

    level: Level
    words: str
    more: str = ""
    left_h: float | None = None


def pair_state(
    log: CartridgeLog,
    vapours: Sequence[tuple[Substance, float | None]],
    ppm: float | None,
    work_ratio: float = 1.0,
) -> PairState:
    """Whether it is time to change a pair, for ``vapours`` with the ppm of each.

    The rule's hours in air that is not humid, at ``ppm`` of all together, less the hours worn,
    humid ones counted twice.  Without opening date or concentration nothing is judged; where the
    rule does not apply a pair that was opened on an earlier day is to be changed.
    """
    known = _not_by_the_rule(log, vapours)
    if known:
        return known
    worn_h = f"worn {log.worn_h:.1f} h"
    if ppm is None:
        more = "Concentration not known; follow the maker's schedule."
        return PairState(Level.CANNOT_ASSESS, f"{worn_h}.", more)
    reasons = [why for substance, own in vapours if (why := does_not_apply(substance, ppm, own))]
    hours = rule_of_thumb_h(ppm, 50.0, work_ratio)
    if reasons:
        return PairState(Level.CANNOT_ASSESS, f"{worn_h}.", reasons[0])
    left = hours - (log.worn_h + log.humid_h)
    if left <= 0:
        return PairState(Level.STOP, f"{worn_h}, over the rule of thumb: change it.", "", 0.0)
    words = f"{worn_h}, about {left:.1f} h left by the rule, in which humid hours count twice."
    return PairState(Level.CAUTION, words, _BY_THE_RULE, left)


_BY_THE_RULE = (
    "A rule of thumb counts only beside the maker's data. Smell or taste is a reason to leave at "
    "once."
)


def _not_by_the_rule(
    log: CartridgeLog, vapours: Sequence[tuple[Substance, float | None]]
) -> PairState | None:
    """What decides before any hours are reckoned: a refusal, no date, a solvent that wanders."""
    stops = [why for substance, own in vapours if (why := refused(substance, own))]
    if stops:
        return PairState(Level.REFUSE, f"worn {log.worn_h:.1f} h.", stops[0])
    if log.opened_days_ago is None:
        words = "no opening date; change it and write the date on it."
        return PairState(Level.CANNOT_ASSESS, words)
    wandering = [substance.name for substance, _ in vapours if wanders(substance)]
    if wandering and log.opened_days_ago >= 1:
        return PairState(Level.STOP, f"opened before today and {wandering[0]} wanders: change it.")
    return None


def pair_rows(log: CartridgeLog, state: PairState) -> tuple[Row, ...]:
    """The hours of a pair in use."""
    return (
        Row("worn_h", f"worn: {log.label}", log.worn_h, "h"),
        Row("humid_h", "of it in humid or unread air", log.humid_h, "h"),
        Row("left_h", "left by the rule of thumb, humid hours twice", state.left_h, "h"),
    )


def judge(
    log: CartridgeLog, substance: Substance, ppm: float | None, work_ratio: float = 1.0
) -> Finding:
    """Whether it is time to change, for one substance: :func:`pair_state` as a finding."""
    state = pair_state(log, [(substance, ppm)], ppm, work_ratio)
    words = f"Cartridge {log.label}: {state.words} {state.more}".strip()
    found = sources(("osha_etool", "osha_134", "cpl_cartridge"))
    return Finding("cartridge", state.level, words, found, pair_rows(log, state))


def wanders(substance: Substance) -> bool:
    """Whether an opened cartridge is not kept for it: it boils below 65 °C, or nobody knows."""
    boiling = substance.boiling_c
    return boiling is None or boiling.value < VOLATILE_BELOW_C
