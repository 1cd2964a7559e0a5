"""The booth in a JSON request: its size, where its air goes, and how its flow is known."""

from collections.abc import Mapping

from sprayout.errors import BadInput
from sprayout.safety.booth import Booth, FlowBasis, flow_from_face_m3h
from sprayout.safety.fan import RATING_SHARE, FanCurve, Resistance, delivered_m3h, from_rating_m3h
from sprayout.safety.given import above_zero, not_below_zero
from sprayout.safety.json_fields import number_of, only, part

_FLOWS = ("flow_m3h", "face_m_s", "fan", "rating_m3h")


def parse_booth(given: Mapping[str, object]) -> Booth | None:
    """A booth; ``None`` where nothing at all is given.

    ``{"width_m","height_m","volume_m3","exhaust","crossdraft_m_s"}`` and at most one of
    ``flow_m3h`` (delivered, measured), ``face_m_s`` (measured over the face), ``fan`` (its curve
    against duct and filter, see ``_from_fan``; ``filter_loading`` may stand beside it) and
    ``rating_m3h`` (the figure on the box, counted at ``rating_share``).
    """
    numbers = ("width_m", "height_m", "volume_m3", "crossdraft_m_s")
    only(given, (*numbers, "exhaust", *_FLOWS, "filter_loading", "rating_share"), "booth")
    width, height, volume, crossdraft = (number_of(given, n, "booth") for n in numbers)
    exhaust = given.get("exhaust")
    if exhaust not in (None, "ducted", "recirculating"):
        raise BadInput(
            f"booth exhaust: got {exhaust!r}, wanted ducted, recirculating or null; look where the "
            "air goes"
        )
    if all(value is None for value in given.values()):
        return None
    width = None if width is None else above_zero("booth width_m", width, "m")
    height = None if height is None else above_zero("booth height_m", height, "m")
    flow, basis = _flow(given, width, height)
    face = number_of(given, "face_m_s", "booth")
    return Booth(
        width,
        height,
        None if volume is None else above_zero("booth volume_m3", volume, "m³"),
        flow,
        exhaust,
        None if crossdraft is None else not_below_zero("booth crossdraft_m_s", crossdraft, "m/s"),
        basis,
        None if face is None else not_below_zero("booth face_m_s", face, "m/s"),
    )


def _flow(
    given: Mapping[str, object], width_m: float | None, height_m: float | None
) -> tuple[float | None, FlowBasis]:
    """Delivered flow in m³/h and its basis; two bases at once are refused."""
    named = [name for name in _FLOWS if given.get(name) is not None]
    if len(named) > 1:
        raise BadInput(f"booth: got {' and '.join(named)}, wanted one; keep the measured one")
    fan, loading = part(given, "fan"), number_of(given, "filter_loading", "booth")
    share = number_of(given, "rating_share", "booth")
    _belongs(fan, loading, "filter_loading", "the fan's curve")
    rating = number_of(given, "rating_m3h", "booth")
    _belongs(rating, share, "rating_share", "rating_m3h")
    if fan is not None:
        return _from_fan(fan, loading), "fan curve"
    if rating is not None:
        return from_rating_m3h(rating, RATING_SHARE if share is None else share), "rating"
    face = number_of(given, "face_m_s", "booth")
    if face is not None:
        if width_m is None or height_m is None:
            return None, "face"
        return flow_from_face_m3h(face, width_m, height_m), "face"
    flow = number_of(given, "flow_m3h", "booth")
    return (None if flow is None else not_below_zero("booth flow_m3h", flow, "m³/h")), "measured"


def _belongs(of: object, value: float | None, name: str, what: str) -> None:
    if value is not None and of is None:
        raise BadInput(f"booth {name}: got {value:g} without {what}; give both or leave it out")


def _from_fan(fan: Mapping[str, object], filter_loading: float | None) -> float:
    """m³/h of ``{"curve": [[m³/h, Pa]…], "at_flow_m3h", "duct_pa", "clean_filter_pa"}``.

    ``filter_loading`` (2 where not given: fans are sized on dirty filters) multiplies the filter.
    """
    names = ("at_flow_m3h", "duct_pa", "clean_filter_pa")
    only(fan, ("curve", *names, "filter_loading"), "fan")
    curve = fan.get("curve")
    if not isinstance(curve, list | tuple) or not all(_is_pair(point) for point in curve):
        raise BadInput(f"fan curve: got {curve!r}, wanted a list of [m³/h, Pa]; read it off")
    known = [number_of(fan, name, "fan") for name in names]
    missing = [name for name, value in zip(names, known, strict=True) if value is None]
    if missing:
        raise BadInput(f"fan: {missing[0]} is missing, wanted a number; measure it or ask")
    at_flow, duct, clean = (value for value in known if value is not None)
    inside = number_of(fan, "filter_loading", "fan")
    if inside is not None and filter_loading is not None:
        raise BadInput("booth: got filter_loading twice, wanted it once; keep the one beside fan")
    loading = filter_loading if inside is None else inside
    resistance = Resistance(at_flow, duct, clean, 2.0 if loading is None else loading)
    return delivered_m3h(FanCurve(tuple((float(q), float(p)) for q, p in curve)), resistance)


def _is_pair(point: object) -> bool:
    return (
        isinstance(point, list | tuple)
        and len(point) == 2
        and all(isinstance(v, int | float) and not isinstance(v, bool) for v in point)
    )
