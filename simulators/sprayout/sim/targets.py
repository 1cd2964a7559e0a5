"""Old finishes to match: mixed long ago from another workshop's bottles, and aged since."""

import numpy as np

from sprayout.errors import BadInput
from sprayout.sim.paints import Shelf
from sprayout.sim.spectra import Surface, bump, rise

_OLD_FINISHES: dict[str, dict[str, int]] = {
    "pilot cutter hull blue": {
        "ice-van white": 20,
        "deep-berth blue": 24,
        "coal-hatch black": 2,
        "quay-crane ochre": 3,
    },
    "quay-crane ochre": {"quay-crane ochre": 40, "ice-van white": 6, "smokebox red oxide": 2},
    "ice-van white": {"ice-van white": 60, "quay-crane ochre": 1},
    "smokebox red oxide": {"smokebox red oxide": 40, "coal-hatch black": 1},
}
TARGET_NAMES: tuple[str, ...] = tuple(_OLD_FINISHES)


def target_swatch(name: str) -> Surface:
    """An old finish as it looks today: mixed long ago, yellowed, a little faded and chalky."""
    if name not in _OLD_FINISHES:
        raise BadInput(f"target: got {name!r}, wanted one of {', '.join(TARGET_NAMES)}")
    old = Shelf(1962, variation=1.0)
    fresh = old.drawdown(_OLD_FINISHES[name], seed=62).reflectance
    yellowed = fresh * (1.0 - 0.03 * (1.0 - rise(470.0, 22.0)))
    faded = yellowed * (1.0 + 0.04 * bump(620.0, 60.0))
    return Surface(name, np.clip(faded + 0.002, 0.0, 1.0), unevenness=0.006)
