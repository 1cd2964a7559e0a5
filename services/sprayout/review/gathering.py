"""One coat's facts put together from its conditions, settings, equipment, layers and cup.  Pure."""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from sprayout.climate.paint_limits import PaintLimits
from sprayout.journal.records import Airbrush, Booth, Coat, Conditions, Finding
from sprayout.review.air_seen import AirbrushSeen, AirSeen, BoothSeen, FindingSeen
from sprayout.review.batch_facts import CalibrationSeen, Cup, volatility_kpa
from sprayout.review.coat_settings import set_quantities, wet_film_um
from sprayout.review.quantities import BY_KEY, CoatFacts

DAY_MS = 86_400_000
FOR_EVER_MS = 2**62
FLASH_LONGEST_MIN = 240.0
SOFT_DAYS = 14.0
ENAMEL_WINDOW_H = (6.0, 48.0)
#: Lacquer's solvents soften enamel, enamel's soften acrylic: common practice, no source.
STRENGTH = {"acrylic": 1, "enamel": 2, "lacquer": 3}
BASE_L = {"black": 15.0, "dark": 30.0, "grey": 60.0, "gray": 60.0, "white": 95.0}
#: Channel, and which of its figures counts.
CHANNELS = {
    "relative_humidity": "worst_minute",
    "air_temperature": "mean",
    "part_temperature": "mean",
    "margin_to_dew_point": "worst_minute",
    "film_margin": "worst_minute",
    "air_speed": "mean",
}
_SILENT = frozenset({"dew_point", "pressure", "booth_pressure"})
_COUNTS = frozenset({"clear", "nir", "red", "green", "blue", *(f"f{i}" for i in range(1, 9))})


@dataclass(frozen=True, slots=True)
class BenchRecord:
    """What the review takes of one bench's record."""

    coats: Sequence[Coat]
    conditions: Mapping[str, Conditions | AirSeen] = field(default_factory=dict)
    findings: Sequence[Finding | FindingSeen] = ()
    cups: Mapping[str, Cup] = field(default_factory=dict)
    calibrations: Sequence[CalibrationSeen] = ()
    airbrushes: Mapping[str, Airbrush | AirbrushSeen] = field(default_factory=dict)
    booths: Mapping[str, Booth | BoothSeen] = field(default_factory=dict)


def family_of(coat: Coat, cup: Cup | None) -> str | None:
    """The family of paint: as said with the coat, else that of most of the cup."""
    return family_said(coat.settings) or (cup.family if cup else None)


def family_said(settings: Mapping[str, object]) -> str | None:
    """The family of paint as said with the coat."""
    said = settings.get("family")
    return str(said) if said else None


@dataclass(frozen=True, slots=True)
class Layer:
    """A coat beneath, as far as the one above feels it."""

    coat: Coat
    family: str | None
    wet_film_um: float | None


