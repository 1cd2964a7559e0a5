"""Where this tool computes nothing and says so: professionals and air-fed equipment only.

Reasons: HSE body-shop pages and NIOSH 2006-149 (isocyanates), EPA 40 CFR 751 (methylene
chloride), 29 CFR 1910.1025/1026/1027 (lead, chromium (VI), cadmium), 29 CFR 1910.134(d) (IDLH).
"""

import re
from dataclasses import dataclass

from sprayout.safety.cautions import region_named
from sprayout.safety.substances import Substance


@dataclass(frozen=True, slots=True)
class Refusal:
    """A reason to compute nothing, and the way that is left."""

    key: str
    reason: str
    way: str

    def words(self) -> str:
        """Reason and way in one sentence each."""
        return f"{self.reason} {self.way}"


_AIR_FED = (
    "The way: have a professional with air-fed breathing equipment, extraction and training do it, "
    "or choose a product without it."
)
_REFUSALS = {
    "isocyanate": Refusal(
        "isocyanate",
        "Not assessed: two-part (2K, isocyanate) paint. Its mist can cause asthma for life at "
        "levels nobody smells, and a filtering mask is not suitable for it.",
        _AIR_FED,
    ),
    "methylene_chloride": Refusal(
        "methylene_chloride",
        "Not assessed: methylene chloride. It has killed people in small rooms, passes cartridges "
        "quickly, and is barred from consumer sale in the US.",
        _AIR_FED,
    ),
    "toxic_pigment": Refusal(
        "toxic_pigment",
        "Not assessed: lead, chromate or cadmium pigment. Spraying or sanding it spreads a poison "
        "that stays in the house.",
        "The way: a professional with containment and air-fed breathing equipment, or a product "
        "without it.",
    ),
    "old_paint": Refusal(
        "old_paint",
        "Not assessed: sanding or stripping old paint that may hold lead, chromate or cadmium.",
        "The way: have a sample tested by a laboratory, do not dry-sand, blast or heat it, and "
        "leave what tests positive to a professional.",
    ),
    "unknown_product": Refusal(
        "unknown_product",
        "Cannot assess: it is not known what is in this product.",
        "The way: find its safety data sheet and enter the solvents, or do not spray it.",
    ),
    "missing_limit": Refusal(
        "missing_limit",
        "Cannot assess: no exposure limit is known to us for this substance and region. That does "
        "not mean there is none.",
        "The way: take the limit from the product's safety data sheet, or ask a licensed "
        "professional.",
    ),
    "idlh": Refusal(
        "idlh",
        "Do not enter: at or above the concentration that is immediately dangerous to life or "
        "health (IDLH). No cartridge mask is valid there.",
        "The way: get out, ventilate from outside; only professionals with full-face "
        "pressure-demand self-contained or supplied air with an escape bottle go in.",
    ),
}

_FREE = r"(?![\s-]*free\b)"
_PATTERNS = (
    (
        "isocyanate",
        rf"(?<!non-)(?<!no )iso-?cyanate?s?\b{_FREE}|\b2[\s-]?k\b"
        r"|\b(two|2)[\s-]?(part|pack|component)\b|\b(HDI|IPDI|MDI|TDI|HMDI)\b|\bhardener\b"
        r"|diisocyanat|polyisocyanat",
    ),
    ("methylene_chloride", rf"\b(methylene chloride|dichloromethane|dcm)\b{_FREE}"),
    (
        "toxic_pigment",
        rf"\b(lead(ed)?|cadmium|(\w+\s)?chromates?|chrome yellow|minium|litharge)\b{_FREE}"
        r"|\bP(Y34|R104|Y35|Y37|R108|O20|Y36)\b|hexavalent|Cr\s?\(?VI\)?",
    ),
)
_COMPILED = tuple((key, re.compile(pattern, re.IGNORECASE)) for key, pattern in _PATTERNS)

_LEAD_PAINT_UNTIL = {"us": 1978, "uk": 1992, "eu": 1992}  # source lead_ban, memory


def named(key: str) -> Refusal:
    """The refusal of that key; an unknown key is a fault of ours (``KeyError``)."""
    return _REFUSALS[key]


def in_words(*texts: str) -> tuple[Refusal, ...]:
    """Refusals for what a name, a label or a pigment list says; empty where nothing is named.

    An empty answer is no clearance: a label may be silent.
    """
    text = " \n ".join(texts)
    return tuple(_REFUSALS[key] for key, pattern in _COMPILED if pattern.search(text))


def for_substance(substance: Substance) -> Refusal | None:
    """The refusal that stands behind a substance, if any."""
    return _REFUSALS[substance.refusal] if substance.refusal else None


def for_sanding(
    painted_year: int | None, laboratory_found: bool | None, region: str
) -> Refusal | None:
    """Sanding or stripping an old coat: ``None`` only for a tested or a recent one.

    ``painted_year`` ``None`` is unknown age; ``laboratory_found`` is the test's answer, ``None``
    where there was none.  Recent means after lead left house paint there (US 1978, UK 1992,
    memory); toys and imported pieces may be older in kind than in years, so test them.
    """
    if laboratory_found is not None:
        return _REFUSALS["toxic_pigment"] if laboratory_found else None
    if painted_year is None or painted_year <= _LEAD_PAINT_UNTIL[region_named(region)]:
        return _REFUSALS["old_paint"]
    return None
