"""The clock of the last coat: flash-off, recoat, the wrinkle window, at the pace of this air."""

from dataclasses import replace

from sprayout.acts.bench import Bench
from sprayout.bench.spray_plan import SprayPlan
from sprayout.climate.coat_clocks import (
    ClockReading,
    Elapsed,
    Pace,
    advance,
    pace,
    read_clock,
)
from sprayout.climate.flag_rules import BoothInputs
from sprayout.climate.moist_air import BoothAir
from sprayout.climate.paint_limits import PaintLimits
from sprayout.journal.records import Coat

MS_PER_MIN = 60_000
#: The pace is worked out anew for every half kelvin and not with every look.
AIR_STEP_C, RH_STEP_PCT = 0.5, 5.0
#: A paint whose data sheet was not entered: every answer is *unknown*.
NO_LIMITS = PaintLimits("this paint", "cure")


class Drying:
    """How far the last coat has come, counted from its end."""

    def __init__(self, bench: Bench) -> None:
        self.coat: Coat | None = None
        self._plan = SprayPlan()
        self._elapsed = Elapsed()
        self._looked_ms: int | None = None
        self._pace: Pace | None = None
        self._pace_of: object = None
        self._bench = bench

    def take_over(self, coat: Coat | None, plan: SprayPlan) -> None:
        """Go on with a coat that ended before this run; the time since then was not watched."""
        if coat is None or coat.end_ms is None:
            return
        self.coat_ended(coat, plan)
        blind_min = max(self._bench.now_ms() - coat.end_ms, 0) / MS_PER_MIN
        if plan.limits is not None:
            self._elapsed = advance(self._elapsed, plan.limits, None, blind_min)

    def coat_ended(self, coat: Coat, plan: SprayPlan) -> None:
        """Start the clock of this coat."""
        self.coat, self._plan = coat, replace(plan, coat=None)
        self._elapsed, self._looked_ms = Elapsed(), self._bench.monotonic_ms()

    def look(self, inputs: BoothInputs) -> None:
        """Count the time since the last look at the pace of the air that was read."""
        limits, now_ms = self._plan.limits, self._bench.monotonic_ms()
        if self.coat is None or limits is None or self._looked_ms is None:
            return
        minutes = max(now_ms - self._looked_ms, 0) / MS_PER_MIN
        self._looked_ms = now_ms
        self._pace = self._pace_now(inputs)
        self._elapsed = advance(self._elapsed, limits, self._pace, minutes)

    def _pace_now(self, inputs: BoothInputs) -> Pace | None:
        air_c, rh_pct = inputs.fresh_air_c(), inputs.fresh_rh_pct()
        if self._plan.limits is None or air_c is None or rh_pct is None:
            return None
        rounded = (
            round(air_c / AIR_STEP_C) * AIR_STEP_C,
            min(max(round(rh_pct / RH_STEP_PCT) * RH_STEP_PCT, RH_STEP_PCT), 100.0),
        )
        if rounded != self._pace_of:
            self._pace_of = rounded
            air = BoothAir(*rounded)
            self._pace = pace(self._plan.limits, air, self._plan.blend, self._plan.part)
        return self._pace

    def reading(self) -> ClockReading | None:
        """Return where the last coat stands; None where there is no coat."""
        if self.coat is None:
            return None
        if self._plan.limits is None:
            return read_clock(NO_LIMITS, self._elapsed, None)
        return read_clock(self._plan.limits, self._elapsed, self._pace)
