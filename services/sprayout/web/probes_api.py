"""Checks of humidity probes over salts, over HTTP."""

from dataclasses import asdict

from fastapi import APIRouter

from sprayout.climate.corrections import is_due, state_words
from sprayout.climate.salts import SaltPoint, correction_age_days, humidity_over, salt_spans
from sprayout.journal.probe_corrections import as_correction
from sprayout.journal.records import ProbeCheck
from sprayout.journal.records_json import to_json
from sprayout.safety import cautions
from sprayout.station import Station
from sprayout.web import forms

Json = dict[str, object]
SHOWN_AT_C = 20.0


def router(station: Station) -> APIRouter:
    """Return the routes."""
    routes = APIRouter(prefix="/api", tags=["booth"])

    @routes.get("/probe-checks")
    async def probe_checks() -> Json:
        """Return the probes, their checks, and what stands over which salt."""
        shown = cautions.for_spraying(station.settings.text("region"))
        return {
            "probes": [_probe(station, device) for device in station.probing.probes()],
            "checks": [check_json(station, check) for check in station.probing.checks],
            "salts": [_salt(name, low, high) for name, low, high in salt_spans()],
            "cautions": [asdict(caution) for caution in shown],
        }

    @routes.post("/probe-checks")
    async def check_probe(form: forms.ProbeOverSalts) -> Json:
        """Put a check over one or two salts on record; `read_pct` is what the probe itself says."""
        points = [SaltPoint(p.salt, p.t_c, p.read_pct, p.minutes) for p in form.points]
        kept = await station.probing.check(form.probe, points, form.person, form.note)
        return check_json(station, kept)

    @routes.post("/probe-checks/{check_id}/withdraw")
    async def withdraw(check_id: str, form: forms.Signature) -> Json:
        """Take a check out of force; it stays on record."""
        return check_json(station, await station.probing.withdraw(check_id, form.person))

    return routes


def check_json(station: Station, check: ProbeCheck) -> Json:
    """One check on record, its correction in words, and whether it counts now."""
    found, now_ms = as_correction(check), station.now_ms()
    counts = check.withdrawn_ms is None and station.probing.in_force(check.device) == found
    withdrawn = "" if check.withdrawn_ms is None else "; withdrawn"
    return {
        **to_json(check),
        "words": state_words(found, now_ms) + withdrawn,
        "age_days": round(max(correction_age_days(found, now_ms), 0.0), 2),
        "due": is_due(found, now_ms),
        "in_use": counts,
    }


def _probe(station: Station, device: str) -> Json:
    booth, now_ms = station.watching.booth, station.now_ms()
    latest = {e.channel: e for e in booth.all_latest() if e.device == device}
    air, humidity = latest.get("air_temperature"), latest.get("relative_humidity")
    found = station.probing.in_force(device)
    words = f"{device}: never checked over a salt; taken as it reads"
    monotonic_ms = station.monotonic_ms()
    silent = humidity is None or booth.is_silent(humidity, now_ms, monotonic_ms)
    if air is not None and booth.is_silent(air, now_ms, monotonic_ms):
        air = None
    checks = (check for check in station.probing.checks if as_correction(check) == found)
    check = next(checks, None) if found else None
    return {
        "device": device,
        "air_c": None if air is None else round(air.value, 2),
        "rh_read_pct": None if humidity is None else round(humidity.value, 2),
        "rh_pct": None if humidity is None else round(booth.true_value(humidity), 2),
        "silent": silent,
        "check": check.id if check else None,
        "age_days": None if found is None else round(correction_age_days(found, now_ms), 2),
        "due": found is not None and is_due(found, now_ms),
        "words": words if found is None else state_words(found, now_ms),
    }


def _salt(name: str, low_c: float, high_c: float) -> Json:
    at_c = min(max(SHOWN_AT_C, low_c), high_c)
    stands = humidity_over(name, at_c)
    return {
        "salt": name,
        "low_c": low_c,
        "high_c": high_c,
        "at_c": at_c,
        "rh_pct": round(stands.rh_pct, 2),
        "uncertainty_pct": round(stands.uncertainty_pct, 2),
        "source": stands.source,
    }
