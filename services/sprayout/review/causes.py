"""The table of causes: for each finding the conditions that the trade holds responsible.

Every row is a computed quantity with its harmful side.  ``limit`` and ``width`` say where harm is
taken to begin and how unsure that is, before the owner's own record moves it; None compares with
the owner's own good coats alone.  Where ``sheet`` names a field of the paint's data sheet, the
sheet's figure comes before ours.  ``weight`` 1 is a main cause, less a lesser one.
Limits without another source are common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass

from sprayout.review.exact import Harm

NO_SOURCE = "common practice, no source"
FILM_SOURCE = "film temperature by wet-bulb balance against the dew point (climate.blush)"
SURFACE_SOURCE = "3 K over the dew point: usual reading of ISO 8502-4 and ISO 12944-7"
SHEET_SOURCE = "the paint's data sheet where entered, else common practice, no source"


@dataclass(frozen=True, slots=True)
class Cause:
    """One condition that may be behind one finding."""

    defect: str
    key: str
    words: str
    quantity: str
    harm: Harm
    limit: float | None
    width: float
    weight: float
    change: str
    source: str = NO_SOURCE
    sheet: str | None = None
    instead: tuple[tuple[str, Harm, float | None, float], ...] = ()
    shown: tuple[str, ...] = ()
    gate: str | None = None


def _humid(defect: str, limit: float, weight: float, *, film: bool = False) -> Cause:
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


def _cold_part(defect: str, weight: float, *, film: bool = False) -> Cause:
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


def _cold_air(defect: str, weight: float) -> Cause:
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


def _warm_air(defect: str, weight: float) -> Cause:
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


def _fast_reducer(defect: str, weight: float, *, film: bool = False) -> Cause:
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


def _slow_reducer(defect: str, weight: float) -> Cause:
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


def _thick_paint(defect: str, weight: float) -> Cause:
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


def _thin_paint(defect: str, weight: float) -> Cause:
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


def _too_far(defect: str, weight: float) -> Cause:
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


def _too_near(defect: str, weight: float) -> Cause:
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


def _low_pressure(defect: str, weight: float) -> Cause:
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


def _high_pressure(defect: str, weight: float) -> Cause:
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


def _heavy_coat(defect: str, weight: float, limit: float = 50.0) -> Cause:
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


def _thin_coat(defect: str, weight: float) -> Cause:
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


def _short_flash(defect: str, weight: float) -> Cause:
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


def _strong_draught(defect: str, weight: float) -> Cause:
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


def _still_air(defect: str, weight: float) -> Cause:
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


def _old_batch(defect: str, weight: float) -> Cause:
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


def _base(defect: str, weight: float) -> Cause:
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


def _few_coats(defect: str, weight: float) -> Cause:
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


def _dirty_brush(defect: str, weight: float) -> Cause:
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


def _filter(defect: str, weight: float) -> Cause:
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


CAUSES: tuple[Cause, ...] = (
    _humid("blush", 78.0, 1.0, film=True),
    _fast_reducer("blush", 0.9, film=True),
    _cold_part("blush", 0.9, film=True),
    _cold_air("blush", 0.3),
    _strong_draught("blush", 0.3),
    _thick_paint("orange_peel", 1.0),
    _low_pressure("orange_peel", 1.0),
    _too_far("orange_peel", 0.8),
    _fast_reducer("orange_peel", 0.8),
    _warm_air("orange_peel", 0.7),
    _thin_coat("orange_peel", 0.5),
    _strong_draught("orange_peel", 0.4),
    _too_far("dry_spray", 1.0),
    _warm_air("dry_spray", 0.8),
    _fast_reducer("dry_spray", 0.8),
    _high_pressure("dry_spray", 0.8),
    _strong_draught("dry_spray", 0.8),
    _thin_coat("dry_spray", 0.5),
    _heavy_coat("run", 1.0),
    _thin_paint("run", 0.9),
    _too_near("run", 0.9),
    _short_flash("run", 0.8),
    _cold_air("run", 0.6),
    _slow_reducer("run", 0.6),
    _cold_part("run", 0.4),
    _humid("fisheye", 80.0, 0.3),
    _high_pressure("fisheye", 0.3),
    _heavy_coat("solvent_pop", 1.0),
    _short_flash("solvent_pop", 1.0),
    _warm_air("solvent_pop", 0.7),
    _fast_reducer("solvent_pop", 0.6),
    _strong_draught("solvent_pop", 0.4),
    _short_flash("pinholes", 0.8),
    _heavy_coat("pinholes", 0.7),
    _high_pressure("pinholes", 0.6),
    _thick_paint("pinholes", 0.5),
    _too_near("pinholes", 0.4),
    Cause(
        "lifting",
        "wrinkle_window",
        "recoated inside the wrinkle window",
        "wrinkle_depth_h",
        "high",
        0.0,
        1.5,
        1.0,
        "recoat before the window opens or after it has closed, as the data sheet says",
        "the paint's data sheet where entered, else 6 to 48 h for enamels (common practice, "
        "no source)",
    ),
    Cause(
        "lifting",
        "stronger_over_weaker",
        "stronger solvents over a soft coat",
        "stronger_over_weaker",
        "high",
        0.5,
        0.15,
        1.0,
        "put a barrier coat between, or keep to one family of paint",
    ),
    _heavy_coat("lifting", 0.7),
    _short_flash("lifting", 0.4),
    _still_air("dust_nibs", 0.4),
    _strong_draught("dust_nibs", 0.5),
    _filter("dust_nibs", 0.8),
    _dirty_brush("dust_nibs", 0.7),
    _old_batch("dust_nibs", 0.7),
    _cold_air("dust_nibs", 0.3),
    _few_coats("poor_hiding", 1.0),
    _base("poor_hiding", 0.9),
    _thin_paint("poor_hiding", 0.8),
    _thin_coat("poor_hiding", 0.9),
    Cause(
        "colour_off",
        "mix_off",
        "the mix in the cup was off",
        "cup_excess_de00",
        "high",
        0.3,
        0.4,
        1.0,
        "measure a dry draw of the cup and go on mixing before the first coat",
        "CIEDE2000 (ISO/CIE 11664-6) of the batch's last swatch over its tolerance",
    ),
    Cause(
        "colour_off",
        "calibration_overdue",
        "calibration overdue",
        "calibration_overdue_h",
        "high",
        4.0,
        6.0,
        0.9,
        "calibrate with the white tile before measuring target and mix",
    ),
    Cause(
        "colour_off",
        "swatch_spread",
        "swatches that scatter",
        "swatch_spread",
        "high",
        1.6,
        0.4,
        0.8,
        "measure more placements, flat and dry, and take the mean",
        "radius that holds the true colour 95 times in 100 (colour.uncertainty)",
    ),
    _base("colour_off", 0.7),
    _few_coats("colour_off", 0.5),
    _old_batch("colour_off", 0.6),
    _humid("gloss_off", 78.0, 0.8, film=True),
    _cold_air("gloss_off", 0.6),
    _thin_coat("gloss_off", 0.6),
    _too_far("gloss_off", 0.6),
    _fast_reducer("gloss_off", 0.5),
    _old_batch("gloss_off", 0.4),
    _cold_air("slow_dry", 1.0),
    _heavy_coat("slow_dry", 0.9),
    _humid("slow_dry", 80.0, 0.7),
    _slow_reducer("slow_dry", 0.8),
    _still_air("slow_dry", 0.8),
    _short_flash("slow_dry", 0.6),
    Cause(
        "loss_of_detail",
        "build_too_thick",
        "too much paint in all",
        "film_total_um",
        "high",
        200.0,
        50.0,
        1.0,
        "strip to the metal and build up in thin coats",
        instead=(("coats_before", "high", None, 1.0),),
        shown=("coats_before",),
    ),
    _heavy_coat("loss_of_detail", 0.9),
    _thick_paint("loss_of_detail", 0.7),
)


def causes_of(defect: str) -> tuple[Cause, ...]:
    """The rows of one finding."""
    return tuple(cause for cause in CAUSES if cause.defect == defect)
