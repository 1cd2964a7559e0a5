"""Findings by their trade names: what each looks like, and what it is easily taken for.

Descriptions are ours, of what the trade commonly means by the word (common practice, no source).
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache

from sprayout.errors import BadInput

SEVERITIES = ("slight", "plain", "severe")


@dataclass(frozen=True, slots=True)
class Defect:
    """One finding of the trade.

    ``taken_for`` names the findings that people write down when they mean this one.  ``unseen`` are
    causes that no channel of the bench records, and ``unseen_rate`` is how many of 1,000 coats we
    take to show the finding through them before the record says otherwise (an assumption).
    """

    key: str
    name: str
    description: str
    also: tuple[str, ...]
    taken_for: tuple[str, ...]
    unseen: str
    unseen_rate: float = 15.0


DEFECTS: tuple[Defect, ...] = (
    Defect(
        "blush",
        "blush",
        "A milky or whitish veil, often in patches; the colour comes back under a drop of slow "
        "thinner. Water has gone into the wet film.",
        ("blushing", "milky", "bloom", "haze"),
        ("gloss_off",),
        "water from the compressor line, a thinner whose resin balance is bad",
    ),
    Defect(
        "orange_peel",
        "orange peel",
        "An even, shallow bumpiness like the skin of an orange; the droplets arrived but did not "
        "flow together.",
        ("peel", "orange-peel"),
        ("dry_spray", "gloss_off"),
        "a worn or dirty nozzle, paint that was not stirred",
    ),
    Defect(
        "dry_spray",
        "dry spray",
        "A rough, sandy, dull surface; the droplets were half dry when they landed.",
        ("overspray", "rough", "sandy", "dusty finish"),
        ("orange_peel", "dust_nibs"),
        "a gust from a door, overspray from a neighbouring face",
    ),
    Defect(
        "run",
        "run or sag",
        "Paint that slid down in a curtain or a tear before it set, thick at the lower edge.",
        ("sag", "runs", "sags", "curtain", "drip", "tear"),
        (),
        "a pause of the hand, a spitting nozzle",
    ),
    Defect(
        "fisheye",
        "fisheye",
        "Small round craters with a raised rim, the ground showing in the middle; the wet paint "
        "drew back from something.",
        ("fish eye", "fisheyes", "cissing", "crater", "craters"),
        ("pinholes", "solvent_pop"),
        "oil, wax, silicone or fingerprints on the surface, oil or water from the compressor",
        30.0,
    ),
    Defect(
        "solvent_pop",
        "solvent pop",
        "Tiny burst blisters, most where the film is thick; solvent boiled out through a skin.",
        ("solvent boil", "popping", "boil", "blisters"),
        ("pinholes", "fisheye"),
        "heat from a lamp after the coat",
    ),
    Defect(
        "pinholes",
        "pinholes",
        "Fine holes down to the coat beneath, as if pricked with a needle.",
        ("pinhole", "pin holes"),
        ("solvent_pop", "fisheye"),
        "holes in the filler or casting, air stirred into the cup",
        15.0,
    ),
    Defect(
        "lifting",
        "lifting or wrinkling",
        "The coat beneath swelled and drew up into wrinkles, or came off in skins.",
        ("wrinkling", "wrinkle", "wrinkles", "crinkling", "lift", "crazing"),
        (),
        "an old finish beneath that was not on record, a poorly cleaned surface",
    ),
    Defect(
        "dust_nibs",
        "dust nibs",
        "Single hard specks standing out of the film; a nail catches on them.",
        ("dust nib", "dust", "nibs", "dirt", "bits", "specks"),
        ("dry_spray",),
        "lint from clothes or the wiping cloth, sanding dust, a visitor",
        30.0,
    ),
    Defect(
        "poor_hiding",
        "poor hiding",
        "What lies beneath shows through, most at edges and on seams.",
        ("transparent", "see-through", "thin coverage", "poor coverage", "grinning"),
        ("colour_off",),
        "a paint that was not stirred up from the bottom",
    ),
    Defect(
        "colour_off",
        "colour off",
        "The dry piece does not match the target though the mix was meant to.",
        ("color off", "wrong colour", "wrong color", "mismatch", "off colour"),
        ("poor_hiding", "gloss_off"),
        "a target that had faded or yellowed, a lamp of another kind, a paint that changed as it "
        "dried",
    ),
    Defect(
        "gloss_off",
        "gloss off",
        "Duller, shinier or patchier than it should be, with the colour about right.",
        ("dull", "flat", "patchy gloss", "gloss", "matt", "too shiny"),
        ("blush", "orange_peel"),
        "flatting agent that was not stirred in, polish or cleaning afterwards",
    ),
    Defect(
        "slow_dry",
        "slow dry",
        "Soft or tacky long after the data sheet says it should be dry; it takes a fingerprint.",
        ("slow drying", "tacky", "soft", "will not dry", "sticky"),
        (),
        "wax or grease beneath, a drier that was left out or has gone off",
    ),
    Defect(
        "loss_of_detail",
        "loss of detail",
        "Rivets, seams and embossed letters look rounded or drowned; the build is too thick.",
        ("lost detail", "too thick", "clogged detail", "filled in", "detail"),
        (),
        "an old finish that was left on beneath",
    ),
)


@cache
def _by_name() -> dict[str, Defect]:
    found: dict[str, Defect] = {}
    for defect in DEFECTS:
        for name in (defect.key, defect.name, *defect.name.split(" or "), *defect.also):
            found[_plain(name)] = defect
    return found


def _plain(name: str) -> str:
    return re.sub(r"[^a-z]+", "", name.casefold())


def find_defect(name: str) -> Defect | None:
    """The finding of that trade name, key or usual other name; None where we know none."""
    return _by_name().get(_plain(name))


def defect_named(name: str) -> Defect:
    """As :func:`find_defect`; an unknown name raises BadInput with the list."""
    found = find_defect(name)
    if found is None:
        listed = ", ".join(defect.name for defect in DEFECTS)
        raise BadInput(f"finding: got {name[:60]!r}, wanted one of {listed}; choose the nearest")
    return found
