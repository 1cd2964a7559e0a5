"""What a fan delivers: its curve against duct and filter, not the figure on the box."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from sprayout.errors import BadInput
from sprayout.safety.given import above_zero, fraction, not_below_zero

RATING_SHARE = 0.5
"""Share of a free-air rating counted where nothing better is known (project choice, no source)."""

Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class FanCurve:
    """Points (flow m³/h, pressure Pa) from the maker's sheet: flow rising, pressure falling."""

    points: tuple[Point, ...]

    def __post_init__(self) -> None:
        flows = [not_below_zero("fan curve flow", flow, "m³/h") for flow, _ in self.points]
        lifts = [not_below_zero("fan curve pressure", lift, "Pa") for _, lift in self.points]
        if len(self.points) < 2 or flows[0] != 0 or lifts[-1] != 0:
            raise BadInput(
                f"fan curve: got {len(self.points)} points, wanted two or more, from flow 0 "
                "(shut) to pressure 0 (free air); read them off the maker's curve"
            )
        if sorted(set(flows)) != flows or sorted(lifts, reverse=True) != lifts:
            raise BadInput(
                "fan curve: got points out of order, wanted flow rising and pressure never "
                "rising; read them off the maker's curve from left to right"
            )


@dataclass(frozen=True, slots=True)
class Resistance:
    """Pressure lost in duct and clean filter at one known flow; both grow with its square.

    ``filter_loading`` multiplies the filter's loss: 1 clean, 2 at a usual change.
    """

    at_flow_m3h: float
    duct_pa: float
    clean_filter_pa: float
    filter_loading: float = 1.0

    def pascal(self, flow_m3h: float) -> float:
        """Loss at another flow: k Q² (turbulent duct flow; close enough for a paint filter)."""
        loading = above_zero("filter loading", self.filter_loading)
        if loading < 1:
            raise BadInput(
                f"filter loading: got {loading:g}, wanted 1 (clean) or more; 2 is twice the clean "
                "filter's pressure"
            )
        known = above_zero("flow of the known loss", self.at_flow_m3h, "m³/h")
        clean = not_below_zero("filter loss", self.clean_filter_pa, "Pa")
        total = not_below_zero("duct loss", self.duct_pa, "Pa") + clean * loading
        return total * (flow_m3h / known) ** 2


def delivered_m3h(curve: FanCurve, resistance: Resistance) -> float:
    """The flow at which the fan's pressure equals the loss, by halving: within 1e-6 m³/h."""
    low, high = 0.0, curve.points[-1][0]
    while high - low > 1e-6:
        middle = (low + high) / 2.0
        if _lift_pa(curve.points, middle) > resistance.pascal(middle):
            low = middle
        else:
            high = middle
    return low


def from_rating_m3h(rating_m3h: float, share: float = RATING_SHARE) -> float:
    """A free-air rating cut to the share assumed behind filter and duct; measure instead."""
    return not_below_zero("fan rating", rating_m3h, "m³/h") * fraction("share", share)


def _lift_pa(points: Sequence[Point], flow: float) -> float:
    for (q0, p0), (q1, p1) in pairwise(points):
        if flow <= q1:
            return p0 + (p1 - p0) * (flow - q0) / (q1 - q0)
    return 0.0
