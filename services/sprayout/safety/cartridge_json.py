"""JSON for the log of a cartridge: what is kept, and whether it is time to change."""

from collections.abc import Mapping
from dataclasses import asdict

from sprayout.errors import BadInput
from sprayout.safety.assess_json import finding_to_json
from sprayout.safety.assessment import Level
from sprayout.safety.cartridge import CartridgeLog, judge
from sprayout.safety.cautions import for_spraying
from sprayout.safety.given import not_below_zero
from sprayout.safety.json_fields import number_of, only
from sprayout.safety.substances import find


def parse_log(given: Mapping[str, object]) -> CartridgeLog:
    """``{"label","opened_days_ago","worn_h","humid_h"}``; an unknown opening date is null."""
    only(given, ("label", "opened_days_ago", "worn_h", "humid_h"), "cartridge")
    opened = number_of(given, "opened_days_ago", "cartridge")
    worn = not_below_zero("cartridge worn_h", number_of(given, "worn_h", "cartridge") or 0.0, "h")
    humid = not_below_zero(
        "cartridge humid_h", number_of(given, "humid_h", "cartridge") or 0.0, "h"
    )
    if humid > worn:
        raise BadInput(
            f"cartridge humid_h: got {humid:g}, wanted at most the {worn:g} h worn; check both"
        )
    if opened is not None:
        not_below_zero("cartridge opened_days_ago", opened, "days")
    return CartridgeLog(str(given.get("label") or "unnamed"), opened, worn, humid)


def log_to_json(log: CartridgeLog) -> dict[str, object]:
    """The log's fields by name; ``parse_log`` takes them back unchanged."""
    return asdict(log)


def answer_cartridge_log(given: Mapping[str, object]) -> dict[str, object]:
    """``{"log": {…}, "substance", "ppm": number|null, "work_ratio"}`` judged, with cautions."""
    only(given, ("log", "substance", "ppm", "work_ratio", "region"), "cartridge")
    log = given.get("log")
    if not isinstance(log, Mapping):
        raise BadInput(f"cartridge log: got {log!r}, wanted an object; write its fields by name")
    work = number_of(given, "work_ratio", "cartridge")
    finding = judge(
        parse_log(log),
        find(str(given.get("substance") or "")),
        number_of(given, "ppm", "cartridge"),
        1.0 if work is None else work,
    )
    cautions = for_spraying(str(given.get("region") or "us"))
    return {
        **finding_to_json(finding),
        "change_now": finding.level in (Level.STOP, Level.REFUSE),
        "cautions": [asdict(caution) for caution in cautions],
    }
