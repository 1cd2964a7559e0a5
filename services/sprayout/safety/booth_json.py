"""``sprayout air KIND`` about booth and fire: face velocity and explosive."""

from dataclasses import asdict

from sprayout.errors import BadInput
from sprayout.safety import booth, fire, room_air
from sprayout.safety.air_answers import (
    ALL_EVAPORATES,
    MIXED,
    Answer,
    answer,
    refused,
    substance_or_refusal,
)
from sprayout.safety.air_inputs import beside_limits, liquid, molar_volume_words
from sprayout.safety.given import above_zero, not_below_zero
from sprayout.safety.given import mixing_divisor as checked_divisor
from sprayout.safety.refusals import Refusal, named


def face_velocity(
    flow_m3h: float,
    width_m: float,
    height_m: float,
    mixing_divisor: float = 1.0,
    region: str = "us",
) -> Answer:
    """``m_s``, ``fpm`` and ``asked_for``: what workplace rules ask of a small booth."""
    checked_divisor(mixing_divisor)
    speed = booth.face_velocity_m_s(flow_m3h, width_m, height_m)
    finding = booth.judge_face(speed)
    asked = [_asked(row) for row in booth.asked_of_air_guns()]
    return answer(
        "face-velocity",
        {"m_s": speed, "fpm": speed / booth.FPM_M_S, "asked_for": asked},
        level=finding.level,
        words=finding.words,
        assumptions=(
            "The flow is delivered air, measured with the filter in place; a fan's rating is not.",
            "Mean over the open face, object inside the booth. The rules bind US employers and "
            "speak of capture and fire, not of exposure limits.",
            "A mixing divisor does not enter here.",
        ),
        cites=finding.sources,
        given={"flow_m3h": flow_m3h, "width_m": width_m, "height_m": height_m},
        region=region,
    )


def explosive(
    ml: float,
    volume_m3: float,
    substance: str | None = None,
    lel_pct: float | None = None,
    molar_mass_g: float | None = None,
    density_kg_l: float | None = None,
    mixing_divisor: float = 1.0,
    region: str = "us",
) -> Answer:
    """``percent_of_lel`` if ``ml`` evaporates into ``volume_m3``, held at what air can hold."""
    given: dict[str, object] = {
        "ml": ml,
        "volume_m3": volume_m3,
        "lel_pct": lel_pct,
        "molar_mass_g": molar_mass_g,
        "density_kg_l": density_kg_l,
    }
    figures, refusal = liquid(substance, molar_mass_g, density_kg_l, lel_pct)
    k = checked_divisor(mixing_divisor)
    millilitres = not_below_zero("ml", ml, "mL")
    volume = above_zero("volume", volume_m3, "m³")
    lel, saturation, missing = _explosive_limit(substance, lel_pct, refusal)
    if refusal or missing or lel is None:
        return refused(
            "explosive",
            {"percent_of_lel": None},
            refusal or missing or named("missing_limit"),
            given,
            region,
        )
    litres = room_air.evaporated_l_min(millilitres, *figures)
    airborne_ppm = litres * 1000.0 / volume * k
    vapour_ppm = min(airborne_ppm, 1e6, saturation or 1e6)
    percent = fire.percent_of_lel(vapour_ppm, lel)
    if_mist = fire.percent_of_lel(airborne_ppm, lel)
    capped = vapour_ppm < airborne_ppm
    breathing, beside, cites = beside_limits(substance, vapour_ppm, region)
    return answer(
        "explosive",
        {
            "percent_of_lel": percent,
            "percent_of_lel_with_mist": if_mist,
            "ppm": vapour_ppm,
            "lel_pct": lel,
            "saturated": capped,
        },
        level=max(fire.level_of(if_mist), breathing, key=lambda level: level.rank),
        words=f"{fire.words_of(if_mist)} {beside}"
        + (" Vapour alone stops at what air can hold; the rest hangs as mist." if capped else ""),
        assumptions=(
            MIXED,
            ALL_EVAPORATES,
            "No air leaves while it evaporates.",
            "The lowest published lower explosive limit counts.",
            molar_volume_words(None),
        ),
        cites=("osha_94c", "imc_502", "npg", "nfpa_497", "iec_60079", *cites),
        given=given,
        region=region,
    )


def _explosive_limit(
    name: str | None, lel_pct: float | None, refusal: Refusal | None
) -> tuple[float | None, float | None, Refusal | None]:
    """(LEL, saturation, refusal); a named substance without an LEL cannot be assessed."""
    if refusal:
        return None, None, None
    if name is None:
        if lel_pct is None:
            raise BadInput(
                "lower explosive limit: none given, wanted percent by volume; take it from the "
                "data sheet"
            )
        return fire.lower_explosive(lel_pct), None, None
    found, _ = substance_or_refusal(name)
    lowest = found.lowest_lel_pct if found else None
    if found is None or lowest is None:
        return None, None, named("missing_limit")
    return lowest.value, found.saturation_ppm, None


def _asked(row: booth.Asked) -> dict[str, object]:
    fpm = {
        "low_fpm": round(row.low_m_s / booth.FPM_M_S, 6),
        "high_fpm": None if row.high_m_s is None else round(row.high_m_s / booth.FPM_M_S, 6),
    }
    return {**asdict(row), **fpm}
