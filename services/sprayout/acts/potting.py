"""The pot life of the cup in hand, counted from its start at the pace of the air it stood in."""

from dataclasses import replace

from sprayout.acts.bench import Bench
from sprayout.bench.spray_plan import SprayPlan
from sprayout.climate.coat_clocks import ClockReading, Elapsed, Pace, advance, cure_pace, pot_life
from sprayout.climate.flag_rules import BoothInputs
from sprayout.climate.paint_limits import PaintLimits
from sprayout.journal.records import Batch

MS_PER_MIN = 60_000


class Potting:
    """How far the mixed paint in the cup has come; none where its data sheet states no pot life."""

    def __init__(self, bench: Bench) -> None:
        self._bench = bench
        self._batch: str | None = None
        self._limits: PaintLimits | None = None
        self._elapsed = Elapsed()
        self._pace: Pace | None = None
        self._looked_ms = 0

    def look(self, inputs: BoothInputs, plan: SprayPlan, batch: Batch | None) -> None:
        """Count the time since the last look; time that nobody watched stays open."""
        now_ms, limits = self._bench.monotonic_ms(), plan.limits
        if batch is None or limits is None or limits.pot_life_h is None:
            self._batch = self._limits = None
            return
        if batch.id != self._batch or limits != self._limits:
            self._begin(batch, limits)
        minutes = max(now_ms - self._looked_ms, 0) / MS_PER_MIN
        air_c = inputs.fresh_air_c()
        cure = None if air_c is None else cure_pace(limits, air_c)
        self._pace = None if cure is None else Pace(cure, cure)
        self._elapsed = advance(self._elapsed, limits, self._pace, minutes)
        self._looked_ms = now_ms

    def _begin(self, batch: Batch, limits: PaintLimits) -> None:
        """A cup of before this run, or one whose sheet came later, stood in air nobody watched."""
        unwatched = max(self._bench.now_ms() - batch.made_ms, 0) / MS_PER_MIN
        self._batch, self._limits = batch.id, limits
        self._elapsed = advance(Elapsed(), limits, None, unwatched)
        self._looked_ms = self._bench.monotonic_ms()

    def reading(self) -> ClockReading | None:
        """Return what is left of the pot life; None where there is no cup or no pot life."""
        if self._limits is None:
            return None
        return pot_life(self._limits, self._elapsed, self._pace)

    def planned(self, plan: SprayPlan) -> SprayPlan:
        """Return the plan with the pot life of its cup."""
        return replace(plan, pot_life=self.reading())
