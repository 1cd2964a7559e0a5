"""What the page shows, as JSON: the whole state of a bench, and the small pieces of live news.

Every number stands with its unit in its name; a value that is missing is null and never left out,
so that the page can say *no reading* where there is none.
"""

import math
from dataclasses import asdict, replace

from sprayout.acts.calibrating import PATCHES_MAX
from sprayout.bench.booth_watch import BoothWatch
from sprayout.bench.film_watch import ExpectedFilm
from sprayout.bench.judged_colour import JudgedColour, on_screen
from sprayout.climate.flag_rules import BoothInputs
from sprayout.climate.flags import Standing
from sprayout.climate.forecast import Forecast
from sprayout.climate.moist_air import is_frost
from sprayout.climate.part_temperature import EMISSIVITY
from sprayout.climate.recoat_json import clock_to_json
from sprayout.colour.due import DueRules
from sprayout.colour.tristimulus import Lab
from sprayout.journal.reader import CoatOnRecord
from sprayout.journal.records import Conditions, Flag, Swatch, Target, White
from sprayout.journal.records_json import format_time, to_json
from sprayout.safety import cautions
from sprayout.station import Station
from sprayout.web.mixing_json import advice_json

Json = dict[str, object]

READINGS_SHOWN = 60
LEDGER_SHOWN = 40
COATS_SHOWN = 12

#: Of a coat's conditions, what a person compares; counts and settings stay in `/api/coats/{id}`.
COMPARED = (
    "air_temperature",
    "relative_humidity",
    "part_temperature",
    "dew_point",
    "margin_to_dew_point",
    "film_margin",
    "booth_pressure",
    "air_speed",
    "pressure",
)

#: Channel on record -> key of the booth's JSON and its unit on the page.
BOOTH_CHANNELS = {
    "air_temperature": ("air_c", "°C"),
    "relative_humidity": ("rh_pct", "%RH"),
    "part_temperature": ("part_c", "°C"),
    "pressure": ("pressure_pa", "Pa"),
    "booth_pressure": ("booth_pressure_pa", "Pa"),
    "air_speed": ("air_speed_ms", "m/s"),
}


def snapshot(station: Station) -> Json:
    """Return everything the page needs to draw itself."""
    return {
        "bench": station.bench,
        "at": format_time(station.now_ms()),
        "acts": station.acts_done,
        "devices": _devices(station),
        "calibration": _calibration(station),
        "target": target_json(station.matching.target),
        "batch": _batch(station),
        "live": colour_json(station.measuring.live),
        "advice": {
            **advice_json(station.advising.said, station.shelf),
            "current": station.advising.current,
        },
        "booth": booth_json(station),
        "film": film_json(station.watching.film),
        "forecast": forecast_json(station.watching.forecast, station.now_ms()),
        "recoat": None if (clock := station.drying.reading()) is None else clock_to_json(clock),
        "pot_life": None if (pot := station.potting.reading()) is None else clock_to_json(pot),
        "ventilation": _ventilation(station),
        "flags": _flags(station),
        "coat": to_json(station.spraying.running) if station.spraying.running else None,
        "coats": [coat_line(entry) for entry in station.spraying.coats[:COATS_SHOWN]],
        "cautions": _cautions(station),
        "notices": [
            {"at": format_time(n.at_ms), "source": n.source, "words": n.words, "times": n.times}
            for n in reversed(station.notices)
        ],
        "store": {"writable": station.writer.state.writable, "words": station.writer.state.words},
    }


def _devices(station: Station) -> list[Json]:
    rows = []
    for device, status in sorted(station.devices.items()):
        counters = station.counters.get(device)
        rows.append(
            {
                "device": device,
                "online": status.online,
                "words": status.words,
                "since": format_time(status.at_ms),
                "lost_readings": counters.missing if counters else 0,
                "failed_lines": counters.failed_checks if counters else 0,
            }
        )
    return rows


def _calibration(station: Station) -> Json:
    desk = station.measuring.desk
    if desk is None:
        words = "no board yet; plug one in, or start with --serial PATH"
        return {"state": "no board", "at": None, "words": words}
    state = "ready" if desk.profile else "dark measured" if desk.dark else "none"
    at = format_time(desk.calibration.at_ms) if desk.calibration else None
    return {
        "state": state,
        "at": at,
        "device": desk.device,
        "words": desk.words(),
        "patches": [patch.name for patch in desk.patches],
        "due": list(station.measuring.calibrating.due(desk)),
        "tile_next": desk.dark is not None and desk.white is None,
        "takes_patches": desk.takes_patches(),
        "unused_patches": desk.unused(),
        "patches_max": PATCHES_MAX,
        "holds_h": station.settings.number("calibration_due_h"),
        "check_allowed_de00": DueRules().check_de00,
        "placements": len(station.measuring.placements),
    }


