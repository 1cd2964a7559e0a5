"""JSON in and out for the assessment of a coat, for the web and other programs."""

import math
from collections.abc import Mapping
from dataclasses import asdict, replace

from sprayout.errors import BadInput
from sprayout.safety.air_answers import too_far
from sprayout.safety.asks import questions
from sprayout.safety.assess import Assessment, assess
from sprayout.safety.assessment import TITLES, Finding, Level, Row, flag_level, worst
from sprayout.safety.booth_request import parse_booth
from sprayout.safety.breathing import Room
from sprayout.safety.cartridge import CartridgeLog
from sprayout.safety.given import above_zero, fraction, mixing_divisor, not_below_zero
from sprayout.safety.interlock import FanState
from sprayout.safety.json_fields import number_of, only, part
from sprayout.safety.load import Coat
from sprayout.safety.product_request import parse_product
from sprayout.safety.refusals import for_sanding
from sprayout.safety.rests_on import rests_on
from sprayout.safety.tables import sources


def answer_assess(
    given: Mapping[str, object],
    fan: FanState | None = None,
    rh_pct: float | None = None,
    log: CartridgeLog | None = None,
) -> dict[str, object]:
    """The assessment of ``{"product","coat","booth","room","sanding","region"}``, each optional.

    ``fan``, ``rh_pct`` and the cartridge's ``log`` come from the bench's own record, never from
    the request.  Figures outside their usual range are asked about unless ``confirmed`` names
    them (``booth.volume_m3``), and while a question is open nothing is judged milder than *cannot
    assess*.
    """
    parts = ("product", "coat", "booth", "room", "sanding")
    only(given, (*parts, "region", "confirmed"), "assess")
    product, coat, booth, room, sanding = (part(given, name) for name in parts)
    region = str(given.get("region") or "us")
    try:
        found = assess(
            None if product is None else parse_product(product),
            None if coat is None else parse_coat(coat),
            None if booth is None else parse_booth(booth),
            None if room is None else parse_room(room),
            fan,
            region,
            rh_pct,
            log,
        )
    except (OverflowError, ZeroDivisionError):
        raise too_far("assess") from None
    findings = list(found.findings)
    if sanding is not None:
        findings.append(_sanding(sanding, region))
    asks = _asks({"coat": coat, "booth": booth, "room": room}, given.get("confirmed"))
    findings += [Finding("units", Level.CANNOT_ASSESS, question) for question in asks]
    whole = replace(found, level=worst(findings), findings=tuple(findings))
    return {**assessment_to_json(whole), "asks": asks, "rests_on": rests_on(given, region)}


def _asks(parts: Mapping[str, Mapping[str, object] | None], confirmed: object) -> list[str]:
    """The open questions on units, those left out whose unit a person has confirmed."""
    known = list(confirmed) if isinstance(confirmed, list | tuple) else []
    return [
        question
        for name, fields in parts.items()
        for question in questions(
            {k: v for k, v in (fields or {}).items() if f"{name}.{k}" not in known}
        )
    ]


def _sanding(given: Mapping[str, object], region: str) -> Finding:
    """``{"painted_year": year|null, "laboratory_found": true|false|null}``."""
    only(given, ("painted_year", "laboratory_found"), "sanding")
    year, tested = given.get("painted_year"), given.get("laboratory_found")
    if year is not None and (isinstance(year, bool) or not isinstance(year, int)):
        raise BadInput(f"sanding painted_year: got {year!r}, wanted a year or null; 1958, say")
    if tested is not None and not isinstance(tested, bool):
        raise BadInput(f"sanding laboratory_found: got {tested!r}, wanted true, false or null")
    refusal = for_sanding(year, tested, region)
    cites = sources(("lead_ban", "osha_1026", "osha_1027"))
    if refusal is not None:
        return Finding("sanding", Level.REFUSE, refusal.words(), cites, would_help=(refusal.way,))
    words = (
        "Sanding: nothing found against it in what was entered. Sand wet, wear a particulate "
        "respirator, and keep dust out of the house."
    )
    return Finding("sanding", Level.CAUTION, words, cites)


