"""Causes that lie in the booth's air: damp, cold, warm, moving or still."""

from __future__ import annotations

from sprayout.review.cause import FILM_SOURCE, SHEET_SOURCE, SURFACE_SOURCE, Cause


def humid(defect: str, limit: float, weight: float, *, film: bool = False) -> Cause:
    """Humidity; where the film's margin is known it decides whether water could form at all."""
    return Cause(
        defect=defect,
        key="humid_air",
        words="humid air",
        quantity="relative_humidity",
        harm="high",
        limit=limit,
        width=8.0,
        weight=weight,
        change="wait for drier air, warm the booth and the part, or take a slower reducer",
        source=f"{FILM_SOURCE}; {SHEET_SOURCE}" if film else SHEET_SOURCE,
        sheet="rh_max_pct",
        instead=(("film_margin", "low", 0.0, 1.0), ("margin_to_dew_point", "low", 3.0, 1.5)),
        shown=("film_margin", "film_below_min", "margin_to_dew_point"),
        gate="film_margin" if film else None,
    )


def cold_part(defect: str, weight: float, *, film: bool = False) -> Cause:
    return Cause(
        defect,
        "cold_part",
        "part colder than the air",
        "part_minus_air",
        "low",
        -2.0,
        1.0,
        weight,
        "let the part come to room temperature for an hour, or warm it gently",
        SURFACE_SOURCE,
        shown=("part_temperature", "margin_to_dew_point"),
        gate="film_margin" if film else None,
    )


def cold_air(defect: str, weight: float) -> Cause:
    return Cause(
        defect,
        "cold_air",
        "cold air",
        "air_temperature",
        "low",
        15.0,
        2.5,
        weight,
        "warm the room before and after the coat, away from any flame or heater in the booth",
        SHEET_SOURCE,
        sheet="air_min_c",
        shown=("part_temperature",),
    )


def warm_air(defect: str, weight: float) -> Cause:
    return Cause(
        defect,
        "warm_air",
        "warm air",
        "air_temperature",
        "high",
        28.0,
        2.5,
        weight,
        "spray in a cooler hour, or take a slower reducer",
        SHEET_SOURCE,
        sheet="air_max_c",
        shown=("part_temperature",),
    )


def strong_draught(defect: str, weight: float) -> Cause:
    return Cause(
        defect,
        "strong_draught",
        "strong draught over the part",
        "air_speed",
        "high",
        0.8,
        0.2,
        weight,
        "turn the part out of the draught; keep the fan running and the booth face clear",
    )


def still_air(defect: str, weight: float) -> Cause:
    return Cause(
        defect,
        "still_air",
        "still air",
        "air_speed",
        "low",
        0.15,
        0.08,
        weight,
        "see that the fan runs and its filter is clear until the coats have dried",
        shown=("fan_unsure_min",),
        instead=(("fan_unsure_min", "high", 3.0, 1.5),),
    )


def filter(defect: str, weight: float) -> Cause:
    return Cause(
        defect,
        "old_filter",
        "booth filter old",
        "filter_days",
        "high",
        120.0,
        50.0,
        weight,
        "change the booth's filter and wipe the booth out",
        shown=("fan_unsure_min",),
    )
