"""What was set for a coat, by the names people give it, as quantities.  Pure."""

from __future__ import annotations

from collections.abc import Mapping

from sprayout.review.quantities import BY_KEY

#: Wet paint that ends on the part, of what leaves an airbrush: common practice, no source.
TRANSFER = 0.4
#: Read for what they mean together, not each for itself.
ASIDE = ("sprayed_ml", "area_cm2", "base_l", "nozzle_mm")
#: Settings by the names people give them; a quantity's own key is taken as it is.
SETTINGS = {
    **{key: (key, 1.0) for key in BY_KEY},
    "distance_mm": ("distance_mm", 1.0),
    "distance_cm": ("distance_mm", 10.0),
    "pressure_pa": ("airbrush_pressure", 1.0),
    "pressure_kpa": ("airbrush_pressure", 1e3),
    "pressure_bar": ("airbrush_pressure", 1e5),
    "pressure_psi": ("airbrush_pressure", 6894.757),
    "air_pressure_bar": ("airbrush_pressure", 1e5),
    "air_pressure_psi": ("airbrush_pressure", 6894.757),
    "film_um": ("wet_film_um", 1.0),
    "viscosity_s": ("efflux_s", 1.0),
    "reducer_ratio": ("reducer_parts", 1.0),
    "thinning_ratio": ("reducer_parts", 1.0),
    "part_c": ("part_temperature", 1.0),
    "air_speed_ms": ("air_speed", 1.0),
}


def set_quantities(settings: Mapping[str, object]) -> tuple[dict[str, float], dict[str, float]]:
    """The quantities that were set, in their own units, and other numbers by their own names."""
    known: dict[str, float] = {}
    other: dict[str, float] = {}
    for name, value in settings.items():
        if isinstance(value, bool) or not isinstance(value, int | float):
            continue
        if name in SETTINGS:
            key, factor = SETTINGS[name]
            known[key] = float(value) * factor
        elif name not in ASIDE:
            other[name] = float(value)
    return known, other


def wet_film_um(settings: Mapping[str, object]) -> float | None:
    """The wet film from what was sprayed onto which area; None where that was not entered."""
    ml, area = settings.get("sprayed_ml"), settings.get("area_cm2")
    if not isinstance(ml, int | float) or not isinstance(area, int | float) or area <= 0:
        return None
    return float(ml) / float(area) * 1e4 * TRANSFER
