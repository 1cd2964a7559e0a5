"""Colours worked out again from the counts on record, after the way to Lab has improved.

The counts, the ambient light and the calibration's own raw readings are on record, so a swatch's
colour can be had again by the formula of today.  What it was said to be is kept beside it
(``FormerColour``).  A target that was measured keeps the Lab it was set with: what was agreed on
does not move by itself.  A radius never becomes narrower than what the measurement itself showed:
scatter of repeats and spread of placements are in the old one and not in the mean counts.

Looks at the check tile are left as they are, for each is judged against the first of its
calibration.  So are the spectra that were copied into a paint's details: what the shelf knows of a
paint goes by the swatch as it was measured then.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from sprayout.acts.bench import Bench
from sprayout.acts.calibrating import CHECK_NOTE
from sprayout.acts.matching import Matching
from sprayout.bench.judged_colour import lab_of
from sprayout.colour.difference import ciede2000
from sprayout.colour.profile import BANDS_NM, FORMULA_VERSION, UnitProfile
from sprayout.colour.profile_json import profile_from_json
from sprayout.errors import BadInput, CalibrationRefused
from sprayout.journal.reader import Reader
from sprayout.journal.records import Calibration, FormerColour, Lab, Record, Swatch, Target

#: A swatch of before this was kept is a mean of so many readings.
USUAL_REPEATS = 4


@dataclass(frozen=True, slots=True)
class Reworked:
    """One swatch before and after; ``moved_de00`` between the two."""

    swatch: Swatch
    former: FormerColour
    moved_de00: float | None


@dataclass(frozen=True, slots=True)
class Rework:
    """What was worked out again, and what could not be: swatch id and the reason."""

    done: tuple[Reworked, ...]
    left: tuple[tuple[str, str], ...]

    def records(self) -> list[Record]:
        """All that is to be put on record, the former colour first."""
        return [record for one in self.done for record in (one.former, one.swatch)]


def rework_to_json(found: Rework) -> dict[str, Any]:
    """Return each swatch before and after, and why the others were left as they are."""
    return {
        "formula": FORMULA_VERSION,
        "done": [_reworked_json(one) for one in found.done],
        "left": [{"id": key, "reason": reason} for key, reason in found.left],
    }


def _reworked_json(one: Reworked) -> dict[str, Any]:
    was, moved = one.former, one.moved_de00
    return {
        "id": one.swatch.id,
        "lab": _rounded(one.swatch.lab),
        "u95_de00": one.swatch.u95_de00,
        "was": {"lab": _rounded(was.lab), "u95_de00": was.u95_de00, "formula": was.formula},
        "moved_de00": None if moved is None else round(moved, 2),
    }


def _rounded(lab: Lab | None) -> list[float] | None:
    return None if lab is None else [round(float(value), 2) for value in lab]


Profiles = dict[str, UnitProfile | str]


def outdated(swatches: Sequence[Swatch]) -> list[Swatch]:
    """Return the swatches that another formula than today's made, but for the check tile's."""
    own = [swatch for swatch in swatches if not swatch.note.startswith(CHECK_NOTE)]
    return [swatch for swatch in own if swatch.formula != FORMULA_VERSION]


def rework(
    reader: Reader,
    swatches: Sequence[Swatch],
    profiles: Profiles,
    now_ms: int,
    new_id: Callable[[str], str],
) -> Rework:
    """Work out swatches again; `profiles` by calibration id, or why there is none."""
    done: list[Reworked] = []
    left: list[tuple[str, str]] = []
    for swatch in outdated(swatches):
        profile = profiles.get(swatch.calibration or "", "its calibration is not on record")
        try:
            if isinstance(profile, str):
                raise BadInput(profile)
            done.append(_again(reader, swatch, profile, now_ms, new_id))
        except BadInput as error:
            left.append((swatch.id, str(error)))
    return Rework(tuple(done), tuple(left))


def calibrations_of(reader: Reader, swatches: Sequence[Swatch]) -> list[Calibration]:
    """Return the calibrations that the swatches were made with, as far as they are on record."""
    wanted = dict.fromkeys(s.calibration for s in outdated(swatches) if s.calibration)
    found = (reader.get(Calibration, key) for key in wanted)
    return [calibration for calibration in found if calibration is not None]


def rebuilt(calibration: Calibration) -> UnitProfile | str:
    """Return the profile of a calibration by the formula of today, or why there is none."""
    try:
        return profile_from_json(calibration.unit)
    except (BadInput, CalibrationRefused) as error:
        return f"calibration {calibration.id}: {error}"


def _again(
    reader: Reader,
    swatch: Swatch,
    profile: UnitProfile,
    now_ms: int,
    new_id: Callable[[str], str],
) -> Reworked:
    missing = [name for name in profile.unit.channels if name not in swatch.channels]
    if missing or len(swatch.counts) != len(swatch.channels):
        raise BadInput(f"counts of {', '.join(missing) or 'its channels'} are not on record")
    if not swatch.ambient:
        # The counts hold the room's light; without it on record it cannot be taken off.
        raise BadInput("its ambient light is not on record")
    order = [swatch.channels.index(name) for name in profile.unit.channels]
    counts, ambient = np.array(swatch.counts)[order], np.array(swatch.ambient)[order]
    repeats = swatch.repeats or USUAL_REPEATS
    (found,) = profile.estimate(counts, ambient=ambient, repeats=repeats)
    lab = lab_of(found, swatch.white)
    target = reader.get(Target, swatch.target) if swatch.target else None
    former = FormerColour(
        id=new_id("former"),
        bench=swatch.bench,
        swatch=swatch.id,
        at_ms=now_ms,
        white=swatch.white,
        lab=swatch.lab,
        u95_de00=swatch.u95_de00,
        wavelength_nm=swatch.wavelength_nm,
        reflectance=swatch.reflectance,
        formula=swatch.formula,
        de00=swatch.de00,
    )
    renewed = replace(
        swatch,
        lab=lab,
        u95_de00=_radius(swatch, found.u95_de00),
        wavelength_nm=tuple(float(v) for v in BANDS_NM),
        reflectance=found.reflectance,
        formula=FORMULA_VERSION,
        de00=float(ciede2000(target.lab, lab)) if target else swatch.de00,
    )
    moved = float(ciede2000(swatch.lab, lab)) if swatch.lab else None
    return Reworked(renewed, former, moved)


def _radius(swatch: Swatch, found_de00: float) -> float:
    showed_more = swatch.placements is None or swatch.placements > 1 or bool(swatch.warnings)
    if showed_more and swatch.u95_de00 is not None:
        return max(found_de00, swatch.u95_de00)
    return found_de00


class Reworking:
    """Swatches of the running bench worked out again."""

    def __init__(self, bench: Bench, matching: Matching) -> None:
        self._bench = bench
        self._matching = matching

    async def swatch(self, swatch_id: str) -> Rework:
        """Work out one swatch again."""
        found = self._bench.reader.get(Swatch, swatch_id)
        if found is None:
            raise BadInput(f"swatch: got {swatch_id!r}, wanted one on record")
        return await self._keep([found])

    async def every(self) -> Rework:
        """Work out every swatch of this bench again that an older formula made."""
        bench = self._bench
        return await self._keep(bench.reader.all(Swatch, bench=bench.bench))

    async def _keep(self, swatches: Sequence[Swatch]) -> Rework:
        bench = self._bench
        profiles: Profiles = {
            calibration.id: await bench.apart(rebuilt, calibration)
            for calibration in calibrations_of(bench.reader, swatches)
        }
        found = rework(bench.reader, swatches, profiles, bench.now_ms(), bench.new_id)
        if found.done:
            await bench.commit(found.records())
            self._matching.renew([one.swatch for one in found.done])
        return found
