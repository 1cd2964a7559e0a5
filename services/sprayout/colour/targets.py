"""The colour to reach: measured, averaged over spots, typed as Lab, or guessed from photographs.

A target always carries Lab under both whites.  The one that was given or measured is exact; where
only one was given the other is worked out over the training surfaces of that colour (see
``references``) and ``other_u95_de00`` says how far it may be off.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from sprayout.colour.difference import ciede2000
from sprayout.colour.lab import adapt, lab_to_xyz, xyz_to_lab
from sprayout.colour.placements import PlacementResult, combine_placements
from sprayout.colour.profile import BANDS_NM, ColourEstimate
from sprayout.colour.references import surfaces_like
from sprayout.colour.tables import FloatArray
from sprayout.colour.tristimulus import (
    ILLUMINANTS,
    WHITES,
    Illuminant,
    Lab,
    Spectrum,
    spectrum_to_xyz,
    white_point,
)
from sprayout.colour.unit_check import check_lab
from sprayout.errors import BadInput

Origin = Literal["measured", "typed", "photographs"]
PHOTO_FLOOR_DE00 = 5.0
"""No photograph is better than this, however many agree: common practice, no source."""
GUIDE = "from photographs: a guide to the colour, not a measurement"
FADED = "spots differ more than the sensor does: the original is worn or faded unevenly"


@dataclass(frozen=True, slots=True)
class ColourTarget:
    """One colour to reach.  ``reflectance`` only where it was measured."""

    name: str
    origin: Origin
    lab_d65_10: Lab
    lab_d50_2: Lab
    u95_de00: float
    other_u95_de00: float = 0.0
    reflectance: Spectrum | None = None
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Variants:
    """Shades of one model that the maker sold side by side; each is a target of its own."""

    name: str
    targets: tuple[ColourTarget, ...]

    def nearest(self, lab_d65_10: Lab) -> tuple[tuple[ColourTarget, float], ...]:
        """All variants with their CIEDE2000 from a colour, the nearest first."""
        found = [(t, float(ciede2000(t.lab_d65_10, lab_d65_10))) for t in self.targets]
        return tuple(sorted(found, key=lambda pair: pair[1]))


def variants(name: str, targets: Sequence[ColourTarget]) -> Variants:
    """Variants kept side by side; ``BadInput`` where two have one name."""
    names = [target.name for target in targets]
    twice = sorted({n for n in names if names.count(n) > 1})
    if not targets or twice:
        raise BadInput(
            f"variants of {name}: {f'{twice[0]} stands twice' if twice else 'none given'}; "
            "give each shade a name of its own"
        )
    return Variants(name, tuple(targets))


def averaged_target(
    name: str, spots: Sequence[ColourEstimate], spot_names: Sequence[str] | None = None
) -> ColourTarget:
    """A target measured on one or more spots of the original."""
    mean = combine_placements(spots, spot_names)
    return ColourTarget(
        name,
        "measured",
        mean.lab_d65_10,
        mean.lab_d50_2,
        mean.u95_de00,
        reflectance=Spectrum(tuple(BANDS_NM.tolist()), mean.reflectance),
        notes=_spot_notes(mean),
    )


def _spot_notes(mean: PlacementResult) -> tuple[str, ...]:
    notes = list(mean.warnings)
    if mean.outliers:
        notes.append(f"left out, unlike the others: {', '.join(mean.outliers)}")
    if mean.n_used > 1 and mean.spread_de00 > 1.0:
        notes.append(FADED)
    return tuple(notes)


def typed_target(
    name: str, lab: Lab, illuminant: str, observer: int, u95_de00: float = 0.0
) -> ColourTarget:
    """A target typed as Lab with the illuminant and the observer it is stated for."""
    check_lab(lab, f"target {name}")
    light = illuminant.lower()
    if light not in ILLUMINANTS or observer not in (2, 10):
        raise BadInput(
            f"target {name}: got illuminant {illuminant} and observer {observer}, wanted one of "
            f"{', '.join(ILLUMINANTS)} and 2 or 10; look them up beside the Lab"
        )
    if not (np.isfinite(u95_de00) and u95_de00 >= 0.0):
        raise BadInput(f"target {name}: got u95 {u95_de00:g}, wanted 0 or more")
    given = next(i for i in ILLUMINANTS if i == light)
    wide, off_wide = _seen_under(lab, given, observer, "d65-10")
    narrow, off_narrow = _seen_under(lab, given, observer, "d50-2")
    exact = min(off_wide, off_narrow) == 0.0
    own = u95_de00 if exact else float(np.hypot(u95_de00, off_wide))
    other = float(np.hypot(u95_de00, max(off_wide, off_narrow)))
    return ColourTarget(name, "typed", wide, narrow, own, other)


def _seen_under(lab: Lab, illuminant: Illuminant, observer: int, white: str) -> tuple[Lab, float]:
    """The Lab under another white, and the radius that holds 95 in 100 surfaces of that colour."""
    if (illuminant, observer) == WHITES[white]:
        return lab, 0.0
    spectra, weight = surfaces_like(np.array(lab), (illuminant, observer))
    to = WHITES[white]
    labs = xyz_to_lab(spectrum_to_xyz(spectra, *to), white_point(*to))
    mean = weight @ labs
    away = ciede2000(mean, labs)
    order = np.argsort(away)
    reach = float(
        away[order][np.searchsorted(np.cumsum(weight[order]), 0.95).clip(0, len(order) - 1)]
    )
    return (float(mean[0]), float(mean[1]), float(mean[2])), max(reach, 0.05)


@dataclass(frozen=True, slots=True)
class PhotoLook:
    """One patch in one picture, as Lab D50/2 by the picture's own profile.

    ``neutral``: a white or grey thing in the same picture, likewise, and ``neutral_l`` its true
    lightness where it is known (a white card: about 95).
    """

    picture: str
    lab_d50_2: Lab
    neutral_d50_2: Lab | None = None
    neutral_l: float | None = None


def photo_target(name: str, looks: Sequence[PhotoLook]) -> ColourTarget:
    """A guide to the colour from photographs: balanced on a neutral, robust mean, wide ``u95``."""
    if not looks:
        raise BadInput(f"target {name}: no patch picked; pick the colour in at least one picture")
    for look in looks:
        check_lab(look.lab_d50_2, f"picture {look.picture}")
    balanced = np.array([_balanced(look) for look in looks])
    middle = np.median(balanced, axis=0)
    away = ciede2000(middle, balanced)
    limit = max(2.5 * float(np.median(away)), PHOTO_FLOOR_DE00)
    kept = balanced[away <= limit] if len(looks) > 2 else balanced
    mean = kept.mean(axis=0)
    spread = float(np.sqrt(np.mean(ciede2000(mean, kept) ** 2)))
    lab = (float(mean[0]), float(mean[1]), float(mean[2]))
    wide, off = _seen_under(lab, "d50", 2, "d65-10")
    alone = 1.6 if all(look.neutral_d50_2 is None for look in looks) else 1.0
    # Pictures share their faults (light, camera, print), so the spread is not divided by them.
    u95 = float(np.sqrt((PHOTO_FLOOR_DE00 * alone) ** 2 + (2.0 * spread) ** 2 + off**2))
    dropped = [look.picture for look, a in zip(looks, away, strict=True) if a > limit]
    notes = [GUIDE]
    if len(looks) > 2 and dropped:
        notes.append(f"left out, unlike the others: {', '.join(dropped)}")
    if alone > 1.0:
        notes.append("no neutral was picked in the pictures: the light they were taken in is in it")
    return ColourTarget(name, "photographs", wide, lab, u95, u95, notes=tuple(notes))


def _balanced(look: PhotoLook) -> FloatArray:
    """The patch as it would look had the neutral come out neutral (Bradford), and light enough."""
    if look.neutral_d50_2 is None:
        return np.array(look.lab_d50_2)
    white = white_point("d50", 2)
    neutral = lab_to_xyz(look.neutral_d50_2, white)
    if not 20.0 <= look.neutral_d50_2[0] <= 99.5:
        raise BadInput(
            f"picture {look.picture}: the neutral has L {look.neutral_d50_2[0]:.0f}; pick a white "
            "or grey that is neither burnt out nor in deep shade"
        )
    seen = adapt(lab_to_xyz(look.lab_d50_2, white), neutral * 100.0 / neutral[1], white)
    if look.neutral_l is not None:
        true_y = float(lab_to_xyz((look.neutral_l, 0.0, 0.0), white)[1])
        seen = seen * true_y / float(neutral[1])
    return xyz_to_lab(np.maximum(seen, 0.0), white)
