"""Checking a humidity probe over saturated salts, and the correction that comes of it.

Greenspan (1977), J. Res. NBS 81A(1) 89-96; the few salts he does not have by the CRC Handbook's
RH = A exp(B/T).  The table, with the uncertainty of each row, is ``data/salts.csv``.
"""

import csv
import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from importlib import resources

import numpy as np

from sprayout.errors import BadInput

_NAMES = {
    "sodium chloride": "NaCl",
    "table salt": "NaCl",
    "kitchen salt": "NaCl",
    "magnesium chloride": "MgCl2",
    "lithium chloride": "LiCl",
    "magnesium nitrate": "Mg(NO3)2",
    "potassium chloride": "KCl",
    "potassium sulfate": "K2SO4",
    "potassium sulphate": "K2SO4",
    "potassium acetate": "CH3COOK",
    "potassium carbonate": "K2CO3",
    "sodium bromide": "NaBr",
    "potassium iodide": "KI",
    "ammonium sulfate": "(NH4)2SO4",
    "ammonium sulphate": "(NH4)2SO4",
    "potassium nitrate": "KNO3",
}
_LARGEST_ERROR_PCT = 10.0  # beyond it the probe is spent or the salt not as it should be
_SHORTEST_MIN = 60.0  # common practice, no source; several hours are better
_APART_PCT = 20.0
_SHAPE_ERROR_PCT = 0.5  # what a straight correction leaves between and beyond its points


@dataclass(frozen=True, slots=True)
class _Row:
    t_c: float
    rh_pct: float
    uncertainty_pct: float
    formula: str
    source: str


@dataclass(frozen=True, slots=True)
class SaltHumidity:
    """Humidity over a saturated salt, with what its source claims for it."""

    salt: str
    t_c: float
    rh_pct: float
    uncertainty_pct: float
    source: str


@dataclass(frozen=True, slots=True)
class SaltPoint:
    """What the probe read when it had stood over a salt for so many minutes."""

    salt: str
    t_c: float
    read_pct: float
    minutes: float


@dataclass(frozen=True, slots=True)
class Correction:
    """True humidity = ``offset_pct`` + ``gain`` × reading, found at ``at_ms``.

    ``uncertainty_pct`` holds at the points; ``low_pct``/``high_pct`` are the readings it spans.
    """

    probe: str
    at_ms: int
    offset_pct: float
    gain: float
    low_pct: float
    high_pct: float
    uncertainty_pct: float
    points: tuple[SaltPoint, ...]

    def apply(self, rh_pct: float) -> float:
        """The corrected reading, kept within 0…100 %; NaN stays NaN."""
        return float(np.clip(self.offset_pct + self.gain * rh_pct, 0.0, 100.0))

    def words(self) -> str:
        """The correction in words."""
        salts = " and ".join(point.salt for point in self.points)
        middle = 50.0
        return (
            f"{self.probe}: {self.apply(middle) - middle:+.1f} %RH at {middle:.0f} %RH,"
            f" ± {self.uncertainty_pct:.1f}, over {salts}"
        )


@cache
def _table() -> dict[str, tuple[_Row, ...]]:
    path = resources.files("sprayout.climate") / "data" / "salts.csv"
    lines = path.read_text(encoding="utf-8").splitlines()
    rows: dict[str, list[_Row]] = {}
    for row in csv.DictReader(line for line in lines if not line.startswith("#")):
        rows.setdefault(row["salt"], []).append(
            _Row(
                float(row["t_c"]),
                float(row["rh_pct"]),
                float(row["uncertainty_pct"]),
                row["formula"],
                row["source"],
            )
        )
    return {salt: tuple(sorted(r, key=lambda one: one.t_c)) for salt, r in rows.items()}


def salt_names() -> tuple[str, ...]:
    """The salts of the table, by formula."""
    return tuple(_table())


def salt_spans() -> tuple[tuple[str, float, float], ...]:
    """Each salt with the lowest and the highest temperature of its source, °C."""
    return tuple((salt, rows[0].t_c, rows[-1].t_c) for salt, rows in _table().items())


