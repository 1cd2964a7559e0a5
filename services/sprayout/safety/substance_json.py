"""``sprayout air KIND`` about substances: substance, respirator, cartridge, mixture.

All return the shape of ``air_answers.answer``.
"""

import math
from collections.abc import Sequence
from dataclasses import asdict

from sprayout.errors import BadInput
from sprayout.safety import cartridge as cartridges
from sprayout.safety.air_answers import Answer, answer, refused, substance_or_refusal
from sprayout.safety.assessment import Level
from sprayout.safety.exposure import known_index, level_of_index, mixture_index
from sprayout.safety.given import above_zero, not_below_zero, percent
from sprayout.safety.given import mixing_divisor as checked_divisor
from sprayout.safety.limits import Limit, limits_for, lowest_mg_m3, lowest_ppm
from sprayout.safety.respirator import REMINDERS, Advice, advise, filter_words
from sprayout.safety.substances import Figure, Substance
from sprayout.safety.wording import said

_ENTER_LIMIT = "the limit of the data sheet, entered as --limit-ppm (limit_ppm)"
_NO_MIXING = "A mixing divisor does not enter here."


def mixture(parts: Sequence[str], mixing_divisor: float = 1.0, region: str = "us") -> Answer:
    """``index`` of parts written PPM/LIMIT; ``None`` as soon as one limit is missing."""
    checked_divisor(mixing_divisor)
    pairs = [_part(text) for text in parts]
    index = mixture_index(pairs)
    known = known_index(pairs)
    figures: dict[str, object] = {"index": index, "index_at_least": known}
    if index is None:
        figures["reason"] = (
            "Cannot assess: a limit is missing, and a missing limit is not zero and not none. "
            "Take it from the data sheet."
        )
    over = "over" if known > 1 else "not over"
    words = (
        f"{figures['reason']} The known parts alone make {said(known)}, {over} 1."
        if index is None
        else f"Index {said(index)}: {over} the combined limit of 1. At or under it is no approval."
    )
    return answer(
        "mixture",
        figures,
        level=level_of_index(index, known),
        words=words,
        assumptions=("The effects of all parts add up.", _NO_MIXING),
        cites=("osha_1000",),
        given={},
        region=region,
    )


def respirator(
    substance: str,
    ppm: float,
    limit_ppm: float | None = None,
    mixing_divisor: float = 1.0,
    region: str = "us",
) -> Answer:
    """``classes`` whose assigned factor * limit covers ``ppm``, capped at IDLH."""
    checked_divisor(mixing_divisor)
    amount = not_below_zero("ppm", ppm, "ppm")
    found, refusal = substance_or_refusal(substance)
    none: dict[str, object] = {"classes": [], "limit_ppm": None, "cap_ppm": None}
    if refusal or found is None:
        assert refusal is not None
        return refused("respirator", none, refusal, {}, region)
    advice = advise(found, amount, region, limit_ppm)
    if advice.refusal:
        none = {**_advice(advice), "asks_for": _ENTER_LIMIT if advice.limit is None else None}
        return refused("respirator", none, advice.refusal, {}, region)
    return answer(
        "respirator",
        {
            **_advice(advice),
            "filter": filter_words(found, region) or "none relied on: supplied air only",
            "reminders": list(REMINDERS),
            "reason": _no_class(advice),
        },
        level=_level(advice, amount),
        words=_advice_words(found, amount, advice),
        assumptions=(
            "Factor times the lowest published limit of the region, of any averaging time.",
            f"Capped: {advice.cap_words}.",
            _NO_MIXING,
        ),
        cites=_cites(advice),
        given={},
        region=region,
    )


def cartridge(
    substance: str,
    ppm: float,
    rh_pct: float,
    work_ratio: float = 1.0,
    mixing_divisor: float = 1.0,
    region: str = "us",
) -> Answer:
    """``hours`` by the published rule of thumb, or ``None`` with the ``reason``."""
    checked_divisor(mixing_divisor)
    above_zero("ppm", ppm, "ppm", "a cartridge's life at 0 ppm is not a figure")
    percent("rh-pct", rh_pct)
    above_zero("work ratio", work_ratio, do="1 is normal work, 2 twice the breathing")
    given: dict[str, object] = {"work_ratio": work_ratio}
    found, refusal = substance_or_refusal(substance)
    if refusal or found is None:
        assert refusal is not None
        return refused("cartridge", {"hours": None}, refusal, given, region)
    result = cartridges.estimate(found, ppm, rh_pct, work_ratio)
    words = result.reason
    if result.hours is not None:
        words = (
            f"About {said(result.hours)} h by a rule of thumb. It counts only beside the maker's "
            "data, and smell is no schedule."
        )
        if ppm < cartridges.RULE_PPM / 10.0:
            words += " Under 20 ppm the rule is stretched: do not count on more than 40 h."
    return answer(
        "cartridge",
        {"hours": result.hours, "reason": result.reason or None},
        level=Level.CANNOT_ASSESS if result.hours is None else Level.CAUTION,
        words=words,
        assumptions=(
            "Boiling point above 70 °C, up to 200 ppm, 8 h at normal work; five-fold life for a "
            "tenth of the concentration, interpolated and past that tenth extrapolated; half "
            "above 85 %RH.",
            "Use it only together with another method.",
            _NO_MIXING,
        ),
        cites=("osha_etool", "osha_134"),
        given=given,
        region=region,
    )


