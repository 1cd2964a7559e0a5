"""The booth's own air while a coat is sprayed: nearness to the explosive limit, and mist."""

from sprayout.safety import fire
from sprayout.safety.assessment import Finding, Level, Row, RowLimit
from sprayout.safety.booth import Booth
from sprayout.safety.breathing import Room, cannot_assess, why_unknown
from sprayout.safety.given import above_zero
from sprayout.safety.limits import lowest_mg_m3
from sprayout.safety.load import TRANSFER_SHARE, Coat, Load, Product, mist_mg_min
from sprayout.safety.substances import find
from sprayout.safety.tables import Source, source, sources
from sprayout.safety.wording import said

_NO_FLOW = "the booth's delivered flow is not known"


def judge_explosive(load: Load | None, booth: Booth | None, room: Room | None) -> Finding:
    """Share of the LEL in the booth's own air while spraying, mixing divisor applied."""
    if load is None or not load.complete:
        return cannot_assess("explosive", why_unknown(load))
    if booth is None or not booth.flow_m3h:
        return cannot_assess("explosive", _NO_FLOW)
    explosive = [(v, v.substance.lowest_lel_pct) for v in load.vapours]
    parts = [(v.l_min, lel.value) for v, lel in explosive if lel is not None]
    if len(parts) < len(load.vapours):
        names = ", ".join(v.substance.name for v, lel in explosive if lel is None)
        return cannot_assess("explosive", f"no lower explosive limit is known of {names}")
    divisor = room.mixing_divisor if room else Room(1.0).mixing_divisor
    ppm = divisor * load.l_min * 1000.0 / (booth.flow_m3h / 60.0)
    lel_pct = fire.mixture_lel_pct(parts)
    percent = fire.percent_of_lel(ppm, lel_pct)
    rule = RowLimit(
        fire.RULE_PCT, "% of the LEL", "25 % of the LEL in exhaust, fire rules", source("osha_94c")
    )
    rows = (
        Row("percent_of_lel", "in the booth's air while spraying", percent, "% of the LEL", rule),
        Row("ppm", "all vapours together", ppm, "ppm"),
        Row("lel_pct", "lower explosive limit of this mixture", lel_pct, "% by volume"),
    )
    needed_m3h = booth.flow_m3h * percent / fire.CAUTION_PCT
    help_ = (
        f"about {said(needed_m3h)} m³/h through the booth instead of {said(booth.flow_m3h)}",
        "spray less in a minute",
    )
    level = fire.level_of(percent)
    return Finding(
        "explosive",
        level,
        fire.words_of(percent),
        sources(("osha_94c", "imc_502", "le_chatelier", "npg")),
        rows,
        (
            "all of the vapour passes through the booth's air while it is sprayed",
            f"mixing divisor {divisor:g}, the lowest published limit of each solvent",
            f"the fan moves {said(booth.flow_m3h)} m³/h all the time",
        ),
        () if level is Level.NOTHING_FOUND else help_,
    )


def judge_mist(
    product: Product | None, coat: Coat | None, booth: Booth | None, region: str
) -> Finding:
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
    held = RowLimit(limit, "mg/m³", limit_words, cite)
    rows = (Row("mg_m3", "mist in the booth's air", mg_m3, "mg/m³", held),)
    return Finding(
        "mist",
        Level.CAUTION,
        words,
        sources((cite.key, "transfer")),
        rows,
        (f"{1 - TRANSFER_SHARE:.0%} of the solids miss the work and none settles",),
        ("a particulate stage (P100 or P3) on the respirator", "lower pressure, closer work"),
    )


def _dust_limit(product: Product, region: str) -> tuple[float | None, str, Source]:
    """(mg/m³, its words, source): the data sheet's, else the lowest of our table."""
    if product.dust_limit_mg_m3 is not None:
        value = above_zero("dust limit", product.dust_limit_mg_m3, "mg/m³")
        return value, f"{value:g} mg/m³ of the data sheet", source("sds")
    limit = lowest_mg_m3(find("PNOR"), region)
    if limit is None or limit.mg_m3 is None:
        return None, "", source("choice")
    return limit.mg_m3, limit.words(), limit.source
