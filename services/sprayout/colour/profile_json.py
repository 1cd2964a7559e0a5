"""A profile as the journal keeps it: the raw calibration and the formula it was read with.

The map itself is not kept: it follows from the raw counts, and a newer formula gives a better one
from the same record.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from sprayout.colour.profile import UnitProfile, build_profile
from sprayout.colour.unit_json import parse_unit, unit_to_json
from sprayout.errors import BadInput


def profile_to_json(profile: UnitProfile) -> dict[str, Any]:
    """The record of a profile."""
    return {"formula_version": profile.formula_version, "unit": unit_to_json(profile.unit)}


def profile_from_json(given: object) -> UnitProfile:
    """The profile of a record, by today's formula (its ``formula_version`` says which)."""
    if not isinstance(given, Mapping) or "unit" not in given:
        raise BadInput("profile: wanted a JSON object with its unit; calibrate the unit again")
    return build_profile(parse_unit(given["unit"]))