def substance_facts(name: str, mixing_divisor: float = 1.0, region: str = "us") -> Answer:
    """Limits of all regions and properties of one substance, each with its source."""
    checked_divisor(mixing_divisor)
    found, refusal = substance_or_refusal(name)
    if found is None:
        assert refusal is not None
        none: dict[str, object] = {"name": name, "limits": [], "properties": None}
        return refused("substance", none, refusal, {}, region)
    limits = [lim for where in ("us", "uk", "eu") for lim in limits_for(found, where)]
    lowest = lowest_ppm(found, region) or lowest_mg_m3(found, region)
    figures: dict[str, object] = {
        "name": found.name,
        "synonyms": list(found.synonyms),
        "cas": found.cas,
        "what": found.kind,
        "limits": [_limit(limit) for limit in limits],
        "lowest": None if lowest is None else _limit(lowest),
        "properties": _properties(found),
        "skin": found.skin,
        "carcinogen": found.carcinogen,
        "filter": filter_words(found, region) or None,
        "note": found.note,
    }
    if refusal:
        return refused("substance", figures, refusal, {}, region)
    none_here = f"No {region.upper()} limit known to us: cannot assess, which is not 'no limit'."
    words = f"Lowest limit here: {lowest.words()}." if lowest else none_here
    figures["reason"] = None if lowest else none_here
    return answer(
        "substance",
        figures,
        level=Level.CAUTION if lowest else Level.CANNOT_ASSESS,
        words=words,
        assumptions=(
            "ppm and mg/m³ convert at 25 °C for US limits and at 20 °C for UK and EU ones.",
            "Figures marked memory are to be looked up before they are quoted.",
        ),
        cites=[limit.source for limit in limits],
        given={},
        region=region,
    )


def _part(text: str) -> tuple[float, float | None]:
    ppm, slash, limit = str(text).partition("/")
    wanted = f"part: got {text!r}, wanted PPM/LIMIT such as 45/200; write both in the same unit"
    if not slash:
        raise BadInput(wanted)
    amount = not_below_zero("part", _number(ppm, wanted), "ppm")
    if limit.strip().lower() in ("", "-", "?", "none", "null", "nan", "unknown"):
        return amount, None
    return amount, above_zero("limit", _number(limit, wanted), do="take it from the data sheet")


def _number(text: str, wanted: str) -> float:
    try:
        value = float(text)
    except ValueError:
        raise BadInput(wanted) from None
    if not math.isfinite(value):
        raise BadInput(wanted)
    return value


def _advice(advice: Advice) -> dict[str, object]:
    classes = [
        {
            "class": c.name,
            "assigned_factor": c.factor,
            "covers_ppm": c.covers_ppm,
            "tight_fitting": c.tight,
            "cleans_room_air": bool(c.filters),
            "source": c.source.key,
        }
        for c in advice.classes
    ]
    limit = advice.limit
    return {
        "classes": classes,
        "limit_ppm": None if limit is None else limit.ppm,
        "limit": None if limit is None else limit.words(),
        "cap_ppm": advice.cap_ppm,
        "cap": advice.cap_words,
    }


def _no_class(advice: Advice) -> str | None:
    return None if advice.classes else "No class of the table covers it. Ventilate first."


def _level(advice: Advice, ppm: float) -> Level:
    over = advice.limit is None or advice.limit.ppm is None or ppm > advice.limit.ppm
    return Level.STOP if over or not advice.classes else Level.CAUTION


def _advice_words(substance: Substance, ppm: float, advice: Advice) -> str:
    if advice.limit is None or advice.limit.ppm is None:
        return "Cannot assess: no limit known."
    beside = f"{ppm:g} ppm of {substance.name} beside {advice.limit.words()}"
    if ppm > advice.limit.ppm:
        return f"{beside}: over it. Ventilate first; a respirator comes after that, never instead."
    return f"{beside}: not over it by this estimate; the data sheet may ask for one all the same."


def _cites(advice: Advice) -> list[str]:
    keys = ["npg", *(c.source.key for c in advice.classes)]
    return [*keys, advice.limit.source.key] if advice.limit else keys


def _limit(limit: Limit) -> dict[str, object]:
    return {
        "region": limit.region,
        "body": limit.body,
        "period": limit.period,
        "ppm": limit.ppm,
        "mg_m3": limit.mg_m3,
        "source": asdict(limit.source),
        "mark": limit.mark,
        "note": limit.note,
    }


def _figure(figure: Figure | None) -> dict[str, object] | None:
    if figure is None:
        return None
    return {"value": figure.value, "unit": figure.unit, "source": asdict(figure.source)}


def _properties(substance: Substance) -> dict[str, object]:
    return {
        "molar_mass_g": _figure(substance.molar_mass_g),
        "density_kg_l": _figure(substance.density_kg_l),
        "vapour_pressure_mmhg": [_figure(f) for f in substance.vapour_pressures_mmhg],
        "saturation_ppm": substance.saturation_ppm,
        "boiling_c": _figure(substance.boiling_c),
        "lower_explosive_pct": [_figure(f) for f in substance.lower_explosive_pct],
        "lowest_lower_explosive_pct": _figure(substance.lowest_lel_pct),
        "flash_c": _figure(substance.flash_c),
        "idlh_ppm": _figure(substance.idlh_in_ppm),
        "idlh_mg_m3": _figure(substance.idlh_mg_m3),
    }
