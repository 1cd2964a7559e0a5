"""Questions about figures that look like another unit: asked, never corrected in silence."""

from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class _Usual:
    """The range in which a figure is usual on a paint bench, and what it may be outside."""

    name: str
    unit: str
    low: float
    high: float
    below: str
    above: str


_USUAL = {
    usual.name: usual
    for usual in (
        _Usual("volume_m3", "m³", 0.02, 5000.0, "is it a small box?", "litres or cubic feet?"),
        _Usual("flow_m3h", "m³/h", 5.0, 20000.0, "m³/min or m³/s?", "litres per hour or minute?"),
        _Usual("flow_m3_min", "m³/min", 0.1, 350.0, "m³/s?", "m³/h or litres per minute?"),
        _Usual("width_m", "m", 0.1, 6.0, "a very small booth?", "centimetres or millimetres?"),
        _Usual("height_m", "m", 0.1, 4.0, "a very small booth?", "centimetres or millimetres?"),
        _Usual("radius_m", "m", 0.1, 3.0, "a very small near field?", "centimetres?"),
        _Usual("air_speed_m_min", "m/min", 0.6, 60.0, "m/s?", "feet per minute or m/h?"),
        _Usual("ml", "mL", 0.05, 5000.0, "litres?", "microlitres?"),
        _Usual("evaporation_ml_min", "mL/min", 0.001, 200.0, "L/min?", "mL per hour?"),
        _Usual("generation_mg_min", "mg/min", 0.1, 1e6, "g/min?", "µg/min?"),
        _Usual("generation_l_min", "L/min", 1e-6, 100.0, "m³/min?", "mL/min?"),
        _Usual("density_kg_l", "kg/L", 0.5, 3.0, "pounds?", "kg/m³ or g/L?"),
        _Usual("molar_mass_g", "g/mol", 16.0, 500.0, "kg/mol?", "mg/mol?"),
        _Usual("lel_pct", "%", 0.3, 30.0, "a share of 1?", "ppm or g/m³?"),
        _Usual("minutes", "min", 0.05, 1440.0, "hours?", "seconds?"),
        _Usual("work_ratio", "times normal", 0.5, 5.0, "a percentage?", "litres per minute?"),
        _Usual("face_m_s", "m/s", 0.05, 4.0, "a very weak fan?", "feet per minute?"),
        _Usual("crossdraft_m_s", "m/s", 0.005, 3.0, "a very still room?", "feet per minute?"),
        _Usual("rating_m3h", "m³/h", 5.0, 20000.0, "m³/min or m³/s?", "litres per hour or minute?"),
        _Usual("filter_loading", "times clean", 1.0, 20.0, "a share?", "a percentage?"),
        _Usual("room_volume_m3", "m³", 2.0, 5000.0, "is it a cupboard?", "litres or cubic feet?"),
        _Usual("room_air_changes_h", "1/h", 0.01, 60.0, "per minute?", "m³/h?"),
        _Usual("sprayed_ml", "mL", 0.05, 2000.0, "litres?", "microlitres?"),
    )
}


def questions(fields: Mapping[str, object]) -> tuple[str, ...]:
    """One question for each figure outside its usual range; fields we do not know pass."""
    asked = (_question(_USUAL[name], value) for name, value in fields.items() if name in _USUAL)
    return tuple(question for question in asked if question)


def question_on(name: str, value: object) -> str:
    """The question on one figure, empty where it is usual or not known here."""
    return _question(_USUAL[name], value) if name in _USUAL else ""


def _question(usual: _Usual, value: object) -> str:
    if isinstance(value, bool) or not isinstance(value, int | float) or value == 0:
        return ""
    said = f"{usual.name.replace('_', '-')} {value:g} {usual.unit}"
    if value < usual.low:
        return f"{said} is unusually small here: {usual.below} Check it before using the result."
    if value > usual.high:
        return f"{said} is unusually large here: {usual.above} Check it before using the result."
    return ""
