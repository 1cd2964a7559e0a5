"""The answers of ``sprayout air KIND``: figures, assumptions, cautions, sources.

One function per kind, SI in and out, for the command line and the web alike.  A figure that may
not be given is ``None`` and ``reason`` says why; ``asks`` holds questions about figures that look
like another unit, and while one is open the level is no better than *cannot assess*.
"""

import math
from collections.abc import Iterable, Mapping
from dataclasses import asdict

from sprayout.errors import BadInput
from sprayout.safety.asks import questions
from sprayout.safety.assessment import Level
from sprayout.safety.cautions import ORDER_OF_AUTHORITY, for_spraying
from sprayout.safety.refusals import Refusal, for_substance, in_words
from sprayout.safety.substances import Substance, find
from sprayout.safety.tables import Source, sources

Answer = dict[str, object]

MIXED = (
    "Well-mixed air; a mixing divisor above 1 divides the flow (1 = perfect, 3 to 10 = poor), "
    "because real rooms have corners."
)
ALL_EVAPORATES = "All of the liquid evaporates, film and overspray alike: an upper bound."


def substance_or_refusal(name: str) -> tuple[Substance | None, Refusal | None]:
    """The substance of that name, or the refusal that its name alone calls for.

    A name that is neither raises ``BadInput`` with the nearest names.
    """
    try:
        substance = find(name)
    except BadInput:
        refusals = in_words(name)
        if not refusals:
            raise
        return None, refusals[0]
    return substance, for_substance(substance)


def answer(
    kind: str,
    figures: Mapping[str, object],
    *,
    level: Level,
    words: str,
    assumptions: Iterable[str],
    cites: Iterable[str | Source],
    given: Mapping[str, object],
    region: str = "us",
    refusal: Refusal | None = None,
) -> Answer:
    """The whole JSON answer around a kind's figures, in one shape for all kinds.

    ``given`` are the inputs by name, checked for plausible slips of unit.
    """
    if not all(math.isfinite(value) for value in figures.values() if isinstance(value, float)):
        raise too_far(kind)
    asks = questions(given)
    if asks and level.rank < Level.CANNOT_ASSESS.rank:
        level = Level.CANNOT_ASSESS
    reason = refusal.words() if refusal else figures.get("reason")
    return {
        "kind": kind,
        **figures,
        "reason": reason,
        "level": level.value,
        "words": refusal.words() if refusal else words,
        "asks": list(asks),
        "assumptions": ["An estimate, not a measurement.", *assumptions],
        "cautions": [asdict(caution) for caution in for_spraying(region)],
        "order_of_authority": list(ORDER_OF_AUTHORITY),
        "sources": [asdict(entry) for entry in _sources(cites)],
        "region": region,
    }


def too_far(kind: str) -> BadInput:
    """The refusal of figures that no arithmetic can hold."""
    return BadInput(
        f"{kind}: got figures too large or too small to work with, wanted those of a paint "
        "bench; check every unit"
    )


def refused(
    kind: str,
    figures: Mapping[str, object],
    refusal: Refusal,
    given: Mapping[str, object],
    region: str = "us",
) -> Answer:
    """An answer whose every figure is ``None`` because the tool refuses to work it out."""
    known = refusal.key in ("unknown_product", "missing_limit")
    return answer(
        kind,
        figures,
        level=Level.CANNOT_ASSESS if known else Level.REFUSE,
        words=refusal.words(),
        assumptions=(),
        cites=_BEHIND[refusal.key],
        given=given,
        region=region,
        refusal=refusal,
    )


_BEHIND = {
    "isocyanate": ("hse_bodyshop", "eu_2024_869", "npg"),
    "methylene_chloride": ("epa_dcm", "osha_1052"),
    "toxic_pigment": ("osha_1026", "osha_1027", "eu_2024_869"),
    "old_paint": ("lead_ban",),
    "unknown_product": ("choice",),
    "missing_limit": ("choice",),
    "idlh": ("npg", "osha_134"),
}


def _sources(cites: Iterable[str | Source]) -> tuple[Source, ...]:
    keys = [cite if isinstance(cite, str) else cite.key for cite in cites]
    return sources(keys)
