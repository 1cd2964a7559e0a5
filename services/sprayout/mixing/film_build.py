"""How thick the paint gets: wet and dry film from what was sprayed, and a caution for fine detail.

A litre spread over a square metre is a millimetre: that is all there is to it, but for what misses
the piece and for the thinner that leaves.  Limits are common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass

from sprayout.errors import BadInput

SOLIDS_BY_VOLUME = 0.35
"""Of a brushing enamel as it comes out of the tin; its data sheet says better."""
DETAIL_UM = 60.0
"""Dry film over which rivets and lettering of small castings start to go soft."""


@dataclass(frozen=True, slots=True)
class FilmBuild:
    """Wet and dry thickness of one coat, and of all coats; ``caution`` is empty when none."""

    wet_um_per_coat: float
    dry_um_per_coat: float
    dry_um_total: float
    caution: str


def film_build(
    sprayed_ml: float,
    area_cm2: float,
    coats: int,
    *,
    transfer: float = 0.35,
    solids_by_volume: float = 0.25,
    dry_um_before: float = 0.0,
    detail_um: float = DETAIL_UM,
) -> FilmBuild:
    """Film from the volume sprayed in all coats over an area.

    ``transfer``: the part that stays on the piece; ``solids_by_volume``: of the paint as thinned.
    """
    if not (sprayed_ml > 0 and area_cm2 > 0 and coats >= 1):
        raise BadInput(
            f"film: got {sprayed_ml:g} mL on {area_cm2:g} cm2 in {coats} coats, wanted numbers "
            "above 0; measure the piece and what left the cup"
        )
    if not (0 < transfer <= 1 and 0 < solids_by_volume <= 1 and dry_um_before >= 0):
        raise BadInput(
            f"film: transfer {transfer:g} and solids {solids_by_volume:g} must be above 0 and at "
            "most 1, the film before 0 or more"
        )
    # 1 mL over 1 cm2 is 1 cm: 10,000 um.
    wet_total = sprayed_ml * transfer / area_cm2 * 1e4
    dry_total = dry_um_before + wet_total * solids_by_volume
    return FilmBuild(
        wet_um_per_coat=wet_total / coats,
        dry_um_per_coat=wet_total * solids_by_volume / coats,
        dry_um_total=dry_total,
        caution=_caution(dry_total, detail_um),
    )


def _caution(dry_um: float, detail_um: float) -> str:
    if dry_um <= detail_um:
        return ""
    return (
        f"about {dry_um:.0f} um dry film: over {detail_um:.0f} um fine detail softens; "
        "thinner coats, or strip the old paint first"
    )
