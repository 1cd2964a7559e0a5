"""Charts whose patches are known from print: a patch by its name instead of a certificate."""

from __future__ import annotations

from sprayout.colour.tables import GRID_NM, published_chart
from sprayout.colour.tristimulus import Lab, Spectrum, grid_to_lab
from sprayout.errors import BadInput

CHARTS = ("iso-17321-1",)
SOURCE = "ISO 17321-1:2012, annex C: published averages, not the certificate of one chart"


def patch_names() -> tuple[str, ...]:
    """The 24 patches in the order of the table, as they are called on the page."""
    return tuple(name.replace("_", " ") for name in published_chart().names)


def patch_labs() -> tuple[Lab, ...]:
    """Lab D50/2 of each patch, in that order."""
    labs = grid_to_lab(published_chart().values.T, "d50-2")
    return tuple((float(lab), float(a), float(b)) for lab, a, b in labs)


def published_patch(chart: str, name: str) -> Spectrum:
    """The published average spectrum of one patch; ``BadInput`` names what there is."""
    if chart not in CHARTS:
        raise BadInput(f"chart: got {chart!r}, wanted one of {', '.join(CHARTS)}; choose one")
    wanted = " ".join(name.lower().replace("_", " ").split())
    if wanted not in patch_names():
        raise BadInput(
            f"patch {name}: not on chart {chart}; wanted one of {', '.join(patch_names())}"
        )
    row = published_chart().values[:, patch_names().index(wanted)]
    return Spectrum(tuple(GRID_NM.tolist()), tuple(row.tolist()))