def colour_json(live: JudgedColour | None) -> Json | None:
    """Return a judged colour with the screen colour that comes nearest to it."""
    if live is None:
        return None
    return {
        "at": format_time(live.at_ms),
        "device": live.device,
        "lab": rounded(live.lab),
        "white": live.white,
        "u95_de00": round(live.u95_de00, 2),
        "clipped": live.clipped,
        "warnings": list(live.warnings),
        "de00": None if live.de00 is None else round(live.de00, 2),
        "verdict": live.verdict,
        "plain": live.plain,
        "trade": list(live.trade),
        "screen": screen_json(live.lab, live.white),
    }


def rounded(lab: Lab) -> list[float]:
    """Return Lab as it is shown: two places, no more than the sensor can know."""
    return [round(float(value), 2) for value in lab]


def screen_json(lab: Lab, white: White) -> Json:
    """Return the screen's colour and whether the screen can show this one at all."""
    colour = on_screen(lab, white)
    return {"hex": colour.hex, "in_gamut": bool(colour.in_gamut)}


def target_json(target: Target | None) -> Json | None:
    """Return a target for the page."""
    if target is None:
        return None
    return {
        "id": target.id,
        "name": target.name,
        "lab": rounded(target.lab),
        "white": target.white,
        "tolerance_de00": target.tolerance_de00,
        "measured": target.swatch is not None,
        "origin": target.origin or ("measured" if target.swatch else "typed"),
        "u95_de00": None if target.u95_de00 is None else round(target.u95_de00, 2),
        "variant_of": target.variant_of or None,
        "swatch": target.swatch,
        "photos": list(target.photos),
        "note": target.note,
        "screen": screen_json(target.lab, target.white),
    }


def _batch(station: Station) -> Json | None:
    matching = station.matching
    if matching.batch is None:
        return None
    contents = matching.contents()
    return {
        "id": matching.batch.id,
        "name": matching.batch.name,
        "contents": [
            {"paint": name, "drops": shown_drops(drops)} for name, drops in contents.items()
        ],
        "total_drops": shown_drops(sum(contents.values())),
        "aim": matching.batch.aim or "wet",
        "recipe": matching.batch.recipe or None,
        "lines": len(matching.additions),
        "ledger": [
            {
                "at": format_time(line.at_ms),
                "name": name,
                "drops": line.drops,
                "ml": line.ml,
                "grams": line.grams,
                "note": line.note,
            }
            for line, name in matching.ledger()[-LEDGER_SHOWN:]
        ],
        "swatches": [swatch_json(swatch) for swatch in matching.readings[-READINGS_SHOWN:]],
    }


def shown_drops(drops: float) -> float:
    """Return counted drops whole, and to a tenth where some of the paint was weighed."""
    return round(drops) if abs(drops - round(drops)) < 1e-6 else round(drops, 1)


def swatch_json(swatch: Swatch) -> Json:
    """Return one measured swatch for the trail of readings."""
    return {
        "id": swatch.id,
        "at": format_time(swatch.at_ms),
        "lab": rounded(swatch.lab) if swatch.lab else None,
        "u95_de00": None if swatch.u95_de00 is None else round(swatch.u95_de00, 2),
        "de00": None if swatch.de00 is None else round(swatch.de00, 2),
        "warnings": list(swatch.warnings),
        "screen": screen_json(swatch.lab, swatch.white) if swatch.lab else None,
    }


def film_json(expected: ExpectedFilm | None) -> Json | None:
    """Return the wet film to be expected; null where reducer or air is not known."""
    if expected is None:
        return None
    blush = expected.blush
    return {
        "film_low_c": round(blush.film_low_c, 1),
        "margin_k": round(blush.margin_k, 1),
        "plus_minus_k": round(blush.plus_minus_k, 1),
        "blush_rh_pct": round(blush.blush_rh_pct),
        "level": str(blush.level),
        "advice": list(expected.advice.words) if expected.advice else [],
        "assumptions": list(expected.assumptions()),
    }


def booth_json(station: Station) -> Json:
    """Return the booth's numbers, each with its age and the device it came from."""
    booth, now_ms, monotonic_ms = (
        station.watching.booth,
        station.now_ms(),
        station.monotonic_ms(),
    )
    inputs = station.watching.inputs(None, fan_wanted=True)
    rows: Json = {
        key: _channel(booth, channel, unit, now_ms, monotonic_ms)
        for channel, (key, unit) in BOOTH_CHANNELS.items()
    }
    part = station.watching.part(inputs.fresh_air_c())
    counts = part.measured.value if part.measured else None
    shown: Json = {
        "value_c": None if counts is None else round(counts, 2),
        "by": part.by,
        "words": part.words,
        "surface": station.watching.surface,
        "surfaces": list(EMISSIVITY),
    }
    silent_ms = booth.silent_after_ms
    return {**rows, **_dew_point(inputs), "part": shown, "silent_after_ms": silent_ms}


