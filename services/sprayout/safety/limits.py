"""Published exposure limits by region, and the lowest of them.

``us``: OSHA PEL, NIOSH REL and ACGIH TLV; ``uk``: workplace exposure limits; ``eu``: indicative
and binding limits.  A substance without a limit for a region has none known to us there: that is
*cannot assess*, never zero and never "no limit".
"""

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from typing import Literal

from sprayout.safety.cautions import region_named
from sprayout.safety.concentration import convention_l, mg_m3_from_ppm, ppm_from_mg_m3
from sprayout.safety.given import above_zero
from sprayout.safety.substances import Substance
from sprayout.safety.tables import Source, number, rows, source

Period = Literal["8h", "15min", "ceiling"]
EXCURSION = 3.0
"""Short-term figure as a multiple of the 8-h limit where none is published (source eh40_triple)."""


@dataclass(frozen=True, slots=True)
class Limit:
    """One limit of one body.  ``period`` is 8h, 15min or ceiling; ``mark`` as in ``Source``."""

    region: str
    body: str
    period: str
    ppm: float | None
    mg_m3: float | None
    source: Source
    mark: str
    note: str

    def words(self) -> str:
        """``OSHA PEL 200 ppm over 8 h``."""
        value = f"{self.ppm:g} ppm" if self.ppm is not None else f"{self.mg_m3:g} mg/m³"
        over = {"8h": "over 8 h", "15min": "over 15 min", "ceiling": "as a ceiling"}[self.period]
        mark = "" if self.mark == "read" else f" ({self.mark})"
        return f"{self.body} {value} {over}{mark}"


@cache
def limits_for(substance: Substance, region: str) -> tuple[Limit, ...]:
    """All limits of one region; both units filled in where a molar mass allows it.

    UK and EU pairs convert at 20 °C, US ones at 25 °C; a particulate has mg/m³ only.
    """
    name = region_named(region)
    found = (row for row in rows("limits") if row["substance"] == substance.key)
    return tuple(_from_row(row, substance) for row in found if row["region"] == name)


def from_data_sheet(substance: Substance, region: str, ppm: float) -> Limit:
    """The 8-h limit that a person read in the product's data sheet; it outranks our tables."""
    value = above_zero("limit", ppm, "ppm", "take the limit from the data sheet")
    limit = Limit(region, "data sheet", "8h", value, None, source("sds"), "read", "")
    return _both_units(limit, substance)


def lowest_ppm(substance: Substance, region: str) -> Limit | None:
    """The lowest limit in ppm of any period, or ``None`` where the region has none."""
    return _lowest(limits_for(substance, region), lambda limit: limit.ppm)


def lowest_mg_m3(substance: Substance, region: str) -> Limit | None:
    """The lowest limit in mg/m³ of any period, or ``None``."""
    return _lowest(limits_for(substance, region), lambda limit: limit.mg_m3)


def lowest_8h(substance: Substance, region: str) -> Limit | None:
    """The lowest 8-h limit in ppm."""
    found = tuple(lim for lim in limits_for(substance, region) if lim.period == "8h")
    return _lowest(found, lambda limit: limit.ppm)


def lowest_15min(substance: Substance, region: str) -> Limit | None:
    """The lowest short-term or ceiling limit in ppm, else three times the 8-h one, said so.

    A ceiling without an instant monitor is judged over 15 min (29 CFR 1910.1000(a)(1)).
    """
    found = tuple(lim for lim in limits_for(substance, region) if lim.period != "8h")
    short = _lowest(found, lambda limit: limit.ppm)
    long = lowest_8h(substance, region)
    if short is not None or long is None or long.ppm is None:
        return short
    return excursion_of(long)


def excursion_of(long: Limit) -> Limit:
    """Three times an 8-h limit, for 15 min: guidance where no short-term limit is published."""
    ppm = None if long.ppm is None else EXCURSION * long.ppm
    mg_m3 = None if long.mg_m3 is None else EXCURSION * long.mg_m3
    note = f"no short-term limit is published; three times {long.words()}"
    triple = source("eh40_triple")
    return Limit(long.region, "excursion", "15min", ppm, mg_m3, triple, "memory", note)


def _lowest(limits: tuple[Limit, ...], value: Callable[[Limit], float | None]) -> Limit | None:
    known = [(amount, limit) for limit in limits if (amount := value(limit)) is not None]
    return min(known, key=lambda pair: pair[0])[1] if known else None


def _from_row(row: dict[str, str], substance: Substance) -> Limit:
    limit = Limit(
        row["region"],
        row["body"],
        row["period"],
        number(row["ppm"]),
        number(row["mg_m3"]),
        source(row["source"]),
        row["mark"],
        row["note"],
    )
    return _both_units(limit, substance)


def _both_units(limit: Limit, substance: Substance) -> Limit:
    mass = substance.molar_mass_g
    if mass is None or substance.kind == "particulate" or "as NCO" in limit.note:
        return limit
    litres = convention_l(limit.region)
    ppm, mg_m3 = limit.ppm, limit.mg_m3
    if ppm is None and mg_m3 is not None:
        ppm = ppm_from_mg_m3(mg_m3, mass.value, litres)
    if mg_m3 is None and ppm is not None:
        mg_m3 = mg_m3_from_ppm(ppm, mass.value, litres)
    return Limit(
        limit.region, limit.body, limit.period, ppm, mg_m3, limit.source, limit.mark, limit.note
    )
