"""The unit file of contract 3: JSON objects <-> :class:`~sprayout.colour.unit.Unit`."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from typing import Any, cast

import numpy as np

from sprayout.colour.noise import NoiseModel
from sprayout.colour.tristimulus import Lab, Spectrum
from sprayout.colour.unit import COLOUR_CHANNELS, Patch, Sensor, Unit
from sprayout.errors import BadInput


def parse_unit(given: object) -> Unit:
    """A unit from its JSON object; ``BadInput`` names the field that is wrong."""
    unit = _object(given, "unit")
    sensor = unit.get("sensor")
    if sensor not in COLOUR_CHANNELS:
        raise BadInput(
            f"unit, sensor: got {sensor!r}, wanted {' or '.join(COLOUR_CHANNELS)}; "
            "name the kind of the chip"
        )
    channels = unit.get("channels")
    if not isinstance(channels, list) or not all(isinstance(name, str) for name in channels):
        raise BadInput("unit, channels: wanted a list of channel names, such as f1 to f8")
    patches = unit.get("patches", [])
    if not isinstance(patches, list):
        raise BadInput("unit, patches: wanted a list (it may be empty)")
    full_scale = unit.get("full_scale")
    return Unit(
        cast(Sensor, sensor),
        tuple(channels),
        _positive(unit.get("gain"), "unit, gain"),
        _positive(unit.get("integration_ms"), "unit, integration_ms"),
        _numbers(unit.get("dark"), "unit, dark"),
        _patch(unit.get("white"), "white tile", "white tile"),
        tuple(_patch(item, f"patch {i + 1}") for i, item in enumerate(patches)),
        None if full_scale is None else _positive(full_scale, "unit, full_scale"),
        None if unit.get("noise") is None else _noise(unit["noise"]),
    )


def unit_to_json(unit: Unit) -> dict[str, Any]:
    """The JSON object of a unit; :func:`parse_unit` takes it back unchanged."""
    made: dict[str, Any] = {
        "sensor": unit.sensor,
        "channels": list(unit.channels),
        "gain": unit.gain,
        "integration_ms": unit.integration_ms,
        "dark": list(unit.dark),
        "white": _patch_to_json(unit.white),
        "patches": [_patch_to_json(patch) for patch in unit.patches],
    }
    if unit.full_scale is not None:
        made["full_scale"] = unit.full_scale
    if unit.noise is not None:
        made["noise"] = dataclasses.asdict(unit.noise)
    return made


def _noise(given: object) -> NoiseModel:
    item = _object(given, "unit, noise")
    parts = ("share", "root", "floor")
    return NoiseModel(*(_positive(item.get(part), f"unit, noise, {part}") for part in parts))


def _patch_to_json(patch: Patch) -> dict[str, Any]:
    made: dict[str, Any] = {"name": patch.name, "counts": list(patch.counts)}
    if patch.spectrum is not None:
        made["wavelength_nm"] = list(patch.spectrum.wavelength_nm)
        made["reflectance"] = list(patch.spectrum.reflectance)
    if patch.lab_d50_2 is not None:
        made["lab_d50_2"] = list(patch.lab_d50_2)
    return made


def _patch(given: object, what: str, name: str | None = None) -> Patch:
    item = _object(given, what)
    named = item.get("name", name or what)
    if not isinstance(named, str) or not named:
        raise BadInput(f"{what}, name: got {named!r}, wanted a text")
    where = what if name else f"patch {named}"
    spectrum = None
    if item.get("reflectance") is not None:
        spectrum = Spectrum(
            _numbers(item.get("wavelength_nm"), f"{where}, wavelength_nm"),
            _numbers(item.get("reflectance"), f"{where}, reflectance"),
        )
    return Patch(
        named, _numbers(item.get("counts"), f"{where}, counts"), spectrum, _lab(item, where)
    )


def _lab(item: Mapping[str, Any], where: str) -> Lab | None:
    if item.get("lab_d50_2") is None:
        return None
    values = _numbers(item["lab_d50_2"], f"{where}, lab_d50_2")
    if len(values) != 3:
        raise BadInput(f"{where}, lab_d50_2: got {len(values)} numbers, wanted L, a, b")
    return values[0], values[1], values[2]


def _object(given: object, what: str) -> Mapping[str, Any]:
    if not isinstance(given, Mapping):
        raise BadInput(
            f"{what}: got {_kind(given)}, wanted a JSON object; see `sprayout convert --help`"
        )
    return given


def _kind(given: object) -> str:
    return "nothing" if given is None else f"a {type(given).__name__}"


def _numbers(given: object, what: str) -> tuple[float, ...]:
    if not isinstance(given, list | tuple) or not given:
        raise BadInput(f"{what}: got {_kind(given)}, wanted a list of numbers")
    wrong = [v for v in given if isinstance(v, bool) or not isinstance(v, int | float)]
    if wrong:
        raise BadInput(f"{what}: got {wrong[0]!r}, wanted only numbers")
    values = tuple(float(v) for v in given)
    if not np.all(np.isfinite(values)):
        raise BadInput(f"{what}: holds a value that is not a finite number; measure it again")
    return values


def _positive(given: object, what: str) -> float:
    if isinstance(given, bool) or not isinstance(given, int | float) or not 0 < given < 1e9:
        raise BadInput(f"{what}: got {given!r}, wanted a number above 0")
    return float(given)
