"""Causes that lie in the cup: its reducer, its thickness, its age, and the colour beneath."""

from __future__ import annotations

from sprayout.review.cause import SHEET_SOURCE, Cause


def fast_reducer(defect: str, weight: float, *, film: bool = False) -> Cause:
    return Cause(
        defect,
        "fast_reducer",
        "reducer too fast for the temperature",
        "reducer_volatility",
        "high",
        None,
        1.0,
        weight,
        "take a slower reducer, or add a little retarder as the paint's maker allows",
        "vapour pressure of the solvents at the air temperature (climate.solvents)",
        gate="film_margin" if film else None,
        shown=("air_temperature",),
    )


def slow_reducer(defect: str, weight: float) -> Cause:
    return Cause(
        defect,
        "slow_reducer",
        "reducer too slow for the temperature",
        "reducer_volatility",
        "low",
        None,
        1.0,
        weight,
        "take a faster reducer, or leave more time between coats",
        "vapour pressure of the solvents at the air temperature (climate.solvents)",
        shown=("air_temperature",),
    )


def thick_paint(defect: str, weight: float) -> Cause:
    return Cause(
        defect,
        "paint_too_thick",
        "paint too thick in the cup",
        "efflux_s",
        "high",
        None,
        4.0,
        weight,
        "thin a little more and time the cup again",
        instead=(("reducer_parts", "low", None, 0.2),),
        shown=("reducer_parts",),
    )


def thin_paint(defect: str, weight: float) -> Cause:
    return Cause(
        defect,
        "paint_too_thin",
        "paint too thin in the cup",
        "efflux_s",
        "low",
        None,
        4.0,
        weight,
        "thin less and time the cup again",
        instead=(("reducer_parts", "high", None, 0.2),),
        shown=("reducer_parts",),
    )


def old_batch(defect: str, weight: float) -> Cause:
    return Cause(
        defect,
        "old_batch",
        "batch too old",
        "batch_age_h",
        "high",
        48.0,
        20.0,
        weight,
        "stir, strain, and mix anew if it has thickened or skinned",
        SHEET_SOURCE,
        sheet="pot_life_h",
    )


def base(defect: str, weight: float) -> Cause:
    return Cause(
        defect,
        "base_shows",
        "base colour far from the target",
        "base_contrast",
        "high",
        35.0,
        10.0,
        weight,
        "put an even undercoat near the target beneath, or add coats",
        "a film that does not hide adds the base's reflectance (mixing.coats)",
        shown=("film_total_um", "coats_before"),
    )
