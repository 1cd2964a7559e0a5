"""Near field and far field: what the person at the booth breathes against the rest of the room.

Two well-mixed boxes with an exchange flow beta between them (Nicas; AIHA, Mathematical Models
for Estimating Occupational Exposure):

    V_N dC_N/dt = G + beta (C_F - C_N)
    V_F dC_F/dt = beta (C_N - C_F) - Q C_F

G in mg/min, Q and beta in m³/min, C in mg/m³, starting from clean air.
"""

import math
from dataclasses import dataclass

from sprayout.errors import BadInput
from sprayout.safety.given import above_zero, mixing_divisor, not_below_zero
from sprayout.safety.wording import said


@dataclass(frozen=True, slots=True)
class NearField:
    """A hemisphere of air around the work: its volume and its exchange with the room."""

    volume_m3: float
    surface_m2: float
    exchange_m3_min: float


@dataclass(frozen=True, slots=True)
class TwoBox:
    """mg/m³ in both boxes; ``None`` where it rises without end."""

    near_mg_m3: float | None
    far_mg_m3: float | None


def hemisphere(radius_m: float, air_speed_m_min: float) -> NearField:
    """V = 2/3 pi r³, surface 2 pi r², exchange = surface * speed / 2 (half in, half out)."""
    radius = above_zero("radius", radius_m, "m")
    speed = not_below_zero("air speed", air_speed_m_min, "m/min")
    surface = 2.0 * math.pi * radius**2
    return NearField(2.0 / 3.0 * math.pi * radius**3, surface, surface * speed / 2.0)


def steady(
    generation_mg_min: float, flow_m3_min: float, exchange_m3_min: float, divisor: float = 1.0
) -> TwoBox:
    """C_F = G/Q, C_N = G/Q + G/beta."""
    rate = not_below_zero("generation", generation_mg_min, "mg/min")
    flow = not_below_zero("flow", flow_m3_min, "m³/min") / mixing_divisor(divisor)
    exchange = not_below_zero("exchange", exchange_m3_min, "m³/min")
    if rate == 0:
        return TwoBox(0.0, 0.0)
    far = rate / flow if flow > 0 else None
    if exchange == 0:  # nothing crosses: the far field stays clean, the near field fills
        return TwoBox(None, 0.0 if flow > 0 else None)
    return TwoBox(None if far is None else far + rate / exchange, far)


def after(
    generation_mg_min: float,
    flow_m3_min: float,
    exchange_m3_min: float,
    near_m3: float,
    room_m3: float,
    minutes: float,
    divisor: float = 1.0,
) -> TwoBox:
    """Both concentrations after ``minutes``; ``room_m3`` is the whole room, near field included.

    The closed form integrates the two exponentials with expm1, so a room without exchange or
    without ventilation needs no special case beyond the slow root being 0.
    """
    rate = not_below_zero("generation", generation_mg_min, "mg/min")
    flow = not_below_zero("flow", flow_m3_min, "m³/min") / mixing_divisor(divisor)
    beta = not_below_zero("exchange", exchange_m3_min, "m³/min")
    near = above_zero("near field", near_m3, "m³")
    far = _far_m3(room_m3, near)
    time = not_below_zero("minutes", minutes, "min")
    if beta == 0:
        return TwoBox(rate * time / near, 0.0)
    slow, fast = _roots(flow, beta, near, far)
    slow_sum, fast_sum = _integral(slow, time), _integral(fast, time)
    out_of_near = -beta / near
    spread = slow - fast
    near_sum = ((out_of_near - fast) * slow_sum - (out_of_near - slow) * fast_sum) / spread
    far_sum = beta / far * (slow_sum - fast_sum) / spread
    return TwoBox(rate / near * near_sum, rate / near * far_sum)


def _far_m3(room_m3: float, near_m3: float) -> float:
    room = above_zero("room volume", room_m3, "m³")
    if room <= near_m3:
        raise BadInput(
            f"room volume: got {room:g} m³, wanted more than the near field's {said(near_m3)} m³; "
            "give the whole room, or a smaller radius"
        )
    return room - near_m3


def _roots(flow: float, beta: float, near: float, far: float) -> tuple[float, float]:
    """The two decay rates, both <= 0; the slow one from the product so that nothing cancels."""
    near_rate, far_rate = beta / near, (beta + flow) / far
    spread = math.sqrt((near_rate - far_rate) ** 2 + 4.0 * beta**2 / (near * far))
    fast = -(near_rate + far_rate + spread) / 2.0
    product = beta * flow / (near * far)
    return product / fast, fast


def _integral(rate: float, time: float) -> float:
    """The integral of e^(rate s) over 0..time."""
    return math.expm1(rate * time) / rate if rate != 0 else time
