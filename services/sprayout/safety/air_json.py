"""``sprayout air KIND`` about air: purge, dilution, build-up, two boxes.

Booth and fire stand in ``booth_json``, substances in ``substance_json``.  All return the shape
of ``air_answers.answer``.
"""

from dataclasses import asdict

from sprayout.errors import BadInput
from sprayout.safety import room_air, two_box
from sprayout.safety.air_answers import ALL_EVAPORATES, MIXED, Answer, answer, refused
from sprayout.safety.air_inputs import (
    NO_LIMIT_HERE,
    beside_limits,
    generation,
    liquid,
    molar_volume_words,
)
from sprayout.safety.assessment import Level
from sprayout.safety.wording import said


def purge(
    volume_m3: float,
    flow_m3h: float,
    from_ppm: float,
    to_ppm: float,
    mixing_divisor: float = 1.0,
    region: str = "us",
) -> Answer:
    """``minutes`` and ``air_changes`` to bring the air from one concentration to another."""
    result = room_air.purge(volume_m3, flow_m3h, from_ppm, to_ppm, mixing_divisor)
    figures = {
        "minutes": result.minutes,
        "air_changes": result.air_changes,
        "air_changes_per_h": room_air.air_changes_per_h(volume_m3, flow_m3h),
    }
    return answer(
        "purge",
        figures,
        level=Level.CAUTION,
        words=f"Fan on and door shut for {result.minutes:.1f} min after the last coat, longer "
        "while coats are wet.",
        assumptions=(
            MIXED,
            "The fan runs all the time and no new vapour comes; wet coats give off more.",
        ),
        cites=("ideal_gas",),
        given={"volume_m3": volume_m3, "flow_m3h": flow_m3h},
        region=region,
    )


def dilution(
    evaporation_ml_min: float,
    target_ppm: float,
    substance: str | None = None,
    molar_mass_g: float | None = None,
    density_kg_l: float | None = None,
    air_c: float | None = None,
    mixing_divisor: float = 1.0,
    region: str = "us",
) -> Answer:
    """``flow_m3h`` of fresh air that holds an evaporation at ``target_ppm``."""
    given: dict[str, object] = {
        "evaporation_ml_min": evaporation_ml_min,
        "molar_mass_g": molar_mass_g,
        "density_kg_l": density_kg_l,
    }
    figures, refusal = liquid(substance, molar_mass_g, density_kg_l)
    rate = None if refusal else room_air.evaporated_l_min(evaporation_ml_min, *figures, air_c)
    flow = room_air.dilution_m3h(rate or 0.0, target_ppm, mixing_divisor)
    if refusal:
        return refused("dilution", {"flow_m3h": None}, refusal, given, region)
    level, beside, cites = beside_limits(substance, target_ppm, region)
    return answer(
        "dilution",
        {"flow_m3h": flow, "generation_l_min": rate},
        level=level,
        words=f"{said(flow)} m³/h of fresh air hold this evaporation at {target_ppm:g} ppm. For "
        f"vapours that act alike add the flows. {beside}",
        assumptions=(
            MIXED,
            ALL_EVAPORATES,
            molar_volume_words(air_c),
            "Air at the face of a booth captures; this is for a room that dilutes.",
        ),
        cites=("ideal_gas", *cites),
        given=given,
        region=region,
    )


def build_up(
    volume_m3: float,
    flow_m3h: float,
    minutes: float,
    generation_mg_min: float | None = None,
    molar_mass_g: float | None = None,
    generation_l_min: float | None = None,
    start_ppm: float = 0.0,
    mixing_divisor: float = 1.0,
    region: str = "us",
) -> Answer:
    """``ppm_end``, ``ppm_mean`` and ``ppm_steady`` (``None`` without any flow) of one room."""
    rate = generation(generation_l_min, generation_mg_min, molar_mass_g)
    result = room_air.build_up(
        volume_m3, flow_m3h, rate, minutes, start_ppm=start_ppm, divisor=mixing_divisor
    )
    endless = result.ppm_steady is None
    words = f"{said(result.ppm_end)} ppm after {minutes:g} min. {NO_LIMIT_HERE}"
    reason = "No air leaves: it rises as long as anything evaporates." if endless else None
    return answer(
        "build-up",
        {**asdict(result), "generation_l_min": rate, "reason": reason},
        level=Level.STOP if endless else Level.CANNOT_ASSESS,
        words=f"{reason} {words}" if reason else words,
        assumptions=(MIXED, "Vapour comes at an even rate.", molar_volume_words(None)),
        cites=("ideal_gas",),
        given={
            "volume_m3": volume_m3,
            "flow_m3h": flow_m3h,
            "minutes": minutes,
            "generation_mg_min": generation_mg_min,
            "generation_l_min": generation_l_min,
            "molar_mass_g": molar_mass_g,
        },
        region=region,
    )


def two_boxes(
    generation_mg_min: float,
    flow_m3_min: float,
    radius_m: float,
    air_speed_m_min: float,
    minutes: float | None = None,
    volume_m3: float | None = None,
    mixing_divisor: float = 1.0,
    region: str = "us",
) -> Answer:
    """``near_mg_m3`` and ``far_mg_m3``: in the end, or after ``minutes`` in ``volume_m3``."""
    near = two_box.hemisphere(radius_m, air_speed_m_min)
    beta = near.exchange_m3_min
    if (minutes is None) != (volume_m3 is None):
        got = "minutes without a room volume" if volume_m3 is None else "a volume without minutes"
        raise BadInput(f"two-box: got {got}, wanted both, or neither for the steady state")
    if minutes is None or volume_m3 is None:
        result = two_box.steady(generation_mg_min, flow_m3_min, beta, mixing_divisor)
    else:
        result = two_box.after(
            generation_mg_min,
            flow_m3_min,
            beta,
            near.volume_m3,
            volume_m3,
            minutes,
            mixing_divisor,
        )
    endless = result.near_mg_m3 is None
    reason = "Without air leaving it rises without end." if endless else None
    words = f"Breathing zone {_mg(result.near_mg_m3)}, rest of the room {_mg(result.far_mg_m3)}. "
    return answer(
        "two-box",
        {
            **asdict(result),
            "near_volume_m3": near.volume_m3,
            "exchange_m3_min": beta,
            "reason": reason,
        },
        level=Level.STOP if endless else Level.CANNOT_ASSESS,
        words=words + NO_LIMIT_HERE,
        assumptions=(
            "A hemisphere around the work mixes at once within itself and, by the air speed, with "
            "the room; 3 to 6 m/min is a common assumption (memory).",
            "Even generation into clean air, none captured by a booth.",
        ),
        cites=("two_box",),
        given={
            "generation_mg_min": generation_mg_min,
            "flow_m3_min": flow_m3_min,
            "radius_m": radius_m,
            "air_speed_m_min": air_speed_m_min,
            "minutes": minutes,
            "volume_m3": volume_m3,
        },
        region=region,
    )


def _mg(value: float | None) -> str:
    return "rises without end" if value is None else f"{said(value)} mg/m³"
