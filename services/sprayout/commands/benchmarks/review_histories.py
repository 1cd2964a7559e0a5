"""Invented benches with hidden causes, for the review's benchmark.

Nothing here is shared with ``sprayout.review``: the air is mixed from outdoor air, the film cools
by a square-root law, and each mechanism strikes by a power law of its own over thresholds that
differ from owner to owner.  The hidden truth of a finding is the mechanism that struck first; for
blush, the input that took most of the margin.  Weather confounds: temperature and humidity move
together with the season and the rain.  Probes are missing, readings are noisy, every sixth of the
findings is written down under a look-alike's name.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from sprayout.journal import records as r

BENCH = "quay"
DAY_MS = 86_400_000
START_MS = 1_700_000_000_000
UNRECORDED = "unrecorded"
WRITTEN_AS = {
    "blush": ("gloss off",),
    "orange peel": ("dry spray",),
    "dry spray": ("orange peel", "dust nibs"),
    "fisheye": ("pinholes",),
    "solvent pop": ("pinholes", "fisheye"),
    "pinholes": ("solvent pop",),
    "dust nibs": ("dry spray",),
    "poor hiding": ("colour off",),
    "gloss off": ("orange peel",),
}
SOLVENTS = {
    "usual": {"n-butyl acetate": 0.5, "toluene": 0.3, "xylene": 0.2},
    "fast": {"acetone": 0.5, "toluene": 0.3, "n-butyl acetate": 0.2},
    "slow": {"xylene": 0.7, "n-butyl acetate": 0.3},
}
#: Pull of each reducer on the film, K at 20 °C, invented beside the order of the real ones.
PULL_K = {"usual": 4.5, "fast": 10.5, "slow": 2.6}


@dataclass(frozen=True, slots=True)
class Truth:
    """What was really behind one finding: a cause's key, or ``unrecorded``."""

    coat: str
    defect: str
    written: str
    cause: str
    channels: tuple[str, ...]


@dataclass(slots=True)
class History:
    """One bench's record and the truth behind its findings."""

    records: list[Any] = field(default_factory=list)
    truths: list[Truth] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class Owner:
    """How one owner works and what their bench records."""

    family: str
    distance_mm: float
    pressure_bar: float
    efflux_s: float
    film_um: float
    flash_min: float
    scatter: float
    care: float
    noted: frozenset[str]
    probes: frozenset[str]
    tolerance: dict[str, float]


