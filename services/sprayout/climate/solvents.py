"""The solvent table shipped with the package, and finding a solvent by any of its names."""

import csv
import difflib
import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from importlib import resources

import numpy as np
from numpy.typing import ArrayLike, NDArray

from sprayout.errors import BadInput

WATER = "water"
TABLE_C = 25.0
"""Of the heats of vaporisation and the liquid heats."""


@dataclass(frozen=True, slots=True)
class Solvent:
    """One solvent; sources in ``data/solvents.csv``.

    Vapour pressure by Antoine: ln(p/Pa) = a - b/(T/K + c), fitted over -30…50 °C.
    """

    name: str
    cas: str
    molar_mass_kg: float
    antoine: tuple[float, float, float]
    vaporisation_j_mol: float
    liquid_heat_j_mol_k: float
    density_kg_m3: float
    lewis: float
    boiling_c: float
    relative_rate: float | None
    note: str

    def vapour_pressure_pa(self, t_c: ArrayLike) -> NDArray[np.float64]:
        """Vapour pressure of the pure solvent at ``t_c``."""
        a, b, c = self.antoine
        t_k = np.asarray(t_c, dtype=np.float64) + 273.15
        return np.asarray(np.exp(a - b / (t_k + c)))

    def vaporisation_at_j_mol(self, t_c: float) -> float:
        """Heat of vaporisation at ``t_c``: the table's at 25 °C, carried by Clausius-Clapeyron.

        ΔH ∝ d ln p/d(1/T) = b (T/(T + c))² at pressures where the vapour is nearly ideal; water
        comes within 0.4 % of ASHRAE's 2501 - 2.381 t kJ/kg over 0…45 °C.
        """
        c = self.antoine[2]
        return self.vaporisation_j_mol * heat_slope(c, t_c) / heat_slope(c, TABLE_C)

    @property
    def vapour_heat_j_mol_k(self) -> float:
        """Heat capacity of the vapour at 25 °C by Kirchhoff: c_liquid + dΔH/dT, at least 0.

        From 5 to 31 % above the CRC Handbook's ideal gas (memory) for water, acetone, toluene,
        n-hexane and MEK: the difference of two large figures.
        """
        t_k = TABLE_C + 273.15
        drop = 2.0 * self.vaporisation_j_mol * (1.0 / t_k - 1.0 / (t_k + self.antoine[2]))
        return max(self.liquid_heat_j_mol_k + drop, 0.0)


def heat_slope(antoine_c: float, t_c: float) -> float:
    """(T/(T + c))² of Antoine's c: how a heat of vaporisation goes with the temperature."""
    t_k = t_c + 273.15
    return (t_k / (t_k + antoine_c)) ** 2


@dataclass(frozen=True, slots=True)
class Found:
    """A solvent found by a name; ``stands_for`` is the product it only stands in for."""

    solvent: Solvent
    stands_for: str | None


def find_solvent(name: str) -> Found:
    """The solvent of that name, label name or CAS number; unknown names offer the nearest."""
    key = _key(name)
    if key in _by_key():
        return Found(_by_key()[key], None)
    if key in _aliases():
        target, stands_in = _aliases()[key]
        return Found(_by_key()[_key(target)], name.strip() if stands_in else None)
    raise BadInput(
        f"reducer: solvent {name.strip()!r} is not in the table; nearest: "
        f"{', '.join(nearest_names(name))}; name one of these or ask the maker what is in it"
    )


def is_known(name: str) -> bool:
    """Whether the table holds a solvent of that name, label name or CAS number."""
    key = _key(name)
    return key in _by_key() or key in _aliases()


def other_names(entry: Solvent) -> tuple[str, ...]:
    """What labels and data sheets also write for it, stand-ins left out."""
    rows = _rows("solvent_names.csv")
    own = (row for row in rows if row["name"] == entry.name and row["stands_for"] != "1")
    return tuple(row["alias"] for row in own)


def nearest_names(name: str, count: int = 3) -> list[str]:
    """Names in the table closest to ``name`` in spelling, best first."""
    known = {
        **{k: s.name for k, s in _by_key().items()},
        **{k: a[0] for k, a in _aliases().items()},
    }
    keys = difflib.get_close_matches(_key(name), list(known), n=12, cutoff=0.0)
    return list(dict.fromkeys(known[key] for key in keys))[:count]


@cache
def all_solvents() -> tuple[Solvent, ...]:
    """Every solvent of the table, in its order."""
    return tuple(_solvent(row) for row in _rows("solvents.csv"))


def solvent(name: str) -> Solvent:
    """The solvent with exactly this name in the table."""
    return _by_key()[_key(name)]


def _rows(file_name: str) -> Iterator[dict[str, str]]:
    path = resources.files("sprayout.climate") / "data" / file_name
    lines = path.read_text(encoding="utf-8").splitlines()
    return csv.DictReader(line for line in lines if not line.startswith("#"))


def _solvent(row: dict[str, str]) -> Solvent:
    return Solvent(
        name=row["name"],
        cas=row["cas"],
        molar_mass_kg=float(row["MW_g_mol"]) * 1e-3,
        antoine=(
            float(row["antoine_A_lnPa"]),
            float(row["antoine_B_K"]),
            float(row["antoine_C_K"]),
        ),
        vaporisation_j_mol=float(row["Hvap298_kJ_mol"]) * 1e3,
        liquid_heat_j_mol_k=float(row["Cp_liq_J_molK"]),
        density_kg_m3=float(row["density20_kg_m3"]),
        lewis=float(row["Lewis_25C"]),
        boiling_c=float(row["bp_C"]),
        relative_rate=float(row["RER_nBuAc1"]) if row["RER_nBuAc1"] else None,
        note=row["note"],
    )


def _key(name: str) -> str:
    """Without case, spaces and most punctuation: ``N-Butyl Acetate``, ``nbutylacetate``."""
    return re.sub(r"[\s\-_,.'’]+", "", name.casefold())


@cache
def _by_key() -> dict[str, Solvent]:
    """Solvents under their name, what stands before and inside its brackets, and CAS number."""
    found: dict[str, Solvent] = {}
    for entry in all_solvents():
        before, _, inside = entry.name.partition("(")
        for name in (entry.name, before, inside.rstrip(")"), entry.cas):
            if name and not name.rstrip(")").endswith("proxy"):
                found[_key(name)] = entry
        found[_key(entry.name)] = entry
    return found


@cache
def _aliases() -> dict[str, tuple[str, bool]]:
    rows = _rows("solvent_names.csv")
    return {_key(row["alias"]): (row["name"], row["stands_for"] == "1") for row in rows}
