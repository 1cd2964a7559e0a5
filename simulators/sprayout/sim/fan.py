"""The booth's extraction fan against a filter that clogs.

Fan pressure falls with the square of the flow; the filter's drop is in proportion to flow and
grows with the overspray caught in it; the duct's goes with the square.  The balance is a
quadratic.  Figures are invented for a small bench booth.
"""

import math

from sprayout.errors import BadInput

FACE_M2 = 0.30  # open front of the booth
FAN_PA = 66.0  # at no flow
SQUARE_PA = 2780.0  # fan curve and duct together, per (m3/s)^2
FILTER_PA = 104.0  # clean filter, per m3/s
FILTER_DOUBLES_G = 7.0  # caught overspray that doubles the filter's resistance
SPIN_S = 2.5


class Fan:
    """Extraction: switched on and off, spinning up and down, weakened by its filter."""

    def __init__(self, filter_load_g: float = 0.6) -> None:
        if not 0.0 <= filter_load_g <= 200.0:
            raise BadInput(f"filter_load_g: got {filter_load_g!r}, wanted 0 to 200")
        self.on = False
        self.filter_load_g = filter_load_g
        self._speed = 0.0

    def step(self, dt_s: float) -> None:
        """Spin up or down."""
        wanted = 1.0 if self.on else 0.0
        self._speed += (wanted - self._speed) * (1.0 - math.exp(-dt_s / SPIN_S))
        if self._speed < 1e-4:
            self._speed = 0.0

    def flow_m3_s(self) -> float:
        """Flow at which fan pressure, duct and filter balance."""
        filter_pa = self.filter_pa_per_flow()
        push = FAN_PA * self._speed**2
        root = math.sqrt(filter_pa**2 + 4.0 * SQUARE_PA * push)
        return (root - filter_pa) / (2.0 * SQUARE_PA)

    def filter_pa_per_flow(self) -> float:
        """The filter's drop in Pa per m3/s as loaded as it is."""
        return FILTER_PA * (1.0 + self.filter_load_g / FILTER_DOUBLES_G)
