"""A reducer as solvents by volume: typed as shares, or taken from the ranges of a data sheet."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from sprayout.climate.solvents import Solvent, find_solvent
from sprayout.errors import BadInput

_SUM_TOLERANCE = 0.005

Basis = Literal["volume", "weight"]


@dataclass(frozen=True, slots=True)
class Blend:
    """Solvents and their volume shares, which add up to 1."""

    solvents: tuple[Solvent, ...]
    shares: tuple[float, ...]
    notes: tuple[str, ...] = ()

    def mixed_with(self, other: "Blend", share: float) -> "Blend":
        """This blend with ``share`` of its volume replaced by ``other``."""
        parts: dict[str, tuple[Solvent, float]] = {}
        for blend, weight in ((self, 1.0 - share), (other, share)):
            for solvent, part in zip(blend.solvents, blend.shares, strict=True):
                before = parts.get(solvent.name, (solvent, 0.0))[1]
                parts[solvent.name] = (solvent, before + weight * part)
        kept = [(s, v) for s, v in parts.values() if v > 0.0]
        return Blend(tuple(s for s, _ in kept), tuple(v for _, v in kept), self.notes)

    def words(self) -> str:
        """The blend in words, largest share first."""
        parts = sorted(zip(self.shares, self.solvents, strict=True), key=lambda p: -p[0])
        return ", ".join(f"{share * 100:.0f} % {solvent.name}" for share, solvent in parts)


@dataclass(frozen=True, slots=True)
class SheetReducer:
    """A reducer known only by the ranges of its data sheet.

    ``middle`` is the most likely blend; ``fastest`` and ``slowest`` are the most and the least
    volatile blends that the ranges allow, so that an answer can carry its range.
    """

    middle: Blend
    fastest: Blend
    slowest: Blend


def parse_reducer(text: str) -> Blend:
    """Read ``name=share,name=share`` by volume; shares add up to 1 or to 100."""
    entries = [entry for entry in text.split(",") if entry.strip()]
    if not entries:
        raise BadInput('reducer: got nothing, wanted "name=share,name=share"; name its solvents')
    shares: dict[str, float] = {}
    for entry in entries:
        name, equals, share = entry.rpartition("=")
        if not equals or not name.strip():
            raise BadInput(f"reducer: got {entry.strip()!r}, wanted name=share; add its share")
        if name.strip() in shares:
            raise BadInput(f"reducer: {name.strip()} is named twice; add its shares together")
        shares[name.strip()] = _number(name.strip(), share)
    return blend_by_volume(shares)


def blend_by_volume(shares: Mapping[str, float]) -> Blend:
    """Blend of named solvents by volume; refuses shares that do not sum to 1 or to 100."""
    return _blend(_normalised(_found(shares)))


def from_data_sheet(
    ranges: Mapping[str, tuple[float, float]], basis: Basis = "weight"
) -> SheetReducer:
    """Blend from the percentage ranges of a safety data sheet (``{"toluene": (30, 50)}``).

    Ranges are by weight unless said; they must leave room for a sum of 100 %.
    """
    low, high = (sum(r[i] for r in ranges.values()) for i in (0, 1))
    for name, (first, last) in ranges.items():
        if not 0.0 <= first <= last <= 100.0:
            raise BadInput(f"data sheet: {name} got {first:g}-{last:g} %, wanted low-high in 0-100")
    if not ranges or low > 100.5 or high < 99.5:
        raise BadInput(
            f"data sheet: ranges sum to {low:g}-{high:g} %, wanted to include 100; "
            "give every solvent of section 3"
        )
    names = sorted(ranges, key=lambda name: -_volatility(name))
    middle = _fill(ranges, [], (100.0 - low) / (high - low) if high > low else 0.0)
    return SheetReducer(
        middle=_of_basis(middle, basis),
        fastest=_of_basis(_fill(ranges, names, 0.0), basis),
        slowest=_of_basis(_fill(ranges, names[::-1], 0.0), basis),
    )


def _fill(
    ranges: Mapping[str, tuple[float, float]], greedy: Sequence[str], even: float
) -> dict[str, float]:
    """Start at every low end; go up evenly, or fill the greedy ones first until 100 %."""
    shares = {name: low + even * (high - low) for name, (low, high) in ranges.items()}
    room = 100.0 - sum(shares.values())
    for name in greedy:
        more = max(0.0, min(ranges[name][1] - shares[name], room))
        shares[name] += more
        room -= more
    return shares


def _of_basis(shares: Mapping[str, float], basis: Basis) -> Blend:
    found = _found({name: share for name, share in shares.items() if share > 0.0})
    if basis == "weight":
        found = [(s, share / s.density_kg_m3, note) for s, share, note in found]
    total = sum(share for _, share, _ in found)
    return _blend([(s, share / total, note) for s, share, note in found])


def _volatility(name: str) -> float:
    return float(find_solvent(name).solvent.vapour_pressure_pa(20.0))


_Part = tuple[Solvent, float, str | None]


def _found(shares: Mapping[str, float]) -> list[_Part]:
    parts: list[_Part] = []
    for name, share in shares.items():
        found = find_solvent(name)
        if found.solvent in (solvent for solvent, _, _ in parts):
            raise BadInput(
                f"reducer: {name} is {found.solvent.name}, named twice; add its shares together"
            )
        note = f"{found.stands_for} is taken as {found.solvent.name}" if found.stands_for else None
        parts.append((found.solvent, share, note))
    return parts


def _normalised(parts: list[_Part]) -> list[_Part]:
    total = sum(share for _, share, _ in parts)
    for whole in (1.0, 100.0):
        if abs(total / whole - 1.0) <= _SUM_TOLERANCE:
            return [(solvent, share / total, note) for solvent, share, note in parts]
    raise BadInput(
        f"reducer: shares sum to {total:g}, wanted 1 or 100; correct them or add what is missing"
    )


def _blend(parts: Sequence[_Part]) -> Blend:
    kept = [part for part in parts if part[1] > 0.0]
    return Blend(
        tuple(solvent for solvent, _, _ in kept),
        tuple(share for _, share, _ in kept),
        tuple(note for _, _, note in kept if note),
    )


def _number(name: str, text: str) -> float:
    try:
        share = float(text.strip().rstrip("%"))
    except ValueError:
        share = math.nan
    if not 0.0 <= share <= 100.0:
        raise BadInput(f"reducer: share of {name} is {text.strip()!r}, wanted 0 to 100; correct it")
    return share
