"""What stands between the vapour and the lungs of one coat: the respirator and its cartridge."""

from collections.abc import Sequence
from dataclasses import replace

from sprayout.safety import two_box
from sprayout.safety.assessment import Finding, Level, Row
from sprayout.safety.breathing import KEYS as BREATHING
from sprayout.safety.breathing import Room, cannot_assess, why_unknown
from sprayout.safety.cartridge import (
    HUMID_PCT,
    CartridgeLog,
    does_not_apply,
    pair_rows,
    pair_state,
    refused,
    rule_of_thumb_h,
)
from sprayout.safety.load import Coat, Load
from sprayout.safety.respirator import REMINDERS, classes_of_factor, filter_words
from sprayout.safety.room_air import build_up
from sprayout.safety.substances import Substance
from sprayout.safety.tables import sources
from sprayout.safety.wording import said

Each = Sequence[tuple[Substance, float]]
"""The vapours with the peak of each, ppm."""


def judge_respirator(load: Load | None, breathing: list[Finding], region: str) -> Finding:
    """The filter the solvents point to and the classes whose factor covers the estimate.

    Always a caution, never a release; nothing where the estimate or a limit is missing.
    """
    cites = sources(("osha_134", "hsg53") if region != "us" else ("osha_134",))
    if load is None or not load.complete:
        words = f"Respirator: cannot say which filter. {REMINDERS[0]}"
        help_ = ("read the respirator off the product's safety data sheet",)
        return Finding("respirator", Level.CANNOT_ASSESS, words, cites, would_help=help_)
    kinds = dict.fromkeys(filter_words(v.substance, region) for v in load.vapours)
    if "" in kinds:
        words = "Respirator: no cartridge is relied on for one of the solvents; supplied air only."
        help_ = ("a product without that solvent",)
        return Finding("respirator", Level.STOP, words, cites, would_help=help_)
    factor = _factor_needed(breathing)
    words = f"Respirator: {' and '.join(kinds)}. {_factor_words(factor, region)}"
    level = Level.CANNOT_ASSESS if factor is None else Level.CAUTION
    rows = (Row("factor_needed", "assigned factor it would take", factor, ""),)
    return Finding(
        "respirator",
        level,
        f"{words} {' '.join(REMINDERS)}",
        cites,
        rows,
        ("assigned factors hold for a fitted, trained wearer without a beard",),
        REMINDERS,
    )


def _factor_needed(breathing: list[Finding]) -> float | None:
    """The larger of the two indices: the factor that brings both to 1; ``None`` if one is missing
    or IDLH is reached."""
    indices = [dict(f.figures).get("index") for f in breathing if f.key in BREATHING]
    if len(indices) != len(breathing) or not indices:
        return None
    known_ones = [index for index in indices if index is not None]
    return max(known_ones) if len(known_ones) == len(indices) else None


def _factor_words(factor: float | None, region: str) -> str:
    if factor is None:
        return "Which factor it takes cannot be said: the estimate or a limit is missing."
    names = classes_of_factor(factor, region)
    if not names:
        return f"No cartridge class has a factor of {said(factor)}: ventilate, do not spray."
    return (
        f"An assigned factor of {said(max(factor, 1.0))} or more would bring this estimate to the "
        f"limits: {', '.join(names)}. Ventilate first."
    )


def judge_change_out(
    load: Load | None,
    coat: Coat | None,
    room: Room | None,
    fresh_m3h: float | None,
    rh_pct: float | None,
    log: CartridgeLog | None = None,
) -> Finding:
    """Hours of a fresh cartridge by the rule of thumb, where it applies to every solvent.

    All vapours count together at the highest concentration of the coat; without a humidity
    reading the air counts as humid.  ``log`` is the pair in use, judged by
    :func:`~sprayout.safety.cartridge.pair_state`.
    """
    if load is None or coat is None or not load.complete:
        return cannot_assess("cartridge", why_unknown(load))
    if room is None or fresh_m3h is None:
        return cannot_assess("cartridge", "room volume or the air that leaves it is not known")
    ppm = _peak_ppm(load, coat, room, fresh_m3h)
    each = [(v.substance, ppm * v.l_min / load.l_min if ppm else 0.0) for v in load.vapours]
    fresh = _change_out(each, ppm, rh_pct)
    return fresh if log is None else _in_use(fresh, log, each, ppm)


def _in_use(fresh: Finding, log: CartridgeLog, each: Each, ppm: float) -> Finding:
    """With the pair in use; with no vapour at all there is nothing to reckon for it either."""
    state = pair_state(log, each, ppm if ppm > 0 else None)
    return replace(
        fresh,
        level=max(fresh.level, state.level, key=lambda entry: entry.rank),
        words=f"{fresh.words} The pair in use ({log.label}): {state.words}",
        rows=(*fresh.rows, *pair_rows(log, state)),
    )


def _change_out(each: Each, ppm: float, rh_pct: float | None) -> Finding:
    """The finding for a fresh pair."""
    reasons = [why for substance, own in each if (why := does_not_apply(substance, ppm, own))]
    cites = sources(("osha_etool", "osha_134"))
    help_ = ("the cartridge maker's own change-out data", "a fresh pair each evening, dated")
    if reasons or ppm <= 0:
        stops = [why for substance, own in each if (why := refused(substance, own))]
        level = Level.REFUSE if stops else Level.CANNOT_ASSESS
        reason = next(iter([*stops, *reasons]), "no vapour is given, so there are no hours.")
        unknown = (Row("hours", "rule of thumb", None, "h"),)
        words = f"Change-out: {reason}"
        return Finding("cartridge", level, words, cites, unknown, (), help_)
    hours = rule_of_thumb_h(ppm, 100.0 if rh_pct is None else rh_pct)
    humid = rh_pct is None or rh_pct > HUMID_PCT
    air = "no humidity is read, so humid air is taken" if rh_pct is None else f"{rh_pct:.0f} %RH"
    words = (
        f"Change-out: about {said(hours)} h of spraying by a rule of thumb that counts only beside "
        f"the maker's data{', halved for humid air' if humid else ''}. Smell or taste is a reason "
        "to leave at once, and no schedule."
    )
    rows = (
        Row("hours", "rule of thumb, fresh cartridge", hours, "h"),
        Row("ppm", "all vapours together at the peak", ppm, "ppm"),
    )
    assumptions = ("normal work", air, "all vapours reckoned as one")
    return Finding("cartridge", Level.CAUTION, words, cites, rows, assumptions, help_)


def _peak_ppm(load: Load, coat: Coat, room: Room, fresh_m3h: float) -> float:
    """The near field at the end of the last coat."""
    litres = load.l_min * room.escape_share
    minutes = coat.minutes * coat.coats
    far = build_up(room.volume_m3, fresh_m3h, litres, minutes, divisor=room.mixing_divisor)
    near = two_box.hemisphere(room.near_radius_m, room.air_speed_m_min)
    return far.ppm_end + litres * 1000.0 / near.exchange_m3_min
