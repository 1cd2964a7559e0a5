"""One coat judged as a whole: product, booth, fan, fire, breathing, mist.

What is not given is *cannot assess* for its finding and so for the whole; a product that only
professionals should spray stops everything else.  Even with every input there and low, the whole
is never better than a caution: an estimate is no approval.
"""

from dataclasses import dataclass

from sprayout.safety import booth as booths
from sprayout.safety import fire
from sprayout.safety.assessment import Finding, Level, worst
from sprayout.safety.booth import Booth
from sprayout.safety.breathing import KEYS as BREATHING
from sprayout.safety.breathing import Room, cannot_assess, judge_breathing, why_unknown
from sprayout.safety.cautions import ORDER_OF_AUTHORITY, Caution, for_spraying, region_named
from sprayout.safety.given import above_zero
from sprayout.safety.interlock import FanState
from sprayout.safety.limits import lowest_mg_m3
from sprayout.safety.load import Coat, Load, Product, mist_mg_min, vapour_load
from sprayout.safety.refusals import Refusal, for_substance, in_words, named
from sprayout.safety.respirator import REMINDERS, classes_of_factor, filter_words
from sprayout.safety.substances import find, known
from sprayout.safety.tables import sources
from sprayout.safety.wording import said


@dataclass(frozen=True, slots=True)
class Assessment:
    """All findings, the worst of their levels, and the cautions that always stand beside them."""

    level: Level
    findings: tuple[Finding, ...]
    cautions: tuple[Caution, ...]
    order_of_authority: tuple[str, ...]


def assess(
    product: Product | None,
    coat: Coat | None,
    booth: Booth | None,
    room: Room | None,
    fan: FanState | None,
    region: str = "us",
) -> Assessment:
    """Judge one coat from what is known; any argument may be ``None``.

    A refusal (see ``refusals``) leaves out every figure of exposure.
    """
    name = region_named(region)
    findings = [*_product(product), *_booth(booth), _fan(fan)]
    if worst(findings[:1]) is not Level.REFUSE:
        findings += _air(product, coat, booth, room, name)
    return Assessment(worst(findings), tuple(findings), for_spraying(name), ORDER_OF_AUTHORITY)


def _product(product: Product | None) -> list[Finding]:
    """What is in the batch: a refusal, an open question, or nothing found."""
    if product is None:
        return [_refusal(named("unknown_product"))]
    if product.two_part:
        return [_refusal(named("isocyanate"))]
    refused = in_words(product.name, product.label, *product.pigments)
    refused += tuple(filter(None, (_refused_solvent(s.name) for s in product.solvents)))
    if refused:
        return [_refusal(refused[0])]
    if not product.solvents or product.unknown_bottles:
        return [_refusal(named("unknown_product"))]
    if product.two_part is None:
        words = "Not known whether this paint takes a hardener (two-part, isocyanate): say so."
        return [Finding("product", Level.CANNOT_ASSESS, words)]
    words = f"{product.name}: nothing in what was entered calls for a professional alone."
    return [Finding("product", Level.NOTHING_FOUND, words)]


def _refused_solvent(name: str) -> Refusal | None:
    found = in_words(name)
    if found:
        return found[0]
    substance = known(name)
    return for_substance(substance) if substance else None


def _refusal(refusal: Refusal) -> Finding:
    unknown = refusal.key in ("unknown_product", "missing_limit")
    level = Level.CANNOT_ASSESS if unknown else Level.REFUSE
    return Finding("product", level, refusal.words())


def _booth(booth: Booth | None) -> list[Finding]:
    if booth is None:
        return [booths.judge_face(None), booths.judge_exhaust(None)]
    return [booths.judge_booth_face(booth), booths.judge_exhaust(booth.exhaust)]


def _fan(fan: FanState | None) -> Finding:
    if fan is None or fan.state == "unknown":
        words = fan.words if fan else "Fan unknown: no reading. Look at it before you spray."
        return Finding("fan", Level.CANNOT_ASSESS, words, (), sources(("osha_107",)))
    level = Level.NOTHING_FOUND if fan.confirmed else Level.STOP
    return Finding("fan", level, fan.words, (), sources(("osha_107",)))


def _air(
    product: Product | None, coat: Coat | None, booth: Booth | None, room: Room | None, region: str
) -> list[Finding]:
    """Fire, breathing and mist; each *cannot assess* where one of its inputs is missing."""
    load = vapour_load(product, coat) if product and coat else None
    fresh = _fresh_air_m3h(booth, room)
    breathing = judge_breathing(product, load, coat, room, fresh, region)
    return [
        _explosive(load, booth, room),
        *breathing,
        _mist(product, coat, booth, region),
        _respirator(load, breathing, region),
    ]


