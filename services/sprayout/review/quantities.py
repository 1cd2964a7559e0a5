"""The quantities a coat is compared by, each worked out of the record, with its channel and unit.

``floor`` is the spread below which differences mean nothing (what the sensor or the ruler tells
apart).  A quantity ``by_kind`` is compared among coats of one kind: a tack coat is thin on purpose.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from sprayout.climate.paint_limits import PaintLimits


@dataclass(frozen=True, slots=True)
class Quantity:
    """What is compared: ``channel`` is the record's own name for it."""

    key: str
    channel: str
    unit: str
    words: str
    floor: float
    by_kind: bool = False


QUANTITIES: tuple[Quantity, ...] = (
    Quantity("relative_humidity", "relative_humidity", "%RH", "humidity in the worst minute", 2.0),
    Quantity("air_temperature", "air_temperature", "Cel", "air temperature", 0.5),
    Quantity("part_temperature", "part_temperature", "Cel", "part temperature", 0.5),
    Quantity(
        "part_minus_air", "part_temperature", "K", "part temperature less that of the air", 0.5
    ),
    Quantity(
        "margin_to_dew_point",
        "margin_to_dew_point",
        "K",
        "part (or air, where the part was not read) above the dew point",
        0.5,
    ),
    Quantity("film_margin", "film_margin", "K", "wet film above the dew point", 0.7),
    Quantity(
        "film_below_min", "film_margin", "min", "minutes with the film below the dew point", 0.5
    ),
    Quantity("air_speed", "air_speed", "m/s", "air speed at the part", 0.03),
    Quantity("fan_unsure_min", "fan_not_confirmed", "min", "minutes without a confirmed fan", 0.5),
    Quantity("flash_off_min", "flash_off_min", "min", "time since the coat before", 0.7, True),
    Quantity("wrinkle_depth_h", "recoat_h", "h", "time inside the wrinkle window", 0.5),
    Quantity(
        "stronger_over_weaker", "paint_family", "1", "stronger solvents over a soft coat", 0.1
    ),
    Quantity("reducer_volatility", "reducer", "kPa", "vapour pressure of the reducer", 0.2),
    Quantity("reducer_parts", "reducer_parts", "1", "reducer to one part of paint", 0.05, True),
    Quantity("efflux_s", "efflux_s", "s", "efflux time of the cup", 0.7),
    Quantity("distance_mm", "distance_mm", "mm", "distance from nozzle to part", 5.0),
    Quantity("airbrush_pressure", "airbrush_pressure", "Pa", "air pressure at the airbrush", 5e3),
    Quantity("wet_film_um", "wet_film_um", "um", "wet film of the coat", 2.0, True),
    Quantity("film_total_um", "film_total_um", "um", "wet film of all coats together", 8.0, True),
    Quantity("coats_before", "coats_before", "1", "coats beneath this one", 0.5, True),
    Quantity("batch_age_h", "batch_age_h", "h", "age of the batch", 0.5),
    Quantity("base_contrast", "base_l", "1", "difference in L* between base and target", 3.0),
    Quantity("calibration_overdue_h", "calibration", "h", "calibration overdue by", 1.0),
    Quantity("swatch_spread", "u95_de00", "1", "uncertainty of the swatch (CIEDE2000)", 0.1),
    Quantity("cup_excess_de00", "de00", "1", "mix in the cup over its tolerance (CIEDE2000)", 0.2),
    Quantity("airbrush_days", "airbrush_cleaned", "d", "days since the airbrush was cleaned", 0.5),
    Quantity("filter_days", "filter_changed", "d", "days since the booth filter was changed", 2.0),
)
BY_KEY: Mapping[str, Quantity] = {q.key: q for q in QUANTITIES}


@dataclass(frozen=True, slots=True)
class CoatFacts:
    """One coat as the review sees it.

    ``values`` holds what is known; a quantity in ``beside_point`` does not apply to this coat (no
    coat before it, a paint without a wrinkle window); one in neither is not known.
    ``findings`` are keys of :mod:`.defects`; ``clouded`` marks a coat of a piece whose finding was
    not tied to a coat: it counts neither as good nor as bad.
    """

    coat: str
    piece: str
    kind: str
    at_ms: int
    family: str | None = None
    batch: str | None = None
    values: Mapping[str, float] = field(default_factory=dict)
    beside_point: frozenset[str] = frozenset()
    sheet: PaintLimits | None = None
    findings: tuple[str, ...] = ()
    clouded: bool = False
    other: Mapping[str, float] = field(default_factory=dict)
    notes: tuple[str, ...] = ()

    @property
    def is_good(self) -> bool:
        """No finding stands against it."""
        return not self.findings and not self.clouded
