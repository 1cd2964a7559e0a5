"""``blush`` as JSON: the request that command line and web share, and its answer."""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal

from sprayout.climate.advice import Advice, advise
from sprayout.climate.blush import RH_LIMIT_PCT, Blush, assess, assess_sheet
from sprayout.climate.heat_transfer import DEFAULT_BETA, convection_and_beta
from sprayout.climate.moist_air import STANDARD_PRESSURE_PA, BoothAir
from sprayout.climate.part import Part, foil, metal_part
from sprayout.climate.part_temperature import EMISSIVITY, from_infrared
from sprayout.climate.reducer import (
    Basis,
    Blend,
    SheetReducer,
    blend_by_volume,
    from_data_sheet,
    parse_reducer,
)
from sprayout.climate.wet_film import ACCURACY, DEFAULT_FILM_UM, LIMITS, Film
from sprayout.errors import BadInput

FIELDS = (
    "air_c",
    "rh_pct",
    "pressure_pa",
    "air_speed_ms",
    "part_c",
    "part_infrared_c",
    "surface",
    "metal",
    "metal_mm",
    "wet_faces",
    "wet_film_um",
    "beta",
    "reducer",
    "reducer_sheet",
    "by",
    "rh_limit_pct",
)


@dataclass(frozen=True, slots=True)
class BlushRequest:
    """One question: a film, the paint's own humidity limit, and the sheet it came from if any."""

    film: Film
    rh_limit_pct: float = RH_LIMIT_PCT
    sheet: SheetReducer | None = None
    assumptions: tuple[str, ...] = ()


def parse_blush(fields: Mapping[str, Any]) -> BlushRequest:
    """Read a request; absent or ``None`` fields take their default, wrong ones are named.

    ``reducer`` is ``"name=share,…"`` or an object of shares by volume; ``reducer_sheet`` is
    ``"name=low-high,…"`` or an object of ``[low, high]``, ``by`` weight unless said.
    """
    given = {name: value for name, value in fields.items() if value is not None}
    unknown = sorted(set(given) - set(FIELDS))
    if unknown:
        raise BadInput(f"blush: unknown field {unknown[0]!r}, wanted {', '.join(FIELDS)}")
    air = BoothAir(
        _needed(given, "air_c"),
        _needed(given, "rh_pct"),
        _number(given, "pressure_pa", STANDARD_PRESSURE_PA),
    )
    blend, sheet = _reducer(given)
    film = Film(
        air=air,
        blend=blend,
        part=_part(given),
        film_um=_number(given, "wet_film_um", DEFAULT_FILM_UM),
        part_c=_part_c(given, air.air_c),
        air_speed_ms=_optional(given, "air_speed_ms"),
        beta=_optional(given, "beta"),
    )
    convection_and_beta(film.air_speed_ms, film.part)  # refuses a wrong air speed by name
    rh_limit = _number(given, "rh_limit_pct", RH_LIMIT_PCT)
    if not 0.0 < rh_limit <= 100.0:
        raise BadInput(f"rh_limit_pct: got {rh_limit:g}, wanted above 0 to 100; see the data sheet")
    return BlushRequest(film, rh_limit, sheet, _assumptions(given, film))


def answer_blush(request: BlushRequest) -> tuple[Blush, Advice | None]:
    """Work the request out."""
    if request.sheet is None:
        blush = assess(request.film, rh_limit_pct=request.rh_limit_pct)
    else:
        blush = assess_sheet(request.film, request.sheet, rh_limit_pct=request.rh_limit_pct)
    return blush, advise(request.film, blush)


def blush_to_json(request: BlushRequest, blush: Blush, advice: Advice | None) -> dict[str, Any]:
    """The answer; the first five fields are the contract, the rest says what it rests on."""
    answer: dict[str, Any] = {
        "film_low_c": round(blush.film_low_c, 3),
        "dew_point_c": round(blush.dew_point_c, 3),
        "margin_k": round(blush.margin_k, 3),
        "blush_rh_pct": round(blush.blush_rh_pct, 2),
        "level": str(blush.level),
        "point_kind": blush.point_kind,
        "reasons": list(blush.reasons),
        "low_at_s": round(blush.low_at_s, 1),
        "film_steady_c": round(blush.film_steady_c, 3),
        "surface_margin_k": round(blush.surface_margin_k, 3),
        "caution_rh_pct": round(blush.caution_rh_pct, 2),
        "plus_minus_k": round(blush.plus_minus_k, 2),
        "sensor_error_k": round(blush.sensor_error_k, 2),
        "beta_spread_k": round(blush.beta_spread_k, 2),
        "film_range_c": [round(c, 3) for c in blush.film_range_c] if blush.film_range_c else None,
        "advice": _advice_to_json(advice),
        "assumptions": list(request.assumptions),
        "not_in_the_model": list(LIMITS),
        "accuracy": ACCURACY,
    }
    return answer


def _advice_to_json(advice: Advice | None) -> dict[str, Any] | None:
    if advice is None:
        return None
    return {
        "dehumidify_to_pct": _rounded(advice.dehumidify_to_pct, 1),
        "warm_part_k": _rounded(advice.warm_part_k, 1),
        "warm_booth_k": _rounded(advice.warm_booth_k, 1),
        "slow_share": _rounded(advice.slow_share, 2),
        "slow_solvent": advice.slow_solvent,
        "words": list(advice.words),
    }