def _fresh_air_m3h(booth: Booth | None, room: Room | None) -> float | None:
    """Air that leaves the room: a ducted booth's and the room's own; a filter's does not count."""
    if booth is None or room is None or booth.exhaust is None:
        return None
    if booth.exhaust == "recirculating":
        return room.fresh_air_m3h
    if booth.flow_m3h is None:
        return None
    return booth.flow_m3h + (room.fresh_air_m3h or 0.0)


def _explosive(load: Load | None, booth: Booth | None, room: Room | None) -> Finding:
    """Share of the LEL in the booth's own air while spraying, mixing divisor applied."""
    if load is None or not load.complete:
        return cannot_assess("explosive", why_unknown(load))
    if booth is None or not booth.flow_m3h:
        return cannot_assess("explosive", "the booth's delivered flow is not known")
    explosive = [(v, v.substance.lowest_lel_pct) for v in load.vapours]
    parts = [(v.l_min, lel.value) for v, lel in explosive if lel is not None]
    if len(parts) < len(load.vapours):
        return cannot_assess("explosive", "a lower explosive limit is not known")
    divisor = room.mixing_divisor if room else Room(1.0).mixing_divisor
    ppm = divisor * load.l_min * 1000.0 / (booth.flow_m3h / 60.0)
    percent = fire.percent_of_lel(ppm, fire.mixture_lel_pct(parts))
    cites = sources(("osha_94c", "imc_502", "le_chatelier", "npg"))
    figures = (("percent_of_lel", percent), ("ppm", ppm))
    return Finding("explosive", fire.level_of(percent), fire.words_of(percent), figures, cites)


def _mist(product: Product | None, coat: Coat | None, booth: Booth | None, region: str) -> Finding:
    """Overspray in the booth's air beside the dust limit; it asks for a particulate stage."""
    if product is None or coat is None or booth is None or not booth.flow_m3h:
        return cannot_assess("mist", "solids, coat or booth flow is not known")
    rate = mist_mg_min(product, coat)
    limit, limit_words, cite = _dust_limit(product, region)
    if rate is None or limit is None:
        return cannot_assess("mist", "the paint's solids or a dust limit here is not known")
    mg_m3 = rate / (booth.flow_m3h / 60.0)
    side = "over" if mg_m3 > limit else "not over"
    words = (
        f"Mist in the booth's air at most {said(mg_m3)} mg/m³, {side} {limit_words}. Mist is not "
        "vapour: it needs a particulate stage on the respirator either way."
    )
    cites = sources((cite, "transfer"))
    return Finding("mist", Level.CAUTION, words, (("mg_m3", mg_m3),), cites)


def _dust_limit(product: Product, region: str) -> tuple[float | None, str, str]:
    """(mg/m³, its words, source key): the data sheet's, else the lowest of our table."""
    if product.dust_limit_mg_m3 is not None:
        value = above_zero("dust limit", product.dust_limit_mg_m3, "mg/m³")
        return value, f"{value:g} mg/m³ of the data sheet", "sds"
    limit = lowest_mg_m3(find("PNOR"), region)
    if limit is None or limit.mg_m3 is None:
        return None, "", "choice"
    return limit.mg_m3, limit.words(), limit.source.key


def _respirator(load: Load | None, breathing: list[Finding], region: str) -> Finding:
    """The filter the solvents point to and the classes whose factor covers the estimate.

    Always a caution, never a release; nothing where the estimate or a limit is missing.
    """
    cites = sources(("osha_134", "hsg53") if region != "us" else ("osha_134",))
    if load is None or not load.complete:
        words = f"Respirator: cannot say which filter. {REMINDERS[0]}"
        return Finding("respirator", Level.CANNOT_ASSESS, words, (), cites)
    kinds = dict.fromkeys(filter_words(v.substance, region) for v in load.vapours)
    if "" in kinds:
        words = "Respirator: no cartridge is relied on for one of the solvents; supplied air only."
        return Finding("respirator", Level.STOP, words, (), cites)
    factor = _factor_needed(breathing)
    words = f"Respirator: {' and '.join(kinds)}. {_factor_words(factor, region)}"
    figures = (("factor_needed", factor),)
    level = Level.CANNOT_ASSESS if factor is None else Level.CAUTION
    return Finding("respirator", level, f"{words} {' '.join(REMINDERS)}", figures, cites)


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
