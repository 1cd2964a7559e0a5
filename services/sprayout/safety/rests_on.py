"""What an assessment rests on, in words: cup, coat, booth, room and region as they were given."""

from collections.abc import Mapping

from sprayout.safety.wording import said

_REGIONS = {
    "us": "US limits: OSHA, NIOSH, ACGIH",
    "uk": "UK limits: HSE EH40",
    "eu": "EU limits: indicative and binding values",
}
_BOOTH = {
    "width_m": "{:g} m wide",
    "height_m": "{:g} m high",
    "volume_m3": "{:g} m³",
    "flow_m3h": "{:g} m³/h measured",
    "face_m_s": "{:g} m/s measured over the face",
    "rating_m3h": "fan rated {:g} m³/h",
    "rating_share": "of which {:.0%} is counted",
    "filter_loading": "filter at {:g} times its clean pressure",
    "crossdraft_m_s": "crossdraft {:g} m/s",
}
_ROOM = {
    "volume_m3": "{:g} m³",
    "fresh_air_m3h": "{:g} m³/h of fresh air of its own",
    "mixing_divisor": "mixing divisor {:g}",
    "escape_share": "{:.0%} of the vapour passes you",
    "near_radius_m": "breathing zone of {:g} m",
    "air_speed_m_min": "its air at {:g} m/min",
}
_COAT = {
    "sprayed_ml": "{:g} mL sprayed",
    "minutes": "in {:g} min",
    "coats": "{} coats of it",
}


def rests_on(given: Mapping[str, object], region: str) -> list[dict[str, str]]:
    """One ``{"title", "words"}`` each; what was not given says so."""
    booth = _said(given.get("booth"), _BOOTH)
    return [
        {"title": "Cup", "words": _cup(given.get("product"))},
        {"title": "Coat", "words": _said(given.get("coat"), _COAT) or _NOT},
        {"title": "Booth", "words": _joined(booth, _exhaust(given.get("booth"))) or _NOT},
        {"title": "Room", "words": _said(given.get("room"), _ROOM) or _NOT},
        {"title": "Region", "words": _REGIONS.get(region.strip().lower(), region)},
    ]


_NOT = "not entered"


def _said(part: object, words: Mapping[str, str]) -> str:
    if not isinstance(part, Mapping):
        return ""
    there = ((text, part.get(name)) for name, text in words.items())
    return ", ".join(text.format(value) for text, value in there if value is not None)


def _exhaust(booth: object) -> str:
    if not isinstance(booth, Mapping):
        return ""
    fan = "flow by the fan's curve" if booth.get("fan") else ""
    return _joined(fan, str(booth.get("exhaust") or "exhaust not known"))


def _joined(*words: str) -> str:
    return ", ".join(word for word in words if word)


def _cup(product: object) -> str:
    if not isinstance(product, Mapping):
        return "empty, or no cup in hand"
    name = str(product.get("name") or "unnamed")
    bottles = product.get("bottles")
    if isinstance(bottles, list | tuple):
        parts = [_bottle(b) for b in bottles if isinstance(b, Mapping)]
        return f"{name}: {', '.join(parts)}"
    return name


def _bottle(bottle: Mapping[str, object]) -> str:
    millilitres = bottle.get("ml")
    amount = f"{said(millilitres)} mL " if isinstance(millilitres, int | float) else ""
    return f"{amount}{bottle.get('name') or 'unnamed bottle'}"
