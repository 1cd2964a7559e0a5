"""Salt checks and corrections as JSON, for command line, web and journal."""

import math
from collections.abc import Mapping
from dataclasses import asdict
from typing import Any

from sprayout.climate.salts import Correction, SaltPoint, humidity_over
from sprayout.errors import BadInput

_POINT_FIELDS = ("salt", "t_c", "read_pct", "minutes")


def parse_salt_points(values: Any) -> tuple[SaltPoint, ...]:
    """Points from ``[{"salt","t_c","read_pct","minutes"}…]``."""
    if not isinstance(values, list):
        raise BadInput(f"points: got {values!r}, wanted a list of salt points; see the manual")
    return tuple(_point(value) for value in values)


def parse_salt_point(text: str) -> SaltPoint:
    """Read ``SALT=READ@T/MINUTES``, as ``NaCl=77.1@21.5/240``."""
    salt, _, rest = text.partition("=")
    read, _, rest = rest.partition("@")
    t_c, _, minutes = rest.partition("/")
    values = dict(zip(_POINT_FIELDS, (salt, t_c, read, minutes), strict=True))
    if not all(values.values()):
        raise BadInput(f"point: got {text!r}, wanted SALT=READ@T/MINUTES, as NaCl=77.1@21.5/240")
    return _point(values)


def _point(value: Any) -> SaltPoint:
    if not isinstance(value, Mapping) or set(value) != set(_POINT_FIELDS):
        raise BadInput(f"point: got {value!r}, wanted {', '.join(_POINT_FIELDS)}; correct it")
    numbers = {name: _number(name, value[name]) for name in _POINT_FIELDS[1:]}
    return SaltPoint(salt=str(value["salt"]), **numbers)


def _number(name: str, value: Any) -> float:
    try:
        number = math.nan if isinstance(value, bool) else float(value)
    except (TypeError, ValueError):
        number = math.nan
    if not math.isfinite(number):
        raise BadInput(f"{name}: got {value!r}, wanted a number; correct it")
    return number


def correction_to_json(found: Correction) -> dict[str, Any]:
    """A correction to store; :func:`parse_correction` takes it back."""
    return {"kind": "probe_correction", **asdict(found), "words": found.words()}


def parse_correction(values: Mapping[str, Any]) -> Correction:
    """A stored correction."""
    try:
        return Correction(
            probe=str(values["probe"]),
            at_ms=int(values["at_ms"]),
            offset_pct=_number("offset_pct", values["offset_pct"]),
            gain=_number("gain", values["gain"]),
            low_pct=_number("low_pct", values["low_pct"]),
            high_pct=_number("high_pct", values["high_pct"]),
            uncertainty_pct=_number("uncertainty_pct", values["uncertainty_pct"]),
            points=parse_salt_points(list(values["points"])),
        )
    except (KeyError, TypeError) as cause:
        raise BadInput(
            f"probe correction: {cause} is missing or of the wrong kind; check over a salt again"
        ) from cause


def point_words(point: SaltPoint) -> str:
    """One point beside what the salt stands at."""
    truth = humidity_over(point.salt, point.t_c)
    return (
        f"{truth.salt} at {point.t_c:g} °C stands at {truth.rh_pct:.1f} ± "
        f"{truth.uncertainty_pct:.1f} %RH ({truth.source}); the probe reads {point.read_pct:g}"
    )
