"""Which kinds of respirator the published factors point to, and where none of them is valid.

Maximum use concentration = assigned factor * limit, never at or above IDLH (29 CFR
1910.134(d)(3)(i)(B); factors from its Table 1, for UK and EU from HSG53/EN 529, memory).  The
product's data sheet comes first; a factor counts only with fit, training and upkeep.
"""

from dataclasses import dataclass
from functools import cache

from sprayout.errors import BadInput
from sprayout.safety.cautions import region_named
from sprayout.safety.given import not_below_zero
from sprayout.safety.limits import Limit, from_data_sheet, lowest_ppm
from sprayout.safety.refusals import Refusal, for_substance, named
from sprayout.safety.substances import Substance
from sprayout.safety.tables import Source, rows, source

REMINDERS = (
    "The product's safety data sheet names the respirator; it comes before this list.",
    "A factor counts only with a fit test for this face and mask, training and upkeep.",
    "No beard or stubble under the seal.",
    "Ask a doctor first if heart, lungs or tight spaces trouble you.",
    "Mist needs a particulate stage on top of the gas cartridge; a dust mask stops no vapour.",
    "Smell is no change schedule for a cartridge.",
)

_FILTERS = {
    "us": {
        "organic vapour": "type OV organic vapour cartridge (black) with an R or P particulate "
        "stage (P100 magenta)",
        "ammonia": "type AM ammonia cartridge (green) with an R or P particulate stage",
    },
    "eu": {
        "A": "type A filter (organic, boiling above 65 °C; brown) with P3 (white)",
        "AX": "type AX filter (organic, boiling at 65 °C or less; brown) with P3 (white), single "
        "use",
        "K": "type K filter (ammonia; green) with P3 (white)",
    },
}


@dataclass(frozen=True, slots=True)
class RespiratorClass:
    """One class, the ppm it covers, and its ``filters`` where it cleans the room's air."""

    name: str
    factor: float
    covers_ppm: float
    tight: bool
    filters: str
    source: Source


@dataclass(frozen=True, slots=True)
class Advice:
    """The classes found, or the ``refusal`` for which there are none.

    ``limit`` is what the factors were multiplied by, ``cap_ppm`` where they end and ``cap_words``
    why.
    """

    classes: tuple[RespiratorClass, ...]
    limit: Limit | None
    cap_ppm: float | None
    cap_words: str
    refusal: Refusal | None


def advise(
    substance: Substance, ppm: float, region: str = "us", data_sheet_limit_ppm: float | None = None
) -> Advice:
    """Classes whose factor * lowest limit covers ``ppm``, capped at IDLH.

    No class where the substance is refused, has no limit for the region, or ``ppm`` reaches the
    cap.  Where no IDLH is published the cap is 10 % of the lowest explosive limit, as NIOSH caps
    its own; without either there is no answer.
    """
    name = region_named(region)
    if substance.kind == "particulate":
        raise BadInput(
            f"ppm of {substance.name}: got {ppm:g}, but a particulate has no ppm; take mg/m³ and "
            "the particulate class from the data sheet"
        )
    amount = not_below_zero("concentration", ppm, "ppm")
    cap, cap_words = cap_of(substance)
    limit = _limit(substance, name, data_sheet_limit_ppm)
    refusal = for_substance(substance) or _no_answer(amount, limit, cap)
    if refusal or limit is None or limit.ppm is None or cap is None:
        return Advice((), limit, cap, cap_words, refusal)
    found = (_class(row, substance, limit.ppm, cap) for row in _factors(name))
    return Advice(
        tuple(c for c in found if c is not None and amount <= c.covers_ppm),
        limit,
        cap,
        cap_words,
        None,
    )


def filter_words(substance: Substance, region: str) -> str:
    """The cartridge or filter for a substance; empty where none is relied on."""
    if region_named(region) == "us":
        return _FILTERS["us"].get(substance.filter_us, "")
    return _FILTERS["eu"].get(substance.filter_eu, "")


def classes_of_factor(factor: float, region: str) -> tuple[str, ...]:
    """Names of the air-cleaning classes whose assigned factor is at least ``factor``."""
    enough = (row for row in _factors(region_named(region)) if float(row["factor"]) >= factor)
    return tuple(row["class"] for row in enough if row["cleans"] == "true")


def _limit(substance: Substance, region: str, from_sheet: float | None) -> Limit | None:
    if from_sheet is not None:
        return from_data_sheet(substance, region, from_sheet)
    return lowest_ppm(substance, region)


def cap_of(substance: Substance) -> tuple[float | None, str]:
    """IDLH in ppm, else 10 % of the lowest explosive limit, and the words for it."""
    idlh, lel = substance.idlh_in_ppm, substance.lowest_lel_pct
    if idlh is not None:
        return idlh.value, f"IDLH {idlh.value:g} ppm ({idlh.source.title})"
    if lel is not None:
        cap = lel.value * 1000.0
        return cap, f"no IDLH published; capped at 10 % of the lower explosive limit, {cap:g} ppm"
    return None, "no IDLH and no explosive limit known"


def _no_answer(ppm: float, limit: Limit | None, cap: float | None) -> Refusal | None:
    if cap is not None and ppm >= cap:
        return named("idlh")
    if cap is None or limit is None:
        return named("missing_limit")
    return None


@cache
def _factors(region: str) -> tuple[dict[str, str], ...]:
    return tuple(row for row in rows("assigned_factors") if row["region"] == region)


def _class(
    row: dict[str, str], substance: Substance, limit_ppm: float, cap_ppm: float
) -> RespiratorClass | None:
    cleans = row["cleans"] == "true"
    filters = filter_words(substance, row["region"]) if cleans else ""
    if cleans and not filters:
        return None
    factor = float(row["factor"])
    covers = min(factor * limit_ppm, cap_ppm)
    tight = row["tight"] == "true"
    return RespiratorClass(row["class"], factor, covers, tight, filters, source(row["source"]))