class Gathering:
    """One coat while its facts are put together."""

    def __init__(
        self,
        record: BenchRecord,
        coat: Coat,
        layers: Sequence[Layer],
        calibrations: Mapping[str, list[tuple[int, int]]],
    ) -> None:
        self.record, self.coat, self.layers = record, coat, layers
        self.calibrations = calibrations
        self.conditions = record.conditions.get(coat.id)
        self.cup = record.cups.get(coat.batch or "")
        self.family = family_of(coat, self.cup)
        self.values: dict[str, float] = {}
        self.other: dict[str, float] = {}
        self.beside: set[str] = set()
        self.notes: list[str] = []

    def gather(self) -> None:
        """Fill in all that is known."""
        self._channels()
        self._settings()
        self._equipment()
        self._layers()
        self._cup()

    def facts(self, findings: tuple[str, ...], clouded: bool) -> CoatFacts:
        """What was gathered, with the coat's findings."""
        return CoatFacts(
            coat=self.coat.id,
            piece=self.coat.piece,
            kind=self.coat.kind,
            at_ms=self.coat.start_ms,
            family=self.family,
            batch=self.coat.batch,
            values=self.values,
            beside_point=frozenset(self.beside - set(self.values)),
            sheet=self.cup.sheet if self.cup else None,
            findings=findings,
            clouded=clouded,
            other=self.other,
            notes=tuple(self.notes),
        )

    def _put(self, key: str, value: float | None) -> None:
        if value is not None and math.isfinite(value):
            self.values[key] = float(value)

    def _channels(self) -> None:
        if self.conditions is None:
            self.notes.append("no conditions on record for this coat")
            return
        held = self.conditions
        span_s = max((held.to_ms - held.from_ms) / 1000.0, 1.0)
        for c in held.channels:
            if c.n == 0 or c.mean is None or c.gap_s > 0.5 * span_s:
                continue
            figure = CHANNELS.get(c.channel, "mean" if c.channel in BY_KEY else None)
            if figure is None:
                if c.channel not in _SILENT | _COUNTS:
                    self.other.setdefault(c.channel, c.mean)
                continue
            worst = getattr(c, figure)
            if c.channel not in self.values:
                self._put(c.channel, c.mean if worst is None else worst)
        if not self.values:
            self.notes.append("no readings of the booth during this coat")
        self._flags(held)

    def _flags(self, held: Conditions | AirSeen) -> None:
        known = {flag.key for flag in held.flags}
        if known or "air_speed" in self.values:
            fan = [f.minutes for f in held.flags if f.key == "fan_not_confirmed"]
            self._put("fan_unsure_min", sum(fan))

    def _settings(self) -> None:
        known, other = set_quantities(self.coat.settings)
        self.other |= other
        for key, value in known.items():
            self._put(key, value)
        if "wet_film_um" not in self.values:
            self._put("wet_film_um", wet_film_um(self.coat.settings))
        air, part = self.values.get("air_temperature"), self.values.get("part_temperature")
        if air is not None and part is not None:
            self._put("part_minus_air", part - air)

    def _equipment(self) -> None:
        brush = self.record.airbrushes.get(self.coat.airbrush or "")
        if brush is not None:
            for key, value in (
                ("airbrush_pressure", brush.pressure_pa),
                ("distance_mm", brush.distance_mm),
            ):
                if key not in self.values:
                    self._put(key, value)
            self._put("airbrush_days", _days(brush.cleaned_ms, self.coat.start_ms))
        booth = self.record.booths.get(self.coat.booth or "")
        if booth is not None:
            self._put("filter_days", _days(booth.filter_changed_ms, self.coat.start_ms))

    def _layers(self) -> None:
        ended = [
            layer
            for layer in self.layers
            if layer.coat.end_ms is not None and layer.coat.end_ms <= self.coat.start_ms
        ]
        since_min = self.conditions.since_previous_coat_min if self.conditions else None
        if since_min is None and ended:
            last_ms = max(layer.coat.end_ms or 0 for layer in ended)
            since_min = (self.coat.start_ms - last_ms) / 60_000.0
        self._put("coats_before", len(self.layers))
        films = [layer.wet_film_um for layer in self.layers]
        own = self.values.get("wet_film_um")
        if own is not None and all(film is not None for film in films):
            self._put("film_total_um", own + sum(film or 0.0 for film in films))
        if since_min is None:
            self.beside |= {"flash_off_min", "wrinkle_depth_h", "stronger_over_weaker"}
            return
        if "flash_off_min" not in self.values:
            if since_min <= FLASH_LONGEST_MIN:
                self._put("flash_off_min", since_min)
            else:
                self.beside.add("flash_off_min")
        self._recoat(since_min / 60.0, ended[-1].family if ended else None)

    def _recoat(self, hours: float, family_beneath: str | None) -> None:
        window = _window(self.cup.sheet if self.cup else None, self.family)
        if window is not None:
            depth = min(hours - window[0], window[1] - hours)
            self._put("wrinkle_depth_h", min(max(depth, -6.0), 6.0))
        elif self.family is not None:
            self.beside.add("wrinkle_depth_h")
        ranks = [STRENGTH.get(name or "") for name in (self.family, family_beneath)]
        if ranks[0] is not None and ranks[1] is not None:
            soft = hours < SOFT_DAYS * 24.0
            self._put("stronger_over_weaker", float(ranks[0] > ranks[1] and soft))

    def _cup(self) -> None:
        coat = self.coat
        if coat.batch is None:
            return
        if self.cup is None:
            self.notes.append(f"its batch {coat.batch!r} is no longer on record")
            return
        cup = self.cup
        age_min = self.conditions.batch_age_min if self.conditions else None
        self._put(
            "batch_age_h",
            (coat.start_ms - cup.batch.made_ms) / 3.6e6 if age_min is None else age_min / 60.0,
        )
        self._thinning(cup)
        self._colour(cup)

    def _thinning(self, cup: Cup) -> None:
        air_c = self.values.get("air_temperature")
        if cup.blend is not None and air_c is not None and -30.0 < air_c < 60.0:
            self._put("reducer_volatility", volatility_kpa(cup.blend, air_c))
        if cup.paint_ml and cup.reducer_ml is not None and "reducer_parts" not in self.values:
            self._put("reducer_parts", cup.reducer_ml / cup.paint_ml)

    def _colour(self, cup: Cup) -> None:
        base = self.coat.settings.get("base_l", self.coat.settings.get("base"))
        base_l = BASE_L.get(base.casefold()) if isinstance(base, str) else base
        if cup.target is not None and isinstance(base_l, int | float):
            self._put("base_contrast", abs(float(base_l) - cup.target.lab[0]))
        swatch = cup.last_swatch(self.coat.start_ms)
        if swatch is None:
            return
        self._put("swatch_spread", swatch.u95_de00)
        if cup.target is not None and swatch.de00 is not None:
            self._put("cup_excess_de00", swatch.de00 - cup.target.tolerance_de00)
        held = self.calibrations.get(swatch.device, [])
        i = bisect_right(held, (swatch.at_ms, FOR_EVER_MS))
        if i:
            overdue = (swatch.at_ms - held[i - 1][1]) / 3.6e6
            self._put("calibration_overdue_h", min(max(overdue, -12.0), 240.0))


def _days(since_ms: int | None, at_ms: int) -> float | None:
    """Days gone by; None where it is unknown or was done after the coat."""
    if since_ms is None or since_ms > at_ms:
        return None
    return (at_ms - since_ms) / DAY_MS


def _window(sheet: PaintLimits | None, family: str | None) -> tuple[float, float] | None:
    if sheet is not None:
        if sheet.wrinkle_from_h is None or sheet.wrinkle_to_h is None:
            return None
        return sheet.wrinkle_from_h, sheet.wrinkle_to_h
    return ENAMEL_WINDOW_H if family == "enamel" else None
