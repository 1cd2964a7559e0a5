"""Efflux time of a viscosity cup -> kinematic viscosity, within the range of that cup only.

Constants and their sources stand in ``data/viscosity_cups.csv``.  A time outside the cup's range is
refused: there the flow is not what the constants were found for.  ISO 2431 and ASTM D4212 ask for
the cup's own temperature; paint loses several per cent of viscosity per kelvin (common practice, no
source), so a reading at another temperature is marked.
"""

from __future__ import annotations

import csv
import math
from dataclasses import dataclass
from functools import cache
from importlib import resources

from sprayout.errors import BadInput

TEMPERATURE_SLACK_C = 2.0


@dataclass(frozen=True, slots=True)
class Cup:
    """One cup: its formula ``form`` with two constants, its range in seconds, its temperature.

    ``nu_min`` and ``nu_max`` (mm2/s) are what its standard states, or None.
    """

    family: str
    number: str
    form: str
    first: float
    second: float
    t_min_s: float
    t_max_s: float
    nu_min: float | None
    nu_max: float | None
    temperature_c: float

    @property
    def name(self) -> str:
        return f"{self.family} {self.number}"


@dataclass(frozen=True, slots=True)
class Efflux:
    """A reading of a cup: seconds, the kinematic viscosity they mean, and a note (or nothing)."""

    cup: str
    seconds: float
    temperature_c: float
    kinematic_mm2_s: float
    note: str


@cache
def cups() -> tuple[Cup, ...]:
    """Every cup there are constants for."""
    text = resources.files(__package__).joinpath("data/viscosity_cups.csv").read_text("utf-8")
    rows = csv.DictReader(line for line in text.splitlines() if not line.startswith("#"))
    return tuple(
        Cup(
            family=row["family"],
            number=row["cup"],
            form=row["form"],
            first=float(row["first"]),
            second=float(row["second"]),
            t_min_s=float(row["t_min_s"]),
            t_max_s=float(row["t_max_s"]),
            nu_min=float(row["nu_min"]) if row["nu_min"] else None,
            nu_max=float(row["nu_max"]) if row["nu_max"] else None,
            temperature_c=float(row["temperature_c"]),
        )
        for row in rows
    )


def cup_named(name: str) -> Cup:
    """The cup called ``name``, as ``Zahn 2`` or ``ISO 2431 4``."""
    wanted = " ".join(name.split()).casefold()
    for cup in cups():
        if cup.name.casefold() == wanted:
            return cup
    known = ", ".join(cup.name for cup in cups())
    raise BadInput(f"cup: {name!r} is not known; name one of {known}")


def kinematic_mm2_s(cup: Cup, seconds: float) -> float:
    """Kinematic viscosity (mm2/s) of an efflux time; raises BadInput outside the cup's range."""
    if not math.isfinite(seconds) or not cup.t_min_s <= seconds <= cup.t_max_s:
        smaller = "a smaller" if seconds < cup.t_min_s else "a larger"
        raise BadInput(
            f"{cup.name}: got {seconds:g} s, wanted {cup.t_min_s:g} to {cup.t_max_s:g} s; take "
            f"{smaller} cup of that family, or thin the paint"
        )
    if cup.form == "nu=K*(t-c)":
        return cup.first * (seconds - cup.second)
    if cup.form == "nu=A*t-B/t":
        return cup.first * seconds - cup.second / seconds
    return (seconds - cup.second) / cup.first


def efflux(cup_name: str, seconds: float, temperature_c: float) -> Efflux:
    """A reading of a cup at the paint's temperature."""
    cup = cup_named(cup_name)
    if not math.isfinite(temperature_c) or not 5 <= temperature_c <= 40:
        raise BadInput(
            f"{cup.name}: paint at {temperature_c:g} C, wanted 5 to 40; measure the paint, not the "
            "room"
        )
    note = ""
    if abs(temperature_c - cup.temperature_c) > TEMPERATURE_SLACK_C:
        note = (
            f"the cup is for {cup.temperature_c:g} C and the paint was at {temperature_c:g} C: "
            "compare only with readings at the same temperature"
        )
    nu = kinematic_mm2_s(cup, seconds)
    return Efflux(cup.name, seconds, temperature_c, nu, note)