MECHANISMS = (
    # defect, cause, input, side, threshold, scale, rate
    ("orange peel", "paint_too_thick", "efflux_ratio", 1, 1.22, 0.16, 0.9),
    ("orange peel", "low_pressure", "pressure_ratio", -1, 0.78, 0.14, 0.9),
    ("orange peel", "too_far", "distance_ratio", 1, 1.42, 0.25, 0.5),
    ("orange peel", "warm_air", "air_c", 1, 28.5, 2.0, 0.4),
    ("orange peel", "fast_reducer", "pull_k", 1, 8.5, 2.0, 0.5),
    ("dry spray", "too_far", "distance_ratio", 1, 1.36, 0.25, 0.9),
    ("dry spray", "high_pressure", "pressure_ratio", 1, 1.32, 0.2, 0.9),
    ("dry spray", "strong_draught", "air_speed", 1, 0.75, 0.25, 0.8),
    ("dry spray", "warm_air", "air_c", 1, 28.0, 2.5, 0.5),
    ("run", "heavy_coat", "film_ratio", 1, 1.45, 0.25, 1.0),
    ("run", "paint_too_thin", "efflux_ratio", -1, 0.78, 0.12, 0.9),
    ("run", "too_near", "distance_ratio", -1, 0.64, 0.12, 0.9),
    ("run", "short_flash_off", "flash_ratio", -1, 0.42, 0.15, 0.5),
    ("run", "cold_air", "air_c", -1, 14.0, 2.0, 0.4),
    ("solvent pop", "heavy_coat", "film_ratio", 1, 1.5, 0.25, 0.5),
    ("solvent pop", "short_flash_off", "flash_ratio", -1, 0.45, 0.15, 1.0),
    ("pinholes", "short_flash_off", "flash_ratio", -1, 0.4, 0.2, 0.3),
    ("pinholes", "high_pressure", "pressure_ratio", 1, 1.4, 0.25, 0.4),
    ("lifting", "wrinkle_window", "window_h", 1, 0.0, 3.0, 0.9),
    ("dust nibs", "old_filter", "filter_days", 1, 170.0, 60.0, 0.25),
    ("dust nibs", "airbrush_not_cleaned", "brush_days", 1, 14.0, 6.0, 0.4),
    ("dust nibs", "old_batch", "batch_h", 1, 90.0, 50.0, 0.35),
    ("poor hiding", "build_too_thin", "total_ratio", -1, 0.62, 0.15, 0.5),
    ("poor hiding", "base_shows", "contrast", 1, 45.0, 12.0, 0.5),
    ("poor hiding", "thin_coat", "film_ratio", -1, 0.6, 0.12, 0.8),
    ("colour off", "mix_off", "excess_de", 1, 0.5, 0.8, 0.9),
    ("colour off", "calibration_overdue", "overdue_h", 1, 10.0, 20.0, 0.8),
    ("colour off", "swatch_spread", "spread_de", 1, 1.9, 0.6, 0.6),
    ("slow dry", "cold_air", "air_c", -1, 14.5, 2.0, 0.7),
    ("slow dry", "heavy_coat", "film_ratio", 1, 1.5, 0.3, 0.6),
    ("slow dry", "still_air", "air_speed", -1, 0.14, 0.05, 0.6),
    ("gloss off", "cold_air", "air_c", -1, 13.5, 2.5, 0.3),
    ("loss of detail", "build_too_thick", "total_ratio", 1, 1.75, 0.25, 0.9),
)
#: Chance per coat that something strikes which no channel records.
HIDDEN = {
    "fisheye": 0.012,
    "dust nibs": 0.012,
    "gloss off": 0.005,
    "colour off": 0.005,
    "pinholes": 0.004,
    "orange peel": 0.004,
    "dry spray": 0.004,
    "blush": 0.003,
    "run": 0.003,
}
#: Where the record holds each input (settings and channels).
HELD = {
    "efflux_ratio": ("efflux_s",),
    "pressure_ratio": ("pressure_bar",),
    "distance_ratio": ("distance_mm",),
    "film_ratio": ("wet_film_um",),
    "flash_ratio": (),
    "air_c": ("air_temperature",),
    "pull_k": ("reducer", "air_temperature"),
    "air_speed": ("air_speed",),
    "window_h": (),
    "filter_days": ("filter",),
    "brush_days": ("airbrush",),
    "batch_h": (),
    "total_ratio": ("wet_film_um",),
    "contrast": ("base_l",),
    "excess_de": ("swatch",),
    "overdue_h": ("swatch",),
    "spread_de": ("swatch",),
}
#: Inputs whose harm shows only on the finished piece.
SEEN_LAST = {"total_ratio", "contrast", "excess_de", "overdue_h", "spread_de"}
SLIPS = (
    "far", "near", "low pressure", "high pressure", "thick", "thin", "heavy", "light",
    "short flash", "fast reducer", "slow reducer", "cold part", "draught", "still",
)  # fmt: skip


def make_history(seed: int) -> History:
    """One bench with 40 to 120 coats."""
    return _Making(np.random.default_rng([seed, 9])).run()


def make_long_history(seed: int, coats: int) -> History:
    """One bench used for years."""
    making = _Making(np.random.default_rng([seed, 9]))
    making.wanted = coats
    return making.run()