def _channel(
    booth: BoothWatch, channel: str, unit: str, now_ms: int, monotonic_ms: int
) -> Json | None:
    latest = booth.channel(channel, now_ms, monotonic_ms)
    if latest is None:
        return None
    age_ms = latest.age_ms(now_ms, monotonic_ms)
    read = {}
    if channel == "relative_humidity":
        corrected = booth.correction_of(latest) is not None
        read = {"read": round(latest.value, 3), "corrected": corrected}
    return {
        "value": round(booth.true_value(latest), 3),
        **read,
        "unit": unit,
        "at": format_time(latest.at_ms),
        "age_ms": age_ms,
        "silent": booth.is_silent(latest, now_ms, monotonic_ms),
        "silent_after_ms": latest.silent_after_ms(booth.silent_after_ms),
        "device": latest.device,
    }


def _dew_point(inputs: BoothInputs) -> Json:
    """Return dew point and margin only where both readings are there and recent."""
    dew_c = inputs.dew_point_c()
    part = inputs.part_c.fresh(-20.0, 90.0, inputs.silent_after_ms) if inputs.part_c else None
    if dew_c is None or math.isnan(dew_c):
        return {"dew_point_c": None, "dew_point_kind": None, "margin_k": None}
    return {
        "dew_point_c": round(dew_c, 2),
        "dew_point_kind": "frost point" if is_frost(dew_c) else "dew point",
        "margin_k": None if part is None else round(part - dew_c, 2),
    }


def forecast_json(ahead: Forecast | None, now_ms: int) -> Json | None:
    """Return when the margin will be lost or regained, with its range; null without a trend."""
    if ahead is None:
        return None
    since_ms = None if ahead.since_min is None else now_ms - round(ahead.since_min * 60_000)
    return {
        "outlook": str(ahead.outlook),
        "minutes": ahead.minutes,
        "earliest_min": ahead.earliest_min,
        "latest_min": ahead.latest_min,
        "words": ahead.words,
        "since": None if since_ms is None else format_time(since_ms),
    }


def _ventilation(station: Station) -> Json:
    """Return fan, purge clock and cartridge; what is not known is said to be so."""
    fan = station.watching.fan()
    purge = station.ventilating.purge(fan, station.spraying.running is not None)
    clock = station.ventilating.clock()
    cartridge = station.ventilating.cartridge
    return {
        "fan": fan.state,
        "fan_words": fan.words,
        "purge_min": None if purge.minutes is None else round(purge.minutes, 1),
        "purge_words": purge.words,
        "purge_assumption": None if isinstance(clock, str) else clock.assumption,
        "refusals": [refusal.words() for refusal in station.exposing.refusals()],
        "cartridge": None if cartridge is None else to_json(cartridge),
        "booth": None if station.ventilating.booth is None else to_json(station.ventilating.booth),
    }


def _flags(station: Station) -> list[Json]:
    state = {standing.key: standing for standing in station.watching.state.standings}
    return [_flag(flag, state) for flag in station.watching.book.shown()]


def _flag(flag: Flag, state: dict[str, Standing]) -> Json:
    standing = state.get(flag.key) if flag.cleared_ms is None else None
    level = standing.level if standing else None
    return {
        "id": flag.id,
        "key": flag.key,
        "title": flag.title,
        "level": str(level) if level else flag.level,
        "words": standing.words if standing else flag.words,
        "rests_on": list(standing.rests_on) if standing else [],
        "would_help": standing.would_help if standing else "",
        "raised": format_time(flag.raised_ms),
        "cleared": format_time(flag.cleared_ms) if flag.cleared_ms is not None else None,
        "acknowledged_by": flag.acknowledged_by,
    }


def coat_json(entry: CoatOnRecord) -> Json:
    """Return a coat on record with its piece and the conditions it was sprayed in."""
    return {
        **to_json(entry.coat),
        "piece_name": entry.piece.name,
        "conditions": conditions_json(entry.conditions),
    }


def coat_line(entry: CoatOnRecord) -> Json:
    """Return a coat as the live state names it; its conditions stand in `/api/coats`."""
    return {**to_json(entry.coat), "piece_name": entry.piece.name}


def coat_brief(entry: CoatOnRecord) -> Json:
    """Return a coat with those of its conditions that a person compares."""
    conditions = entry.conditions
    if conditions is None:
        return coat_json(entry)
    kept = tuple(c for c in conditions.channels if c.channel in COMPARED)
    return coat_json(replace(entry, conditions=replace(conditions, channels=kept)))


def conditions_json(conditions: Conditions | None) -> Json | None:
    """Return the conditions of a coat."""
    return None if conditions is None else to_json(conditions)


def _cautions(station: Station) -> Json:
    signed = station.spraying.acknowledged_tonight()
    return {
        "one_line": cautions.one_line(),
        "list": [asdict(c) for c in cautions.for_spraying(station.settings.text("region"))],
        "read_by": signed.person if signed else None,
        "read_at": format_time(signed.at_ms) if signed else None,
    }
