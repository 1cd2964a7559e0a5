"""A paint's own limits from its data sheet, entered once, and the booth judged against them.

What the sheet does not state stays ``None`` and is said to be unstated; it never reads as kept.
"""

import math
from collections.abc import Mapping
from dataclasses import asdict, dataclass, fields
from typing import Any, Literal, cast

from sprayout.climate.levels import Level
from sprayout.errors import BadInput

DriesBy = Literal["evaporation", "cure"]


@dataclass(frozen=True, slots=True)
class PaintLimits:
    """One paint; times hold at ``reference_c``, as data sheets state them.

    ``dries_by`` *evaporation* (lacquers, acrylics) or *cure* (enamels, two-part).  Recoat is
    allowed from ``recoat_from_h`` until the wrinkle window opens at ``wrinkle_from_h``, and again
    from ``wrinkle_to_h``; a paint without such a window leaves both ``None``.
    """

    name: str
    dries_by: DriesBy
    reference_c: float = 23.0
    air_min_c: float | None = None
    air_max_c: float | None = None
    surface_min_c: float | None = None
    surface_max_c: float | None = None
    rh_min_pct: float | None = None
    rh_max_pct: float | None = None
    surface_over_dew_k: float = 3.0
    flash_off_min: float | None = None
    recoat_from_h: float | None = None
    wrinkle_from_h: float | None = None
    wrinkle_to_h: float | None = None
    pot_life_h: float | None = None

    def __post_init__(self) -> None:
        if self.dries_by not in ("evaporation", "cure"):
            raise BadInput(f"dries_by: got {self.dries_by!r}, wanted evaporation or cure")
        for name in ("air", "surface"):
            _ordered(
                f"{name}_min_c", getattr(self, f"{name}_min_c"), getattr(self, f"{name}_max_c")
            )
        _ordered("rh_min_pct", self.rh_min_pct, self.rh_max_pct)
        _ordered("recoat_from_h", self.recoat_from_h, self.wrinkle_from_h)
        _ordered("wrinkle_from_h", self.wrinkle_from_h, self.wrinkle_to_h)
        _within("rh_max_pct", self.rh_max_pct, 1.0, 100.0)
        _within("rh_min_pct", self.rh_min_pct, 0.0, 100.0)
        _within("reference_c", self.reference_c, 5.0, 40.0)
        for name in ("flash_off_min", "recoat_from_h", "wrinkle_to_h", "pot_life_h"):
            _within(name, getattr(self, name), 0.0, 10_000.0)
        if (self.wrinkle_from_h is None) != (self.wrinkle_to_h is None):
            raise BadInput(
                "wrinkle window: got one end, wanted wrinkle_from_h and wrinkle_to_h; "
                "see the data sheet"
            )


@dataclass(frozen=True, slots=True)
class LimitFinding:
    """One limit judged; *unknown* where the reading is missing, *note* where the sheet is mute."""

    limit: str
    level: Level
    words: str


def judge_limits(
    limits: PaintLimits,
    air_c: float | None,
    rh_pct: float | None,
    surface_c: float | None,
    dew_point_c: float | None,
) -> tuple[LimitFinding, ...]:
    """Every limit of the sheet against what the booth reads; kept limits come as *none*."""
    over = None
    if surface_c is not None and dew_point_c is not None:
        over = surface_c - dew_point_c
    return (
        _judge("air temperature", "°C", air_c, limits.air_min_c, limits.air_max_c),
        _judge("part temperature", "°C", surface_c, limits.surface_min_c, limits.surface_max_c),
        _judge("relative humidity", "%RH", rh_pct, limits.rh_min_pct, limits.rh_max_pct),
        _judge("part above dew point", "K", over, limits.surface_over_dew_k, None),
    )


def worst(findings: tuple[LimitFinding, ...]) -> LimitFinding:
    """The gravest finding."""
    return max(findings, key=lambda finding: finding.level.rank)


def _judge(
    name: str, unit: str, value: float | None, low: float | None, high: float | None
) -> LimitFinding:
    if low is None and high is None:
        return LimitFinding(name, Level.NOTE, f"{name}: the data sheet states no limit")
    wanted = _span(low, high, unit)
    if value is None or not math.isfinite(value):
        return LimitFinding(name, Level.UNKNOWN, f"{name}: not measured, wanted {wanted}")
    words = f"{name}: {value:.1f} {unit}, wanted {wanted}"
    kept = (low is None or value >= low) and (high is None or value <= high)
    return LimitFinding(name, Level.NONE if kept else Level.CAUTION, words)


def _span(low: float | None, high: float | None, unit: str) -> str:
    if low is None:
        return f"at most {high:g} {unit}"
    if high is None:
        return f"at least {low:g} {unit}"
    return f"{low:g} to {high:g} {unit}"


def _ordered(name: str, low: float | None, high: float | None) -> None:
    if low is not None and high is not None and not low < high:
        raise BadInput(f"{name}: got {low:g}, wanted below {high:g}; see the data sheet")


def _within(name: str, value: float | None, low: float, high: float) -> None:
    if value is not None and not low <= value <= high:
        raise BadInput(f"{name}: got {value:g}, wanted {low:g} to {high:g}; see the data sheet")


def parse_paint_limits(values: Mapping[str, Any]) -> PaintLimits:
    """Limits from JSON; unknown fields and wrong types are named."""
    known = {field.name for field in fields(PaintLimits)}
    for name in values:
        if name not in known:
            raise BadInput(
                f"paint limits: unknown field {name!r}, wanted {', '.join(sorted(known))}"
            )
    for name in ("name", "dries_by"):
        if not isinstance(values.get(name), str) or not values[name].strip():
            raise BadInput(f"paint limits: {name} is missing, wanted text; see the data sheet")
    numbers = {
        name: _number(name, value)
        for name, value in values.items()
        if name not in ("name", "dries_by") and value is not None
    }
    return PaintLimits(values["name"], cast(DriesBy, values["dries_by"]), **numbers)


def _number(name: str, value: Any) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        raise BadInput(f"{name}: got {value!r}, wanted a number; see the data sheet")
    return float(value)


def paint_limits_to_json(limits: PaintLimits) -> dict[str, Any]:
    """Limits as JSON, unstated ones as ``null``; :func:`parse_paint_limits` takes it back."""
    return asdict(limits)