class _Making:
    def __init__(self, chance: np.random.Generator) -> None:
        self.chance = chance
        self.history = History()
        self.count = 0
        self.owner = self._owner()
        self.wanted = int(chance.integers(40, 121))
        self.wet = chance.uniform(0.0, 6.28)
        self.rain = 0.0
        self.day = int(chance.integers(0, 365))
        self.brush_cleaned = self.filter_changed = float(self.day - 1)
        self.calibrated_h = self.day * 24.0

    def _owner(self) -> Owner:
        c = self.chance
        noted = {"efflux_s", "pressure_bar", "distance_mm", "wet_film_um", "base_l", "reducer",
                 "swatch", "airbrush", "filter"}  # fmt: skip
        probes = {"part_temperature", "air_speed", "film_margin"}
        return Owner(
            family=str(c.choice(["enamel", "lacquer", "acrylic"])),
            distance_mm=c.uniform(80, 140),
            pressure_bar=c.uniform(1.1, 2.0),
            efflux_s=c.uniform(17, 26),
            film_um=c.uniform(20, 32),
            flash_min=c.uniform(10, 22),
            scatter=c.uniform(0.05, 0.11),
            care=c.uniform(0.6, 1.5),
            noted=frozenset(name for name in sorted(noted) if c.random() < 0.82),
            probes=frozenset(name for name in sorted(probes) if c.random() < 0.7),
            tolerance={m[0] + m[1]: float(c.normal(0.0, 0.35)) for m in MECHANISMS},
        )

    def run(self) -> History:
        self._shelf()
        while self.count < self.wanted:
            self._evening()
        return self.history

    def _keep(self, record: Any) -> None:
        self.history.records.append(record)

    def _shelf(self) -> None:
        self._keep(r.Paint(id="hull-blue", bench=BENCH, name="pilot cutter hull blue",
                           made_ms=START_MS, type=self.owner.family))  # fmt: skip
        for name, solvents in SOLVENTS.items():
            self._keep(r.Reducer(id=f"reducer-{name}", bench=BENCH, name=f"{name} reducer",
                                 made_ms=START_MS, solvents=dict(solvents)))  # fmt: skip
        self._keep(r.Target(id="t", bench=BENCH, name="hull blue", lab=(38.0, -4.0, -26.0),
                            white="d65-10", tolerance_de00=1.0, made_ms=START_MS))  # fmt: skip

    def _evening(self) -> None:
        c = self.chance
        self.day += int(c.integers(2, 9))
        self.rain = 0.75 * self.rain + c.normal(0.0, 0.7)
        outdoor_c = 10.5 - 8.5 * math.cos(self.day / 58.1) - 1.2 * self.rain + c.normal(0, 2.0)
        room_c = 20.0 + 0.34 * (outdoor_c - 10.0) + c.normal(0, 0.9)
        if c.random() < 0.05:
            room_c -= c.uniform(3.5, 7.0)  # the heating was off
        if c.random() < 0.03:
            room_c += c.uniform(5.0, 9.0)  # the stove was on
        vapour = 0.01 * min(97.0, 76.0 + 9.0 * self.rain + c.normal(0, 5)) * _saturation(outdoor_c)
        vapour += c.uniform(0.3, 2.2) + (c.uniform(4.0, 9.0) if c.random() < 0.05 else 0.0)
        if self.day - self.brush_cleaned > 7 and c.random() < 0.8:
            self.brush_cleaned = float(self.day)
        if self.day - self.filter_changed > 110 and c.random() < 0.25:
            self.filter_changed = float(self.day)
        for k in range(int(c.integers(1, 3))):
            self._piece(room_c, vapour, self.day * 24.0 + 17.0 + 2.2 * k)

    def _piece(self, room_c: float, vapour: float, hour: float) -> None:
        c = self.chance
        key = f"{self.count}"
        reducer = str(c.choice(["usual", "fast", "slow"], p=[0.94, 0.03, 0.03]))
        batch_h = hour - (c.uniform(70, 200) if c.random() < 0.04 else c.uniform(0.3, 3.0))
        swatch = self._batch(key, reducer, batch_h, hour)
        self._keep(r.Piece(id=f"p{key}", bench=BENCH, name=f"goods van {key}",
                           made_ms=_ms(batch_h)))  # fmt: skip
        base_l = 90.0 if c.random() < 0.05 else 38.0 + c.normal(0, 9)
        coats = int(c.choice([2, 3, 4, 6], p=[0.2, 0.5, 0.25, 0.05]))
        total, ended_h = 0.0, None
        for i in range(coats):
            scene = self._scene(i, room_c, vapour, reducer, ended_h, hour)
            hour = scene["hour"]
            total += scene["film_um"]
            scene |= swatch | {"contrast": abs(base_l - 38.0), "base_l": base_l}
            scene["total_um"] = total
            scene["total_ratio"] = total / (self.owner.film_um * (2.6 if i + 1 == coats else i + 1))
            scene["batch_h"] = hour - batch_h
            scene["last"] = i + 1 == coats
            self._coat(key, i, scene)
            ended_h = hour + 0.07
            if self.count >= self.wanted:
                return

    def _batch(self, key: str, reducer: str, batch_h: float, hour: float) -> dict[str, float]:
        c, noted = self.chance, self.owner.noted
        drops = int(c.integers(60, 140))
        self._keep(r.Batch(id=f"b{key}", bench=BENCH, name=f"cup {key}", made_ms=_ms(batch_h),
                           target="t"))  # fmt: skip
        self._keep(r.BatchAddition(id=f"a{key}", bench=BENCH, batch=f"b{key}", at_ms=_ms(batch_h),
                                   paint="hull-blue", drops=drops))  # fmt: skip
        if "reducer" in noted:
            self._keep(r.BatchAddition(id=f"r{key}", bench=BENCH, batch=f"b{key}",
                                       at_ms=_ms(batch_h), reducer=f"reducer-{reducer}",
                                       ml=drops * 0.05 * c.normal(0.6, 0.05)))  # fmt: skip
        if c.random() < 0.95 or hour - self.calibrated_h > 400:
            self.calibrated_h = hour - c.uniform(0.5, 8.0)
            self._keep(r.Calibration(id=f"k{key}", bench=BENCH, device="board",
                                     at_ms=_ms(self.calibrated_h), sensor="spectral-8",
                                     unit={}, due_ms=_ms(self.calibrated_h + 12.0)))  # fmt: skip
        slip = c.random()
        true = {
            "excess_de": c.uniform(0.8, 2.5) if slip < 0.03 else c.normal(-0.5, 0.15),
            "spread_de": c.uniform(1.8, 3.0) if 0.03 < slip < 0.06 else c.lognormal(-0.4, 0.2),
            "overdue_h": hour - 0.2 - self.calibrated_h - 12.0,
        }
        if "swatch" in noted:
            self._keep(r.Swatch(id=f"s{key}", bench=BENCH, device="board", at_ms=_ms(hour - 0.2),
                                channels=(), counts=(), white="d65-10", lab=(38.2, -4.1, -25.8),
                                batch=f"b{key}", target="t", u95_de00=true["spread_de"],
                                de00=max(0.05, 1.0 + true["excess_de"] + c.normal(0, 0.1)),
                                ))  # fmt: skip
        return true

    def _scene(
        self, i: int, room_c: float, vapour: float, reducer: str, ended_h: float | None, hour: float
    ) -> dict[str, Any]:
        c, o = self.chance, self.owner
        slip = str(c.choice(SLIPS)) if c.random() < 0.16 * o.care else ""
        ratio = {name: float(c.lognormal(0.0, o.scatter)) for name in
                 ("distance", "pressure", "efflux", "film", "flash")}  # fmt: skip
        ratio["film"] *= 0.55 if i == 0 else 1.0
        _slip(slip, ratio, c)
        wait_h, window = self._wait(ended_h, ratio["flash"])
        hour = hour + 0.05 if ended_h is None else ended_h + wait_h
        air_c = room_c + c.normal(0, 0.25)
        part_c = (
            air_c - abs(c.normal(0.3, 0.2)) - (c.uniform(3.5, 8.0) if slip == "cold part" else 0)
        )
        speed = 0.36 * float(c.lognormal(0, 0.13))
        speed = c.uniform(0.85, 1.5) if slip == "draught" else speed
        speed = c.uniform(0.03, 0.11) if slip == "still" else speed
        dew_c = _dew(vapour * float(c.lognormal(0, 0.02)))
        pull = PULL_K[reducer] * math.sqrt(max(air_c, 4.0) / 20.0)
        return {
            "kind": "tack coat" if i == 0 else "wet coat",
            "hour": hour,
            "first": ended_h is None,
            "air_c": air_c,
            "part_c": part_c,
            "air_speed": speed,
            "dew_c": min(dew_c, air_c),
            "pull_k": pull,
            "margin_k": 0.55 * part_c + 0.45 * air_c - pull - min(dew_c, air_c) + 1.5,
            "film_um": o.film_um * ratio["film"],
            "film_ratio": ratio["film"] if i else 1.0 + (ratio["film"] - 0.55),
            "distance_ratio": ratio["distance"],
            "pressure_ratio": ratio["pressure"],
            "efflux_ratio": ratio["efflux"],
            "flash_ratio": 1.0 if ended_h is None or wait_h > 4 else wait_h * 60 / o.flash_min,
            "window_h": window,
            "filter_days": hour / 24 - self.filter_changed,
            "brush_days": hour / 24 - self.brush_cleaned,
        }

    def _wait(self, ended_h: float | None, flash: float) -> tuple[float, float]:
        """Hours since the coat before, and how deep in the wrinkle window that is."""
        c, enamel = self.chance, self.owner.family == "enamel"
        if ended_h is None:
            return 0.0, -9.0
        if c.random() < (0.035 if enamel else 0.03):
            hours = c.uniform(14.0, 34.0)
            return hours, (min(hours - 7.0, 44.0 - hours) if enamel else -9.0)
        if c.random() < 0.012:
            return c.uniform(80.0, 200.0), -9.0
        return self.owner.flash_min * flash / 60.0, -5.0

    def _coat(self, key: str, i: int, scene: dict[str, Any]) -> None:
        coat_id = f"c{key}-{i}"
        self._record(coat_id, key, scene)
        self.count += 1
        struck = [*self._blush(scene), *self._strikes(scene), *self._hidden()]
        for defect in dict.fromkeys(d for d, _, _ in struck):
            held = [(cause, where) for d, cause, where in struck if d == defect]
            cause, where = held[int(self.chance.integers(len(held)))]
            written = defect
            if defect in WRITTEN_AS and self.chance.random() < 0.18:
                written = str(self.chance.choice(WRITTEN_AS[defect]))
            self.history.truths.append(Truth(coat_id, defect, written, cause, where))
            self._keep(r.Finding(id=f"f{coat_id}{defect}", bench=BENCH, piece=f"p{key}",
                                 coat=coat_id, defect=written,
                                 at_ms=_ms(scene["hour"] + 3)))  # fmt: skip
            return

    def _strikes(self, scene: dict[str, Any]) -> list[tuple[str, str, tuple[str, ...]]]:
        struck = []
        for defect, cause, name, side, threshold, scale, rate in MECHANISMS:
            if name in SEEN_LAST and not scene["last"]:
                continue
            tolerance = self.owner.tolerance[defect + cause]
            excess = side * (scene[name] - threshold) / scale - tolerance
            if excess > 0 and self.chance.random() < 1 - math.exp(-rate * excess**1.4):
                struck.append((defect, cause, HELD[name]))
        return struck

    def _blush(self, scene: dict[str, Any]) -> list[tuple[str, str, tuple[str, ...]]]:
        short = -scene["margin_k"]
        if short <= 0 or self.chance.random() > 1 - math.exp(-0.8 * short):
            return []
        taken = {
            "humid_air": scene["dew_c"] - 7.5,
            "fast_reducer": scene["pull_k"] - 4.5,
            "cold_part": 0.55 * (scene["air_c"] - scene["part_c"] - 0.3),
        }
        cause = max(taken, key=lambda k: taken[k])
        held = {
            "humid_air": ("relative_humidity",),
            "fast_reducer": ("reducer", "air_temperature"),
            "cold_part": ("part_temperature", "air_temperature"),
        }[cause]
        return [("blush", cause, held)]

    def _hidden(self) -> list[tuple[str, str, tuple[str, ...]]]:
        return [(d, UNRECORDED, ()) for d, p in HIDDEN.items() if self.chance.random() < p]

    def _record(self, coat_id: str, key: str, scene: dict[str, Any]) -> None:
        o, c = self.owner, self.chance
        start = _ms(scene["hour"])
        settings: dict[str, object] = {
            "distance_mm": round(o.distance_mm * scene["distance_ratio"] * c.normal(1, 0.03), 0),
            "pressure_bar": round(o.pressure_bar * scene["pressure_ratio"], 2),
            "efflux_s": round(o.efflux_s * scene["efflux_ratio"] + c.normal(0, 0.4), 1),
            "wet_film_um": round(scene["film_um"] * c.normal(1, 0.05), 0),
            "base_l": round(scene["base_l"], 0),
        }
        settings = {k: v for k, v in settings.items() if k in o.noted and c.random() < 0.95}
        if "airbrush" in o.noted:
            self._keep(r.Airbrush(id=f"brush{coat_id}", bench=BENCH, name="airbrush", made_ms=start,
                                  cleaned_ms=_ms(self.brush_cleaned * 24)))  # fmt: skip
        if "filter" in o.noted:
            self._keep(r.Booth(id=f"booth{coat_id}", bench=BENCH, name="booth", made_ms=start,
                               filter_changed_ms=_ms(self.filter_changed * 24)))  # fmt: skip
        self._keep(r.Coat(id=coat_id, bench=BENCH, piece=f"p{key}", kind=scene["kind"],
                          start_ms=start, end_ms=start + 250_000, batch=f"b{key}",
                          airbrush=f"brush{coat_id}" if "airbrush" in o.noted else None,
                          booth=f"booth{coat_id}" if "filter" in o.noted else None,
                          settings=settings))  # fmt: skip
        self._keep(r.Conditions(bench=BENCH, coat=coat_id, from_ms=start, to_ms=start + 250_000,
                                formula="conditions-1",
                                channels=self._channels(scene)))  # fmt: skip

    def _channels(self, scene: dict[str, Any]) -> tuple[r.ChannelConditions, ...]:
        c, o = self.chance, self.owner
        rh = 100.0 * _saturation(scene["dew_c"]) / _saturation(scene["air_c"])
        read = {
            "air_temperature": ("Cel", scene["air_c"] + c.normal(0, 0.2)),
            "relative_humidity": ("%RH", min(100.0, rh + c.normal(0, 1.5))),
            "part_temperature": ("Cel", scene["part_c"] + c.normal(0, 0.3)),
            "air_speed": ("m/s", max(0.0, scene["air_speed"] + c.normal(0, 0.02))),
            "film_margin": ("K", scene["margin_k"] + c.normal(0, 0.8)),
            "margin_to_dew_point": ("K", scene["part_c"] - scene["dew_c"] + c.normal(0, 0.5)),
        }
        optional = {"part_temperature", "air_speed", "film_margin"}
        gone = {n for n in read if (n in optional and n not in o.probes) or c.random() < 0.04}
        if "reducer" not in o.noted:
            gone.add("film_margin")
        return tuple(
            r.ChannelConditions(device="probe", channel=name, unit=unit,
                                n=0 if name in gone else 250,
                                mean=None if name in gone else value,
                                low=None if name in gone else value,
                                high=None if name in gone else value,
                                p5=None, p95=None,
                                worst_minute=None if name in gone else value, worst_ms=None,
                                gap_s=250.0 if name in gone else 0.0)
            for name, (unit, value) in read.items()
        )  # fmt: skip


def _slip(slip: str, ratio: dict[str, float], c: np.random.Generator) -> None:
    change = {
        "far": ("distance", c.uniform(1.45, 2.1)),
        "near": ("distance", c.uniform(0.4, 0.65)),
        "low pressure": ("pressure", c.uniform(0.5, 0.75)),
        "high pressure": ("pressure", c.uniform(1.35, 1.9)),
        "thick": ("efflux", c.uniform(1.25, 1.7)),
        "thin": ("efflux", c.uniform(0.55, 0.78)),
        "heavy": ("film", c.uniform(1.5, 2.2)),
        "light": ("film", c.uniform(0.4, 0.6)),
        "short flash": ("flash", c.uniform(0.12, 0.4)),
    }.get(slip)
    if change is not None:
        ratio[change[0]] *= change[1]


def _saturation(t_c: float) -> float:
    """Saturation pressure, hPa (Tetens)."""
    return 6.1078 * math.exp(17.2694 * t_c / (t_c + 237.3))


def _dew(vapour_hpa: float) -> float:
    x = math.log(max(vapour_hpa, 0.5) / 6.1078)
    return 237.3 * x / (17.2694 - x)


def _ms(hour: float) -> int:
    return START_MS + int(hour * 3_600_000)