def find_salt(name: str) -> str:
    """Formula of a salt given by formula or name."""
    wanted = name.strip().casefold()
    for formula in _table():
        if formula.casefold() == wanted:
            return formula
    if wanted in _NAMES:
        return _NAMES[wanted]
    raise BadInput(f"salt: got {name.strip()!r}, wanted one of {', '.join(_table())}; choose one")


def humidity_over(salt: str, t_c: float) -> SaltHumidity:
    """Humidity over the saturated salt at ``t_c``, within the span of its source."""
    formula = find_salt(salt)
    rows = _table()[formula]
    low, high = rows[0].t_c, rows[-1].t_c
    if not low <= t_c <= high:
        raise BadInput(
            f"salt temperature: got {t_c:g} °C, wanted {low:g} to {high:g} °C for {formula}; "
            "let the jar come to room temperature"
        )
    temperatures = [row.t_c for row in rows]
    uncertainty = float(np.interp(t_c, temperatures, [row.uncertainty_pct for row in rows]))
    return SaltHumidity(formula, t_c, _humidity(rows, t_c), uncertainty, rows[0].source)


def _humidity(rows: tuple[_Row, ...], t_c: float) -> float:
    text = rows[0].formula
    if text.startswith("A="):
        a, b = (float(part.partition("=")[2]) for part in text.split())
        return a * math.exp(b / (t_c + 273.15))
    if text:
        return float(sum(float(c) * t_c**i for i, c in enumerate(text.split())))
    return float(np.interp(t_c, [row.t_c for row in rows], [row.rh_pct for row in rows]))


def correction(probe: str, points: Sequence[SaltPoint], at_ms: int) -> Correction:
    """Correction from one point (offset alone) or two (offset and gain)."""
    if len(points) not in (1, 2):
        raise BadInput(f"salt check: got {len(points)} points, wanted one or two; measure again")
    truths = [_checked(point) for point in points]
    reads = [point.read_pct for point in points]
    gain = 1.0
    if len(points) == 2:
        if abs(truths[1].rh_pct - truths[0].rh_pct) < _APART_PCT:
            raise BadInput(
                f"salt check: {truths[0].salt} and {truths[1].salt} are less than "
                f"{_APART_PCT:g} %RH apart; take MgCl2 and NaCl"
            )
        apart = (reads[1] - reads[0]) / (truths[1].rh_pct - truths[0].rh_pct)
        if not 0.5 <= apart <= 2.0:
            raise BadInput(
                f"salt check: the probe reads {reads[0]:g} over {truths[0].salt} and {reads[1]:g} "
                f"over {truths[1].salt}, wanted about {truths[0].rh_pct:.0f} and "
                f"{truths[1].rh_pct:.0f} %RH; see that the jars were not swapped"
            )
        gain = 1.0 / apart
    offset = truths[0].rh_pct - gain * reads[0]
    worst = max(truth.uncertainty_pct for truth in truths)
    return Correction(
        probe=probe,
        at_ms=at_ms,
        offset_pct=offset,
        gain=gain,
        low_pct=min(reads),
        high_pct=max(reads),
        uncertainty_pct=math.hypot(worst, _SHAPE_ERROR_PCT),
        points=tuple(points),
    )


def _checked(point: SaltPoint) -> SaltHumidity:
    truth = humidity_over(point.salt, point.t_c)
    if not 0.0 < point.read_pct <= 100.0:
        raise BadInput(
            f"salt check: probe reads {point.read_pct:g} %RH over {truth.salt}, wanted above 0 to "
            "100; look at the probe"
        )
    if not point.minutes >= _SHORTEST_MIN:
        raise BadInput(
            f"salt check: {point.minutes:g} minutes over {truth.salt}, wanted {_SHORTEST_MIN:g} or "
            "more; leave the jar shut and read again"
        )
    error = point.read_pct - truth.rh_pct
    if abs(error) > _LARGEST_ERROR_PCT:
        raise BadInput(
            f"salt check: probe reads {point.read_pct:g} %RH over {truth.salt}, which stands at "
            f"{truth.rh_pct:.1f}; see that the salt is wet slush and the jar tight, else replace "
            "the probe"
        )
    return truth


def correction_age_days(found: Correction, now_ms: int) -> float:
    """Age of a correction; due again after a year (common practice, no source)."""
    return (now_ms - found.at_ms) / 86_400_000.0
