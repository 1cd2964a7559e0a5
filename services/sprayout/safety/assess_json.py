"""JSON in and out for the assessment of a coat, for the web and other programs."""

from collections.abc import Mapping
from dataclasses import asdict

from sprayout.errors import BadInput
from sprayout.safety.assess import Assessment, assess
from sprayout.safety.assessment import Finding
from sprayout.safety.booth import Booth
from sprayout.safety.breathing import Room
from sprayout.safety.given import above_zero, finite, fraction, mixing_divisor, not_below_zero
from sprayout.safety.interlock import FanState
from sprayout.safety.load import Coat, Product, Solvent


def answer_assess(given: Mapping[str, object], fan: FanState | None = None) -> dict[str, object]:
    """The assessment of ``{"product","coat","booth","room","region"}``, each part optional.

    ``fan`` comes from the bench's own readings, never from the request.
    """
    parts = ("product", "coat", "booth", "room", "region")
    _only(given, parts, "assess")
    product, coat, booth, room = (_part(given, name) for name in parts[:4])
    found = assess(
        None if product is None else parse_product(product),
        None if coat is None else parse_coat(coat),
        None if booth is None else parse_booth(booth),
        None if room is None else parse_room(room),
        fan,
        str(given.get("region") or "us"),
    )
    return assessment_to_json(found)


def parse_product(given: Mapping[str, object]) -> Product:
    """``{"name","solvents":{name: share},"two_part","label","pigments","solids_g_ml",…}``."""
    known = ("name", "solvents", "two_part", "label", "pigments", "solids_g_ml",
             "data_sheet_limits_ppm")  # fmt: skip
    _only(given, known, "product")
    solvents = _shares(given, "solvents")
    limits = _shares(given, "data_sheet_limits_ppm")
    two_part = given.get("two_part")
    if two_part is not None and not isinstance(two_part, bool):
        raise BadInput(f"product two_part: got {two_part!r}, wanted true, false or null; say which")
    pigments = given.get("pigments") or []
    if not isinstance(pigments, list | tuple):
        raise BadInput(f"product pigments: got {pigments!r}, wanted a list of names; use []")
    return Product(
        name=str(given.get("name") or "unnamed"),
        solvents=tuple(Solvent(n, fraction(f"share of {n}", v)) for n, v in solvents.items()),
        two_part=two_part,
        label=str(given.get("label") or ""),
        pigments=tuple(str(pigment) for pigment in pigments),
        solids_g_ml=_number(given, "solids_g_ml", "product"),
        data_sheet_limits_ppm=tuple((n, above_zero(f"limit of {n}", v)) for n, v in limits.items()),
    )


def parse_coat(given: Mapping[str, object]) -> Coat | None:
    """``{"sprayed_ml","minutes","coats"}``; ``None`` where amount or time is not given."""
    _only(given, ("sprayed_ml", "minutes", "coats"), "coat")
    millilitres, minutes = _number(given, "sprayed_ml", "coat"), _number(given, "minutes", "coat")
    coats = given.get("coats", 1)
    if isinstance(coats, bool) or not isinstance(coats, int) or coats < 1:
        raise BadInput(f"coat coats: got {coats!r}, wanted a whole number from 1; count the coats")
    if millilitres is None or minutes is None:
        return None
    return Coat(
        above_zero("coat sprayed_ml", millilitres, "mL"),
        above_zero("coat minutes", minutes, "min"),
        coats,
    )


def parse_booth(given: Mapping[str, object]) -> Booth | None:
    """``{"width_m","height_m","volume_m3","flow_m3h","exhaust","crossdraft_m_s"}``."""
    numbers = ("width_m", "height_m", "volume_m3", "flow_m3h", "crossdraft_m_s")
    _only(given, (*numbers, "exhaust"), "booth")
    width, height, volume, flow, crossdraft = (_number(given, n, "booth") for n in numbers)
    exhaust = given.get("exhaust")
    if exhaust not in (None, "ducted", "recirculating"):
        raise BadInput(
            f"booth exhaust: got {exhaust!r}, wanted ducted, recirculating or null; look where the "
            "air goes"
        )
    if width is None or height is None:
        return None
    return Booth(
        above_zero("booth width_m", width, "m"),
        above_zero("booth height_m", height, "m"),
        None if volume is None else above_zero("booth volume_m3", volume, "m³"),
        None if flow is None else not_below_zero("booth flow_m3h", flow, "m³/h"),
        exhaust,
        None if crossdraft is None else not_below_zero("booth crossdraft_m_s", crossdraft, "m/s"),
    )


def parse_room(given: Mapping[str, object]) -> Room | None:
    """``{"volume_m3","fresh_air_m3h","mixing_divisor","escape_share",…}``; defaults as in Room."""
    defaults = {
        "mixing_divisor": 3.0,
        "escape_share": 1.0,
        "near_radius_m": 0.5,
        "air_speed_m_min": 3.6,
    }
    _only(given, ("volume_m3", "fresh_air_m3h", *defaults), "room")
    volume, fresh = _number(given, "volume_m3", "room"), _number(given, "fresh_air_m3h", "room")
    rest = {n: usual if (v := _number(given, n, "room")) is None else v
            for n, usual in defaults.items()}  # fmt: skip
    if volume is None:
        return None
    return Room(
        above_zero("room volume_m3", volume, "m³"),
        None if fresh is None else not_below_zero("room fresh_air_m3h", fresh, "m³/h"),
        mixing_divisor(rest["mixing_divisor"]),
        fraction("room escape_share", rest["escape_share"]),
        above_zero("room near_radius_m", rest["near_radius_m"], "m"),
        above_zero("room air_speed_m_min", rest["air_speed_m_min"], "m/min"),
    )


def assessment_to_json(found: Assessment) -> dict[str, object]:
    """Level, findings with figures and sources, cautions, order of authority."""
    return {
        "level": found.level.value,
        "findings": [finding_to_json(finding) for finding in found.findings],
        "cautions": [asdict(caution) for caution in found.cautions],
        "order_of_authority": list(found.order_of_authority),
    }


def finding_to_json(finding: Finding) -> dict[str, object]:
    """One finding: key, level, words, figures by name, sources."""
    return {
        "key": finding.key,
        "level": finding.level.value,
        "words": finding.words,
        "figures": dict(finding.figures),
        "sources": [asdict(entry) for entry in finding.sources],
    }


def _only(given: Mapping[str, object], known: tuple[str, ...], what: str) -> None:
    for name in given:
        if name not in known:
            raise BadInput(f"{what}: got {name!r}, wanted {', '.join(known)}; leave it out")


def _part(given: Mapping[str, object], name: str) -> Mapping[str, object] | None:
    value = given.get(name)
    if value is None or isinstance(value, Mapping):
        return value
    raise BadInput(f"{name}: got {value!r}, wanted an object or null; write its fields by name")


def _number(given: Mapping[str, object], name: str, what: str) -> float | None:
    value = given.get(name)
    if value is None:
        return None
    if not isinstance(value, int | float):
        raise BadInput(f"{what} {name}: got {value!r}, wanted a number; enter it in figures")
    return finite(f"{what} {name}", value)


def _shares(given: Mapping[str, object], name: str) -> dict[str, float]:
    value = given.get(name)
    if value is None:
        return {}
    if not isinstance(value, Mapping):
        raise BadInput(f"product {name}: got {value!r}, wanted name and number; use an object")
    return {str(key): finite(f"{name} {key}", number) for key, number in value.items()}