def _rounded(value: float | None, digits: int) -> float | None:
    return None if value is None else round(value, digits)


def _assumptions(given: Mapping[str, Any], film: Film) -> tuple[str, ...]:
    words = list(film.blend.notes)
    if "metal" not in given and "metal_mm" not in given:
        words.append("no metal given: taken as foil, the coldest case")
    if film.part_c is None:
        words.append("part temperature not given: taken as that of the air")
    if "air_speed_ms" not in given and film.beta is None and film.part.wet_faces == 1:
        words.append(f"air speed not given: β = {DEFAULT_BETA:g}, about 0.3 m/s")
    if "wet_film_um" not in given:
        words.append(f"wet film not given: {DEFAULT_FILM_UM:g} µm")
    if "pressure_pa" not in given:
        words.append(f"pressure not given: {STANDARD_PRESSURE_PA:g} Pa")
    return tuple(words)


def _part(given: Mapping[str, Any]) -> Part:
    metal, thickness = given.get("metal"), given.get("metal_mm")
    faces = _wet_faces(given)
    if "foil" in (str(metal).strip().casefold(), str(thickness).strip().casefold()):
        return foil(faces)
    if metal is None and thickness is None:
        return foil(faces)
    if metal is None:
        raise BadInput("metal: missing beside metal_mm, wanted steel, zinc, brass or aluminium")
    if thickness is None:
        raise BadInput("metal_mm: missing beside metal, wanted its thickness in mm, or foil")
    return metal_part(str(metal), _needed(given, "metal_mm"), faces)


def _part_c(given: Mapping[str, Any], air_c: float) -> float | None:
    """Entered, or from the infrared thermometer and the surface it looked at, or unknown."""
    if "part_infrared_c" not in given:
        return _optional(given, "part_c")
    if "part_c" in given:
        raise BadInput("part_c: got part_infrared_c beside it, wanted one of them; leave one out")
    if "surface" not in given:
        raise BadInput(
            "surface: missing beside part_infrared_c, wanted what the thermometer looked at: "
            f"{', '.join(EMISSIVITY)}"
        )
    found = from_infrared(_needed(given, "part_infrared_c"), air_c, str(given["surface"]))
    if found.part_c is None:
        raise BadInput(f"part_infrared_c: {found.warning}")
    return found.part_c


def _wet_faces(given: Mapping[str, Any]) -> Literal[1, 2]:
    faces = _number(given, "wet_faces", 1.0)
    if faces not in (1.0, 2.0):
        raise BadInput(f"wet_faces: got {faces:g}, wanted 1 or 2; count the sides that are wet")
    return 1 if faces == 1.0 else 2


def _reducer(given: Mapping[str, Any]) -> tuple[Blend, SheetReducer | None]:
    if ("reducer" in given) == ("reducer_sheet" in given):
        raise BadInput(
            'reducer: got none or two, wanted one, as "toluene=60,n-butyl acetate=40" by volume '
            "or as the ranges of its data sheet"
        )
    if "reducer" in given:
        reducer = given["reducer"]
        if isinstance(reducer, Mapping):
            return blend_by_volume(
                {k: _float(f"share of {k}", v) for k, v in reducer.items()}
            ), None
        return parse_reducer(str(reducer)), None
    sheet = from_data_sheet(_ranges(given["reducer_sheet"]), _basis(given))
    return sheet.middle, sheet


def _basis(given: Mapping[str, Any]) -> Basis:
    match given.get("by", "weight"):
        case "weight":
            return "weight"
        case "volume":
            return "volume"
        case other:
            raise BadInput(f"by: got {other!r}, wanted weight or volume; see the data sheet")


def _ranges(sheet: Any) -> dict[str, tuple[float, float]]:
    if isinstance(sheet, Mapping):
        pairs = {name: value for name, value in sheet.items() if len(value) == 2}
        if len(pairs) == len(sheet):
            return {n: (_float(n, v[0]), _float(n, v[1])) for n, v in pairs.items()}
        raise BadInput("reducer_sheet: wanted [low, high] for every solvent; correct it")
    found: dict[str, tuple[float, float]] = {}
    for entry in str(sheet).split(","):
        name, _, span = entry.rpartition("=")
        low, dash, high = span.partition("-")
        if not name.strip():
            raise BadInput(f"reducer_sheet: got {entry.strip()!r}, wanted name=low-high in percent")
        first = _float(name.strip(), low)
        found[name.strip()] = (first, _float(name.strip(), high) if dash else first)
    return found


def _needed(given: Mapping[str, Any], name: str) -> float:
    if name not in given:
        raise BadInput(f"{name}: missing, wanted a number; read the probe or type it in")
    return _float(name, given[name])


def _number(given: Mapping[str, Any], name: str, default: float) -> float:
    return _float(name, given[name]) if name in given else default


def _optional(given: Mapping[str, Any], name: str) -> float | None:
    return _float(name, given[name]) if name in given else None


def _float(name: str, value: Any) -> float:
    try:
        number = math.nan if isinstance(value, bool) else float(value)
    except (TypeError, ValueError):
        number = math.nan
    if not math.isfinite(number):
        raise BadInput(f"{name}: got {value!r}, wanted a number; correct it")
    return number