def parse_coat(given: Mapping[str, object]) -> Coat | None:
    """``{"sprayed_ml","minutes","coats"}``; ``None`` where amount or time is not given."""
    only(given, ("sprayed_ml", "minutes", "coats"), "coat")
    millilitres, minutes = (
        number_of(given, "sprayed_ml", "coat"),
        number_of(given, "minutes", "coat"),
    )
    coats = given.get("coats", 1)
    if isinstance(coats, bool) or not isinstance(coats, int) or coats < 1:
        raise BadInput(f"coat coats: got {coats!r}, wanted a whole number from 1; count the coats")
    if millilitres is None or minutes is None:
        return None
    return Coat(
        above_zero("coat sprayed_ml", millilitres, "mL"),
        above_zero("coat minutes", minutes, "min"),
        coats,
    )


def parse_room(given: Mapping[str, object]) -> Room | None:
    """``{"volume_m3","fresh_air_m3h","mixing_divisor","escape_share",…}``; defaults as in Room."""
    defaults = {
        "mixing_divisor": 3.0,
        "escape_share": 1.0,
        "near_radius_m": 0.5,
        "air_speed_m_min": 3.6,
    }
    only(given, ("volume_m3", "fresh_air_m3h", *defaults), "room")
    volume, fresh = number_of(given, "volume_m3", "room"), number_of(given, "fresh_air_m3h", "room")
    rest = {n: usual if (v := number_of(given, n, "room")) is None else v
            for n, usual in defaults.items()}  # fmt: skip
    if volume is None:
        return None
    return Room(
        above_zero("room volume_m3", volume, "m³"),
        None if fresh is None else not_below_zero("room fresh_air_m3h", fresh, "m³/h"),
        mixing_divisor(rest["mixing_divisor"]),
        fraction("room escape_share", rest["escape_share"]),
        above_zero("room near_radius_m", rest["near_radius_m"], "m"),
        above_zero("room air_speed_m_min", rest["air_speed_m_min"], "m/min"),
    )


def assessment_to_json(found: Assessment) -> dict[str, object]:
    """Level, what decides it, findings with figures and sources, cautions, order of authority."""
    return {
        "level": found.level.value,
        "flag_level": flag_level(found.level),
        "words": summary_words(found),
        "refused": found.level is Level.REFUSE,
        "findings": [finding_to_json(finding) for finding in found.findings],
        "cautions": [asdict(caution) for caution in found.cautions],
        "order_of_authority": list(found.order_of_authority),
    }


def summary_words(found: Assessment) -> str:
    """One sentence: the level and the findings that decide it."""
    deciding = [f for f in found.findings if f.level is found.level]
    if found.level is Level.REFUSE and deciding:
        return deciding[0].words
    titles = ", ".join(dict.fromkeys(TITLES.get(f.key, f.key).lower() for f in deciding))
    level = found.level.value
    return (
        f"{level[:1].upper()}{level[1:]}: {titles}. An estimate, not a measurement; the data "
        "sheet, local code and a licensed professional decide."
    )


def finding_to_json(finding: Finding) -> dict[str, object]:
    """One finding: key, level, words, figures by name and as rows, what it rests on, sources."""
    figures = dict(finding.figures)
    if not all(math.isfinite(value) for value in figures.values() if value is not None):
        raise too_far(finding.key)
    return {
        "key": finding.key,
        "title": TITLES.get(finding.key, finding.key),
        "level": finding.level.value,
        "flag_level": flag_level(finding.level),
        "words": finding.words,
        "figures": figures,
        "rows": [row_to_json(row) for row in finding.rows],
        "assumptions": list(finding.assumptions),
        "would_help": list(finding.would_help),
        "sources": [asdict(entry) for entry in finding.sources],
    }


def row_to_json(row: Row) -> dict[str, object]:
    """One figure with its limit and the share of it."""
    limit = None if row.limit is None else asdict(row.limit)
    return {
        "key": row.key,
        "title": row.title,
        "value": row.value,
        "unit": row.unit,
        "text": row.text,
        "limit": limit,
        "share": row.share,
    }
