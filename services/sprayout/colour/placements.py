"""Several placements of the sensor on one swatch, or several spots of one original: one colour."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sprayout.colour.difference import ciede2000
from sprayout.colour.profile import ColourEstimate
from sprayout.colour.surface import placement_warnings
from sprayout.colour.tables import FloatArray
from sprayout.colour.tristimulus import Lab
from sprayout.errors import BadInput

OUTLIER_TIMES = 4.0
_LEAST_OUTLIER_DE00 = 0.6


@dataclass(frozen=True, slots=True)
class PlacementResult:
    """The robust mean of ``n_used`` placements; ``outliers`` were named and left out.

    ``spread_de00``: root mean square of the used placements about their mean;
    ``u95_de00``: radius about the mean, the spread's share included.
    """

    reflectance: tuple[float, ...]
    lab_d65_10: Lab
    lab_d50_2: Lab
    u95_de00: float
    spread_de00: float
    outliers: tuple[str, ...]
    warnings: tuple[str, ...]
    n_used: int


def combine_placements(
    estimates: Sequence[ColourEstimate], names: Sequence[str] | None = None
) -> PlacementResult:
    """One colour of one to many placements; ``BadInput`` where one is clipped or none is given."""
    called = [str(i + 1) for i in range(len(estimates))] if names is None else list(names)
    if not estimates or len(called) != len(estimates):
        raise BadInput(
            f"placements: got {len(estimates)} readings and {len(called)} names, wanted at least "
            "one reading and a name for each"
        )
    clipped = [name for name, e in zip(called, estimates, strict=True) if e.clipped]
    if clipped:
        raise BadInput(
            f"placement {clipped[0]}: a channel is clipped; lower the gain and calibrate again"
        )
    wide = np.array([e.lab_d65_10 for e in estimates])
    noise = float(np.median([e.noise_de00 for e in estimates]))
    used = _agreeing(wide, noise)
    kept = [e for e, ok in zip(estimates, used, strict=True) if ok]
    mean = wide[used].mean(axis=0)
    spread = float(np.sqrt(np.mean(ciede2000(mean, wide[used]) ** 2)))
    narrow = np.array([e.lab_d50_2 for e in kept]).mean(axis=0)
    own = tuple(dict.fromkeys(word for e in kept for word in e.warnings))
    return PlacementResult(
        tuple(np.mean([e.reflectance for e in kept], axis=0).tolist()),
        _lab(mean),
        _lab(narrow),
        _u95(kept, spread, noise),
        spread,
        tuple(name for name, ok in zip(called, used, strict=True) if not ok),
        own + placement_warnings(wide, noise),
        len(kept),
    )


def _lab(values: FloatArray) -> Lab:
    return float(values[0]), float(values[1]), float(values[2])


def _agreeing(labs: FloatArray, noise_de00: float) -> NDArray[np.bool_]:
    """Which placements stand with the others; with fewer than three nobody can be outvoted."""
    if len(labs) < 3:
        return np.ones(len(labs), dtype=bool)
    away = ciede2000(_middle(labs), labs)
    usual = max(float(np.median(away)), noise_de00)
    agree: NDArray[np.bool_] = away <= max(OUTLIER_TIMES * usual, _LEAST_OUTLIER_DE00)
    return agree


def _middle(labs: FloatArray) -> FloatArray:
    """The placement nearest to all others: a median that is a colour somebody measured."""
    total = ciede2000(labs[:, None], labs[None]).sum(axis=1)
    centre: FloatArray = labs[int(np.argmin(total))]
    return centre


def _u95(kept: Sequence[ColourEstimate], spread: float, noise: float) -> float:
    """What the unit leaves open, and the standard error of the placements at 95 %.

    Noise averages out with the placements; the unit's own error stays.
    """
    alone = float(np.mean([e.u95_de00 for e in kept]))
    count = len(kept)
    if count == 1:
        return alone
    lasting = max(alone**2 - (2.0 * noise) ** 2, 0.25 * alone**2)
    # Imported at use; scipy.stats for the same quantile costs an idle bench 30 MB.
    from scipy.special import stdtrit

    error = float(stdtrit(count - 1, 0.975)) * spread / np.sqrt(count - 1) / np.sqrt(1.5)
    return float(np.sqrt(lasting + error**2))
