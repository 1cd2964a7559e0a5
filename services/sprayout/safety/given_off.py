"""What a coat gives off: vapour by substance, its build-up and decay, and how near it stands.

These findings are figures without a verdict of their own (a caution, never milder): the limits
are held against them in ``breathing``.
"""

import math

from sprayout.safety import two_box
from sprayout.safety.assessment import Finding, Level, Row
from sprayout.safety.breathing import Room, assumed, cannot_assess, why_unknown
from sprayout.safety.load import Coat, Load
from sprayout.safety.room_air import build_up
from sprayout.safety.tables import sources
from sprayout.safety.wording import said

KEYS = ("vapour", "build_up", "near_far")
_UPPER = "all of the solvent turns to vapour while it is sprayed: an upper bound"
_NO_ROOM = "room volume or the air that leaves it is not known"


def judge_given_off(
    load: Load | None, coat: Coat | None, room: Room | None, fresh_m3h: float | None
) -> list[Finding]:
    """Vapour rate, build-up in the room, near and far field; unknown ones *cannot assess*."""
    if load is None or coat is None or not load.complete:
        return [cannot_assess(key, why_unknown(load)) for key in KEYS]
    found = [_vapour(load, coat)]
    if room is None or fresh_m3h is None:
        return [*found, *(cannot_assess(key, _NO_ROOM) for key in KEYS[1:])]
    return [*found, _build_up(load, coat, room, fresh_m3h), _near_far(load, coat, room, fresh_m3h)]


def _vapour(load: Load, coat: Coat) -> Finding:
    rows = [Row("total_l_min", "all vapour while spraying", load.l_min, "L/min")]
    for vapour in load.vapours:
        key, name = vapour.substance.key, vapour.substance.name
        rows.append(Row(f"{key}_g", f"{name}, each coat", vapour.grams, "g"))
        rows.append(Row(f"{key}_l_min", name, vapour.l_min, "L/min"))
    grams = sum(vapour.grams for vapour in load.vapours) * coat.coats
    words = (
        f"{said(grams)} g of solvent in {coat.coats * coat.minutes:g} min of spraying, "
        f"{said(load.l_min)} L of vapour a minute. Mist comes on top of it."
    )
    cites = sources(("ideal_gas", "npg"))
    assumptions = (_UPPER, "gas at 25 °C and sea level: 24.45 L/mol")
    return Finding("vapour", Level.CAUTION, words, cites, tuple(rows), assumptions)


def _build_up(load: Load, coat: Coat, room: Room, fresh_m3h: float) -> Finding:
    """C(t) in well-mixed room air at the last coat's end, and how long it takes to fade."""
    litres = load.l_min * room.escape_share
    minutes = coat.minutes * coat.coats
    air = build_up(room.volume_m3, fresh_m3h, litres, minutes, divisor=room.mixing_divisor)
    a_min = fresh_m3h / 60.0 / room.mixing_divisor / room.volume_m3
    fades = [math.log(folds) / a_min if a_min > 0 else None for folds in (10.0, 100.0)]
    rows = (
        Row("ppm_end", "room air when the last coat ends", air.ppm_end, "ppm"),
        Row("ppm_mean", "mean while spraying", air.ppm_mean, "ppm"),
        Row("ppm_steady", "if spraying never stopped", air.ppm_steady, "ppm"),
        Row("minutes_to_tenth", "until a tenth is left", fades[0], "min"),
        Row("minutes_to_hundredth", "until a hundredth is left", fades[1], "min"),
    )
    fade = "it never clears, for no air leaves the room"
    if fades[1] is not None:
        fade = f"a hundredth of it is left {said(fades[1])} min later with the same air"
    words = (
        f"All vapours together {said(air.ppm_end)} ppm in the room's air when the last coat ends; "
        f"{fade}. Coats go on giving off vapour while they dry."
    )
    help_ = () if a_min > 0 else ("open a window, or duct the booth outdoors",)
    return Finding(
        "build_up", Level.CAUTION, words, sources(("ideal_gas",)), rows,
        (*assumed(room, coat)[:3], f"{said(fresh_m3h)} m³/h leave the room"), help_,
    )  # fmt: skip


def _near_far(load: Load, coat: Coat, room: Room, fresh_m3h: float) -> Finding:
    """Near field against the rest of the room: after the coats, and if spraying never stopped."""
    mg_min = sum(vapour.mg_min for vapour in load.vapours) * room.escape_share
    near = two_box.hemisphere(room.near_radius_m, room.air_speed_m_min)
    flow, beta = fresh_m3h / 60.0, near.exchange_m3_min
    minutes, divisor = coat.minutes * coat.coats, room.mixing_divisor
    ends = two_box.steady(mg_min, flow, beta, divisor)
    then = two_box.TwoBox(None, None)
    if room.volume_m3 > near.volume_m3:
        then = two_box.after(mg_min, flow, beta, near.volume_m3, room.volume_m3, minutes, divisor)
    rows = (
        Row("near_after_mg_m3", "near you when the last coat ends", then.near_mg_m3, "mg/m³"),
        Row("far_after_mg_m3", "rest of the room then", then.far_mg_m3, "mg/m³"),
        Row("near_mg_m3", "near you if spraying never stopped", ends.near_mg_m3, "mg/m³"),
        Row("far_mg_m3", "rest of the room", ends.far_mg_m3, "mg/m³"),
    )
    words = "Near you the vapour is thicker than in the rest of the room."
    if then.near_mg_m3 is not None and then.far_mg_m3:
        ratio = then.near_mg_m3 / then.far_mg_m3
        words = (
            f"Near you {said(then.near_mg_m3)} mg/m³ when the last coat ends, {said(ratio)} times "
            f"the rest of the room ({said(then.far_mg_m3)} mg/m³)."
        )
    assumptions = assumed(room, coat)
    return Finding("near_far", Level.CAUTION, words, sources(("two_box",)), rows, assumptions)
