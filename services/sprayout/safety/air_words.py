"""An answer of ``sprayout air`` as text for a person: level, words, figures, sources, cautions."""

from collections.abc import Mapping

from sprayout.safety.air_answers import Answer
from sprayout.safety.wording import said

_AROUND = {
    "kind", "reason", "level", "words", "asks", "assumptions", "cautions", "sources", "region",
    "order_of_authority", "reminders",
    # said in words by a field beside them
    "limit_ppm", "cap_ppm", "index_at_least",
}  # fmt: skip

_UNITS = {
    "percent_of_lel_with_mist": "% of the lower explosive limit",
    "percent_of_lel": "% of the lower explosive limit",
    "mg_m3": "mg/m³",
    "m3_min": "m³/min",
    "m3h": "m³/h",
    "l_min": "L/min",
    "m_s": "m/s",
    "m3": "m³",
    "ppm": "ppm",
    "pct": "%",
    "fpm": "fpm",
    "mmhg": "mmHg",
    "per_h": "an hour",
    "minutes": "min",
    "hours": "h",
    "kg_l": "kg/L",
    "g": "g",
    "c": "°C",
}
"""Endings of field names and their unit, the longer ones first where one ends in another."""

_LABELS = {
    "m_s": "face velocity",
    "fpm": "face velocity",
    "ppm": "concentration",
    "percent_of_lel": "as vapour",
    "percent_of_lel_with_mist": "with the mist",
    "minutes": "time",
    "hours": "cartridge life",
    "lel_pct": "lower explosive limit",
    "what": "sort",
}
_OVER = {"8h": "over 8 h", "15min": "over 15 min", "ceiling": "as a ceiling"}


def air_words(found: Answer) -> str:
    """The whole answer in lines, the cautions at its end."""
    level, words = str(found["level"]), str(found["words"])
    lines = [words if words.lower().startswith(level) else f"{level.upper()}: {words}"]
    lines += [line for name in found if name not in _AROUND for line in _lines(name, found[name])]
    lines += [f"  please check: {words}" for words in _list(found["asks"])]
    lines += [f"  remember: {words}" for words in _list(found.get("reminders"))]
    lines += [f"  taken for granted: {words}" for words in _list(found["assumptions"])]
    lines += [
        f"  source: {entry['title']} ({entry['mark']}) {entry['address']}".rstrip()
        for entry in _list(found["sources"])
    ]
    return "\n".join([*lines, "", *(entry["words"] for entry in _list(found["cautions"]))])


def _lines(name: str, value: object, indent: str = "  ") -> list[str]:
    """One figure a line; lists and objects indented below their name."""
    if isinstance(value, Mapping) and not _has_shape(value):
        inner = [line for key, item in value.items() for line in _lines(key, item, indent + "  ")]
        return [f"{indent}{_label(name)}:", *inner]
    if isinstance(value, list) and value and isinstance(value[0], Mapping):
        return [f"{indent}{_label(name)}:", *(f"{indent}  - {_short(item)}" for item in value)]
    bare = isinstance(value, int | float) and not isinstance(value, bool)
    shown = f"{_short(value)} {_unit(name)}".rstrip() if bare else _short(value)
    return [f"{indent}{_label(name)}: {shown}"]


def _short(value: object) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if value is None or value == []:
        return "none"
    if isinstance(value, Mapping):
        return _shaped(value)
    if isinstance(value, list):
        return ", ".join(map(str, value))
    return said(value) if isinstance(value, float) else str(value)


def _has_shape(item: Mapping[str, object]) -> bool:
    return not {"title", "unit", "body", "class", "rule"}.isdisjoint(item)


def _shaped(item: Mapping[str, object]) -> str:
    """One source, figure, limit, respirator class or rule in a line."""
    if "title" in item:
        return f"{item['title']} ({item['mark']})"
    if "unit" in item:
        return f"{_short(item['value'])} {item['unit']}, {_short(item['source'])}"
    if "body" in item:
        return _limit(item)
    if "class" in item:
        fit = "needs a seal to the face" if item["tight_fitting"] else "loose-fitting"
        factor, up_to = _short(item["assigned_factor"]), _short(item["covers_ppm"])
        return f"{item['class']}: factor {factor}, to {up_to} ppm, {fit}"
    high = "" if item["high_m_s"] is None else f" to {_short(item['high_m_s'])}"
    return f"{_short(item['low_m_s'])}{high} m/s, {item['condition']}: {item['rule']}"


def _limit(item: Mapping[str, object]) -> str:
    pair = [(item["ppm"], "ppm"), (item["mg_m3"], "mg/m³")]
    value = ", ".join(f"{_short(amount)} {unit}" for amount, unit in pair if amount is not None)
    note = f"; {item['note']}" if item["note"] else ""
    where = f"{str(item['region']).upper()}, {item['body']}"
    mark = "" if item["mark"] == "read" else f" ({item['mark']})"
    return f"{where}: {value} {_OVER[str(item['period'])]}{mark}{note}"


def _unit(name: str) -> str:
    return _UNITS.get(_ending(name), "")


def _label(name: str) -> str:
    """The field's name for a person, its unit taken off the end."""
    stem = _LABELS.get(name) or name.removesuffix(_ending(name)).strip("_") or name
    return stem.replace("_", " ")


def _ending(name: str) -> str:
    return next((end for end in _UNITS if name == end or name.endswith(f"_{end}")), "")


def _list(value: object) -> list[dict[str, str]]:
    return value if isinstance(value, list) else []
