"""The substances of paint and thinner: found by name, synonym or CAS number, with their figures."""

import difflib
import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache

from sprayout.errors import BadInput
from sprayout.safety.concentration import MOLAR_VOLUME_25C_L, ppm_from_mg_m3, saturation_ppm
from sprayout.safety.tables import Source, number, rows, source


@dataclass(frozen=True, slots=True)
class Figure:
    """One published number, its unit and where it comes from."""

    value: float
    unit: str
    source: Source


@dataclass(frozen=True, slots=True)
class Substance:
    """One substance.  A figure that is not known to us is ``None`` (or an empty tuple).

    ``kind`` is ``vapour``, ``gas`` or ``particulate``.  ``refusal`` names the reason for which
    this tool computes nothing for it, empty where there is none.
    """

    key: str
    name: str
    synonyms: tuple[str, ...]
    cas: str
    kind: str
    molar_mass_g: Figure | None
    density_kg_l: Figure | None
    vapour_pressures_mmhg: tuple[Figure, ...]
    boiling_c: Figure | None
    lower_explosive_pct: tuple[Figure, ...]
    flash_c: Figure | None
    idlh_ppm: Figure | None
    idlh_mg_m3: Figure | None
    skin: bool
    carcinogen: bool
    filter_us: str
    filter_eu: str
    refusal: str
    note: str

    @property
    def lowest_lel_pct(self) -> Figure | None:
        """The lowest published lower explosive limit: where sources disagree, take the lowest."""
        return min(self.lower_explosive_pct, key=lambda figure: figure.value, default=None)

    @property
    def saturation_ppm(self) -> float | None:
        """The most vapour that room air can hold, by the highest published pressure."""
        pressures = [figure.value for figure in self.vapour_pressures_mmhg]
        return saturation_ppm(max(pressures)) if pressures else None

    @property
    def idlh_in_ppm(self) -> Figure | None:
        """IDLH in ppm, turned from mg/m³ at 25 °C where it is published so."""
        if self.idlh_ppm or self.idlh_mg_m3 is None or self.molar_mass_g is None:
            return self.idlh_ppm
        if self.kind == "particulate":
            return None
        ppm = ppm_from_mg_m3(self.idlh_mg_m3.value, self.molar_mass_g.value, MOLAR_VOLUME_25C_L)
        return Figure(ppm, "ppm", self.idlh_mg_m3.source)

    def named(self) -> Iterator[str]:
        """Every name under which it may be looked up."""
        yield self.name
        yield self.key
        yield self.cas
        yield from self.synonyms


@cache
def all_substances() -> tuple[Substance, ...]:
    """Every substance we hold, in the table's order."""
    return tuple(_from_row(row) for row in rows("substances"))


def find(name: str) -> Substance:
    """The substance of that name, synonym or CAS number.

    An unknown name raises ``BadInput`` that shows the nearest names we know.
    """
    found = known(name)
    if found is not None:
        return found
    near = nearest_names(name)
    hint = f"nearest known: {', '.join(near)}" if near else "no name comes near"
    raise BadInput(
        f"substance: got {str(name)!r}, which is not in our table ({hint}); "
        "take its figures from the data sheet, an unknown substance is not assessed"
    )


def known(name: str) -> Substance | None:
    """The substance of that name, or ``None`` where it is not in our table."""
    return _by_name().get(_plain(name))


def nearest_names(name: str, most: int = 3) -> tuple[str, ...]:
    """Names of known substances close to a mistyped one, the nearest first, each substance once."""
    names = _by_name()
    close = difflib.get_close_matches(_plain(name), list(names), n=12, cutoff=0.7)
    return tuple(dict.fromkeys(names[entry].name for entry in close))[:most]


@cache
def _by_name() -> dict[str, Substance]:
    names = {_plain(name): s for s in all_substances() for name in s.named()}
    names.pop("", None)
    return names


def _plain(name: str) -> str:
    return re.sub(r"[\s_-]+", " ", str(name).strip().casefold())


def _from_row(row: dict[str, str]) -> Substance:
    return Substance(
        key=row["key"],
        name=row["name"],
        synonyms=tuple(row["synonyms"].split(";")),
        cas=row["cas"],
        kind=row["kind"],
        molar_mass_g=_marked(row, "molar_mass_g", "molar_mass_mark", "g/mol", "npg"),
        density_kg_l=_marked(row, "density_kg_l", "density_mark", "kg/L", "npg"),
        vapour_pressures_mmhg=_pressures(row),
        boiling_c=_marked(row, "boiling_c", "boiling_mark", "°C", "npg"),
        lower_explosive_pct=_explosive(row),
        flash_c=_marked(row, "flash_c", "flash_mark", "°C", "npg"),
        idlh_ppm=_figure(row["idlh_ppm"], "ppm", "npg"),
        idlh_mg_m3=_figure(row["idlh_mg_m3"], "mg/m³", "npg"),
        skin=bool(row["skin"]),
        carcinogen=bool(row["carcinogen"]),
        filter_us=row["filter_us"],
        filter_eu=row["filter_eu"],
        refusal=row["refusal"],
        note=row["note"],
    )


def _figure(text: str, unit: str, source_key: str) -> Figure | None:
    value = number(text)
    return None if value is None else Figure(value, unit, source(source_key))


_BY_MARK = {"memory": "handbook", "derived": "derived"}


def _marked(row: dict[str, str], name: str, mark: str, unit: str, read: str) -> Figure | None:
    return _figure(row[name], unit, _BY_MARK.get(row[mark], read))


def _pressures(row: dict[str, str]) -> tuple[Figure, ...]:
    memory = row["vp_mark"] == "memory"
    cells = (("vp_npg_mmhg", "npg"), ("vp_20c_mmhg", "correlation"), ("vp_25c_mmhg", "correlation"))
    figures = (_figure(row[c], "mmHg", "handbook" if memory else key) for c, key in cells)
    return tuple(figure for figure in figures if figure)


def _explosive(row: dict[str, str]) -> tuple[Figure, ...]:
    cells = (
        ("lel_npg_pct", "npg"),
        ("lel_nfpa_pct", "nfpa_497"),
        ("lel_iec_pct", "iec_60079"),
        ("lel_other_pct", "lel_memory"),
    )
    figures = (_figure(row[cell], "%", key) for cell, key in cells)
    return tuple(figure for figure in figures if figure)
