"""The cautions shown on every screen, print and command about spraying.

The wording is ours.  What stands behind each line: 29 CFR 1910.94(c) and 1910.107 for
ventilation and ignition, 29 CFR 1910.134 for respirators, the product's own data sheet for skin,
eyes and gloves.  These rules bind employers; for a person at home they are yardsticks.
"""

from dataclasses import dataclass
from typing import Literal, get_args

from sprayout.errors import BadInput
from sprayout.safety.wording import FORBIDDEN_WORDS, forbidden_words_in

__all__ = [
    "FORBIDDEN_WORDS",
    "ORDER_OF_AUTHORITY",
    "REGIONS",
    "Caution",
    "Region",
    "cautions_text",
    "for_spraying",
    "forbidden_words_in",
    "one_line",
    "region_named",
]

Region = Literal["us", "uk", "eu"]
REGIONS: tuple[Region, ...] = get_args(Region)

ORDER_OF_AUTHORITY = (
    "the product's safety data sheet and label",
    "the local fire and building code",
    "a licensed professional",
    "this tool, last",
)


@dataclass(frozen=True, slots=True)
class Caution:
    """One caution: a stable ``key`` for programs and acknowledgements, ``words`` for people."""

    key: str
    words: str


_GAS_MASK = (
    "a mask with a gas filter (A, or AX where the data sheet says so) and a P3 particle stage"
)
_BY_REGION: dict[Region, dict[str, str]] = {
    "us": {
        "mask": "a NIOSH-approved respirator with organic vapor cartridges and a particulate "
        "stage (R or P class) for mist",
        "sheet": "safety data sheet (SDS)",
        "code": "the local fire and building code",
    },
    "uk": {
        "mask": _GAS_MASK,
        "sheet": "safety data sheet (SDS) and COSHH assessment",
        "code": "HSE guidance and the local fire authority",
    },
    "eu": {
        "mask": _GAS_MASK,
        "sheet": "safety data sheet (SDS)",
        "code": "national workplace and fire rules",
    },
}

_WORDS = {
    "ventilation": "Ventilation: fan on before the first coat, ducted outdoors, fresh air let in, "
    "and left running until the coats have dried. A booth that blows through a filter back into "
    "the room takes out mist, not solvent vapour.",
    "respirator": "Respirator: wear the one the product's data sheet names, often {mask}. It has "
    "to fit, on a clean-shaven seal. A dust mask stops no vapour. Two-part (isocyanate) paint "
    "needs air-fed equipment and a professional.",
    "ignition": "Ignition: no flame, pilot light, heater, smoking, static or spark near the "
    "booth. Mist and vapour can burn; use a fan whose motor stands outside the air stream.",
    "gloves_eyes": "Gloves and eyes: solvent-resistant gloves as the data sheet names them, and "
    "closed goggles.",
    "others": "Others in the house: keep children, pets and everybody without a respirator out, "
    "doors shut, until the air has been cleared. Vapour travels under doors and down stairs.",
    "rags": "Rags: lay them flat outdoors to dry or keep them under water in a closed metal can. "
    "Oily and paint rags heat by themselves and can catch fire hours later.",
    "skin": "Skin: several solvents pass through it. Cover it, wash with soap and water, never "
    "with thinner.",
    "authority": "Who decides: the product's {sheet} first, then {code}, then a licensed "
    "professional, and this tool last.",
    "estimate": "Every figure here is an estimate, not a measurement: no sensor on this bench "
    "measures vapour.",
}


def region_named(region: str) -> Region:
    """The region of that name; anything but us, uk or eu raises ``BadInput``."""
    name = str(region).strip().lower()
    for known in REGIONS:
        if name == known:
            return known
    raise BadInput(f"region: got {region!r}, wanted us, uk or eu; choose whose limits apply")


def for_spraying(region: str = "us") -> tuple[Caution, ...]:
    """All cautions for one region, in the order they are shown.

    ``region`` is ``us``, ``uk`` or ``eu``; another raises ``BadInput``.
    """
    wording = _BY_REGION[region_named(region)]
    return tuple(Caution(key, words.format(**wording)) for key, words in _WORDS.items())


def one_line() -> str:
    """All of it in one line, for a status bar or the foot of a print."""
    return (
        "Ventilate outdoors, wear the respirator the data sheet names, gloves and goggles, no "
        "ignition source, others out, rags under water. Estimate, not a measurement; data sheet, "
        "local code and a licensed professional decide."
    )


def cautions_text(region: str = "us") -> str:
    """All cautions of one region, one per line, for a terminal or a print."""
    return "\n".join(caution.words for caution in for_spraying(region))
