"""One well-mixed volume of air: build-up, decay, mean, dilution, purge.

Mass balance V dC/dt = G - Q'C with Q' = Q/K (ACGIH Industrial Ventilation, general ventilation;
K is the mixing divisor).  Flows in m³/h, volumes in m³, times in min, vapour in L/min, C in ppm.
"""

import math
from dataclasses import dataclass

from sprayout.errors import BadInput
from sprayout.safety.concentration import molar_volume_l
from sprayout.safety.given import above_zero, mixing_divisor, not_below_zero

_NEVER_CLEARS = "no air leaves, so it never clears: measure the flow with the fan running"


@dataclass(frozen=True, slots=True)
class BuildUp:
    """Concentrations in ppm; ``ppm_steady`` is ``None`` where it rises without end."""

    ppm_end: float
    ppm_mean: float
    ppm_steady: float | None


@dataclass(frozen=True, slots=True)
class Purge:
    """Time and volumes of air that a purge takes."""

    minutes: float
    air_changes: float


def vapour_l_min(mg_min: float, molar_mass_g: float, air_c: float | None = None) -> float:
    """Vapour rate in L/min from mg/min: G = m/M * V_m."""
    mass = above_zero("molar mass", molar_mass_g, "g/mol")
    rate = not_below_zero("generation", mg_min, "mg/min")
    return rate / 1000.0 / mass * molar_volume_l(air_c)


def evaporated_l_min(
    ml_min: float, density_kg_l: float, molar_mass_g: float, air_c: float | None = None
) -> float:
    """Vapour rate in L/min from liquid that evaporates, all of it: an upper bound."""
    density = above_zero("density", density_kg_l, "kg/L")
    rate = not_below_zero("evaporation", ml_min, "mL/min")
    return vapour_l_min(rate * density * 1000.0, molar_mass_g, air_c)


def air_changes_per_h(volume_m3: float, flow_m3h: float) -> float:
    """Q/V in 1/h."""
    return not_below_zero("flow", flow_m3h, "m³/h") / above_zero("volume", volume_m3, "m³")


def build_up(
    volume_m3: float,
    flow_m3h: float,
    generation_l_min: float,
    minutes: float,
    *,
    start_ppm: float = 0.0,
    supply_ppm: float = 0.0,
    divisor: float = 1.0,
) -> BuildUp:
    """Concentration after ``minutes`` of constant generation, its mean and its end value.

    C(t) = C0 e^-at + (G/V + a C_s) (1 - e^-at)/a, a = Q'/V, C_s in the fresh air; written with
    expm1 so that a flow of 0 is the plain sum C0 + G t/V.  ACGIH, contaminant build-up.
    """
    volume = above_zero("volume", volume_m3, "m³")
    flow = not_below_zero("flow", flow_m3h, "m³/h") / 60.0 / mixing_divisor(divisor)
    supplied = not_below_zero("supply air", supply_ppm, "ppm") * flow
    source = not_below_zero("generation", generation_l_min, "L/min") * 1000.0
    rise = (source + supplied) / volume  # ppm/min
    start = not_below_zero("start", start_ppm, "ppm")
    time = above_zero("minutes", minutes, "min", "say how long the coat takes")
    decay = flow / volume * time
    share = _filled(decay)
    mean_share = _filled_mean(decay)
    return BuildUp(
        ppm_end=start * math.exp(-decay) + rise * time * share,
        ppm_mean=start * share + rise * time * mean_share,
        ppm_steady=rise * volume / flow if flow > 0 else (None if rise > 0 else start),
    )


def decayed_ppm(
    volume_m3: float, flow_m3h: float, start_ppm: float, minutes: float, divisor: float = 1.0
) -> float:
    """C1 e^-at: what is left after ``minutes`` with no new vapour."""
    return build_up(volume_m3, flow_m3h, 0.0, minutes, start_ppm=start_ppm, divisor=divisor).ppm_end


def minutes_to_reach(
    volume_m3: float, flow_m3h: float, generation_l_min: float, ppm: float, divisor: float = 1.0
) -> float | None:
    """Time until clean air holds ``ppm``: -(V/Q') ln((G - Q'C)/G); ``None`` where it never does."""
    volume = above_zero("volume", volume_m3, "m³")
    flow = not_below_zero("flow", flow_m3h, "m³/h") / 60.0 / mixing_divisor(divisor)
    source = not_below_zero("generation", generation_l_min, "L/min") * 1000.0
    goal = above_zero("concentration", ppm, "ppm")
    if flow * goal >= source:
        return None
    if flow == 0:
        return goal * volume / source
    return -volume / flow * math.log1p(-flow * goal / source)


def purge(
    volume_m3: float, flow_m3h: float, from_ppm: float, to_ppm: float, divisor: float = 1.0
) -> Purge:
    """Minutes to bring the air from one concentration to a lower one: (V/Q') ln(C1/C2).

    ``air_changes`` is the air moved in that time in room volumes.  ACGIH, rate of purging.
    """
    volume = above_zero("volume", volume_m3, "m³")
    flow = above_zero("flow", flow_m3h, "m³/h", _NEVER_CLEARS)
    k = mixing_divisor(divisor)
    start = above_zero("from", from_ppm, "ppm", "say where the purge starts")
    end = above_zero("to", to_ppm, "ppm", "air thins out but never reaches 0; name a low value")
    if end > start:
        raise BadInput(
            f"to: got {end:g} ppm, wanted at most the {start:g} ppm it starts from; swap them"
        )
    folds = math.log(start / end)
    return Purge(minutes=60.0 * volume / flow * k * folds, air_changes=k * folds)


def dilution_m3h(
    generation_l_min: float, target_ppm: float, divisor: float = 1.0, supply_ppm: float = 0.0
) -> float:
    """Fresh air that holds a vapour rate at ``target_ppm``: Q = K G / (C - C_supply).

    ACGIH's dilution formula; add the flows of vapours that act alike, else take the largest.
    """
    target = above_zero("target", target_ppm, "ppm", "name the limit from the data sheet")
    rate = not_below_zero("generation", generation_l_min, "L/min")
    room = target - not_below_zero("supply air", supply_ppm, "ppm")
    if room <= 0:
        raise BadInput(
            f"supply air: got {supply_ppm:g} ppm, wanted less than the target of {target:g} ppm; "
            "no flow of such air reaches it"
        )
    return mixing_divisor(divisor) * rate / room * 1e6 * 60.0 / 1000.0


def _filled(x: float) -> float:
    """(1 - e^-x)/x, and 1 at 0."""
    return -math.expm1(-x) / x if x > 0 else 1.0


def _filled_mean(x: float) -> float:
    """(1 - (1 - e^-x)/x)/x, and 1/2 at 0; by its series where the difference would cancel."""
    if x < 1e-3:
        return 0.5 - x / 6.0 + x * x / 24.0 - x**3 / 120.0
    return (1.0 - _filled(x)) / x
