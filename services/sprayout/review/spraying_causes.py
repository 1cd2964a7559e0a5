"""Causes that lie in how it was sprayed: the airbrush, the film, the time between coats."""

from __future__ import annotations

from sprayout.review.cause import SHEET_SOURCE, Cause


def too_far(defect: str, weight: float) -> Cause:
    return Cause(
        defect,
        "too_far",
        "airbrush too far away",
        "distance_mm",
        "high",
        170.0,
        30.0,
        weight,
        "come nearer, or lower the pressure",
    )


def too_near(defect: str, weight: float) -> Cause:
    return Cause(
        defect,
        "too_near",
        "airbrush too near",
        "distance_mm",
        "low",
        60.0,
        15.0,
        weight,
        "hold the airbrush farther away or move faster",
    )


def low_pressure(defect: str, weight: float) -> Cause:
    return Cause(
        defect,
        "low_pressure",
        "air pressure too low",
        "airbrush_pressure",
        "low",
        80e3,
        25e3,
        weight,
        "raise the pressure a little, or thin more",
    )


def high_pressure(defect: str, weight: float) -> Cause:
    return Cause(
        defect,
        "high_pressure",
        "air pressure too high",
        "airbrush_pressure",
        "high",
        250e3,
        50e3,
        weight,
        "lower the pressure a little",
    )


def heavy_coat(defect: str, weight: float, limit: float = 50.0) -> Cause:
    return Cause(
        defect,
        "heavy_coat",
        "too wet a coat",
        "wet_film_um",
        "high",
        limit,
        10.0,
        weight,
        "spray two thin coats in place of one",
        shown=("film_total_um",),
    )


def thin_coat(defect: str, weight: float) -> Cause:
    return Cause(
        defect,
        "thin_coat",
        "too thin a coat",
        "wet_film_um",
        "low",
        12.0,
        5.0,
        weight,
        "move slower or add a pass, so that the coat lies wet",
        shown=("film_total_um",),
    )


def short_flash(defect: str, weight: float) -> Cause:
    return Cause(
        defect,
        "short_flash_off",
        "flash-off too short",
        "flash_off_min",
        "low",
        6.0,
        3.0,
        weight,
        "leave the data sheet's flash-off between coats, longer in cold or damp air",
        SHEET_SOURCE,
        sheet="flash_off_min",
    )


def few_coats(defect: str, weight: float) -> Cause:
    return Cause(
        defect,
        "build_too_thin",
        "too little paint in all",
        "film_total_um",
        "low",
        None,
        10.0,
        weight,
        "add another coat once this one may be recoated",
        instead=(("coats_before", "low", None, 1.0),),
        shown=("coats_before",),
    )


def dirty_brush(defect: str, weight: float) -> Cause:
    return Cause(
        defect,
        "airbrush_not_cleaned",
        "airbrush not cleaned for long",
        "airbrush_days",
        "high",
        None,
        3.0,
        weight,
        "strip and clean the airbrush",
    )
