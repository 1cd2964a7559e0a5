"""Watch the booth: judge the flags, keep them on record, let a person acknowledge them."""

import asyncio
from dataclasses import replace

from sprayout.acts.bench import Bench
from sprayout.acts.spraying import named_person
from sprayout.bench.air_history import MarginHistory, ProbeHistory
from sprayout.bench.booth_watch import BoothWatch
from sprayout.bench.film_watch import USUAL_ERROR, ExpectedFilm, FilmWatch, with_film
from sprayout.bench.flag_book import FlagBook
from sprayout.bench.part_watch import BY_HAND, CHANNEL, PartReading, part_reading, with_part
from sprayout.bench.spray_plan import SprayPlan
from sprayout.climate import flags
from sprayout.climate.blush import RH_LIMIT_PCT
from sprayout.climate.corrections import is_due, spans
from sprayout.climate.flags import BoothInputs
from sprayout.climate.forecast import Forecast
from sprayout.climate.levels import Level
from sprayout.climate.paint_limits import LimitFinding, PaintLimits, judge_limits
from sprayout.climate.part import FOIL, Part
from sprayout.climate.part_temperature import entered
from sprayout.climate.reducer import Blend
from sprayout.intake.events import ChannelReading, ReadingsArrived
from sprayout.journal.records import Flag, Reading
from sprayout.safety.interlock import FanLimits, FanState

MS_PER_DAY = 86_400_000


class Watching:
    """The booth of one bench and the flags that stand."""

    def __init__(self, bench: Bench) -> None:
        settings = bench.settings
        silent_s = settings.number("probe_silent_s")
        limits = FanLimits(
            air_speed_min_m_s=settings.number("fan_min_ms"),
            suction_min_pa=settings.number("fan_min_pa"),
            oldest_s=silent_s,
        )
        self.booth = BoothWatch(round(silent_s * 1000), limits)
        self.state = flags.initial_state()
        self.book = FlagBook(bench.bench, bench.new_id)
        #: What the piece in hand shows to an infrared thermometer; None where nobody has said.
        self.surface: str | None = None
        self.film: ExpectedFilm | None = None
        self.forecast: Forecast | None = None
        self._films = FilmWatch()
        self._margins = MarginHistory()
        self._probes = ProbeHistory()
        self._wet: tuple[Blend | None, Part] = (None, FOIL)
        self._bench = bench

    async def take_over(self) -> None:
        """Close the flags of an earlier run: what still holds is raised again."""
        open_flags = self._bench.reader.open_flags(self._bench.bench)
        await self._bench.commit(self.book.close_all(open_flags, self._bench.now_ms()))

    def take(self, event: ReadingsArrived) -> None:
        """Remember booth readings as they arrive."""
        self.booth.take(event, self._bench.monotonic_ms(), self._bench.now_ms())
        self._bench.tell("booth", event)

    def fan(self) -> FanState:
        """Return whether the fan is confirmed now."""
        return self.booth.fan(self._bench.now_ms(), self._bench.monotonic_ms())

    def rh_pct(self) -> float | None:
        """Return the booth's humidity if it was read of late."""
        now_ms, monotonic_ms = self._bench.now_ms(), self._bench.monotonic_ms()
        inputs = self.booth.inputs(now_ms, monotonic_ms, calibration_age_days=None, fan_wanted=None)
        return inputs.fresh_rh_pct()

    def inputs(
        self,
        calibrated_ms: int | None,
        fan_wanted: bool,
        due: tuple[str, ...] = (),
        probes_due: tuple[str, ...] = (),
    ) -> BoothInputs:
        """Return what the flags are judged on now."""
        now_ms = self._bench.now_ms()
        age = None if calibrated_ms is None else (now_ms - calibrated_ms) / MS_PER_DAY
        inputs = self.booth.inputs(
            now_ms, self._bench.monotonic_ms(), calibration_age_days=age, fan_wanted=fan_wanted
        )
        inputs = replace(inputs, calibration_due=due, probes_due=probes_due)
        return with_part(inputs, self.part(inputs.fresh_air_c()))

    def part(self, air_c: float | None) -> PartReading:
        """Return the part's temperature as it counts now, and where it comes from."""
        now_ms, monotonic_ms = self._bench.now_ms(), self._bench.monotonic_ms()
        return part_reading(self.booth, self.surface, air_c, now_ms, monotonic_ms)

    async def enter_part(self, part_c: float) -> Reading:
        """Put a part's temperature on record that a person measured by contact."""
        entered(part_c)
        now_ms = self._bench.now_ms()
        reading = Reading(self._bench.bench, BY_HAND, CHANNEL, part_c, "Cel", now_ms)
        await self._bench.commit([reading])
        by_hand = ChannelReading(CHANNEL, part_c, "Cel", now_ms)
        self.take(ReadingsArrived(self._bench.bench, BY_HAND, now_ms, (by_hand,), None, None))
        self._bench.tell("state")
        return reading

    async def look(self, inputs: BoothInputs, plan: SprayPlan) -> None:
        """Judge the flags once and put what happened on record."""
        judged = await self._with_outlook(inputs, plan)
        self.state, events = flags.evaluate(self.state, judged, self._bench.now_ms())
        changed = self.book.apply(events, plan.coat)
        # Not waited for: a disk that is full must not stop the watch over the booth.
        self._bench.keep(changed)
        self._bench.tell("state")

    async def _with_outlook(self, inputs: BoothInputs, plan: SprayPlan) -> BoothInputs:
        """Add the film, its forecast, the paint's limits and what the probes are worth."""
        now_ms, monotonic_ms = self._bench.now_ms(), self._bench.monotonic_ms()
        wet = (plan.blend, plan.part)
        if wet != self._wet:
            self._wet = wet
            self._margins.clear()
        speed = self.booth.measured("air_speed", now_ms, monotonic_ms)
        speed_ms = speed.fresh(0.0, 20.0, inputs.silent_after_ms) if speed else None
        # Some ten to a hundred milliseconds for a new film: no live reading waits for it.
        self.film = await asyncio.to_thread(
            self._films.expect,
            inputs,
            plan.blend,
            plan.part,
            speed_ms,
            rh_error_pct=self._rh_error_pct(now_ms, monotonic_ms),
        )
        part = inputs.part_c
        part_c = part.fresh(-20.0, 90.0, inputs.silent_after_ms) if part else None
        dew_c = inputs.dew_point_c()
        self.forecast = self._margins.look(monotonic_ms, self._margin_k(part_c, dew_c))
        findings: tuple[LimitFinding, ...] = ()
        if plan.limits is not None:
            air_c, rh_pct = inputs.fresh_air_c(), inputs.fresh_rh_pct()
            findings = judge_limits(plan.limits, air_c, rh_pct, part_c, dew_c)
        pot = plan.pot_life
        if pot is not None and pot.level.rank > Level.NOTE.rank:
            findings += (LimitFinding("pot life", pot.level, f"pot life: {pot.words}"),)
        with_limits = replace(
            inputs,
            forecast=self.forecast,
            probe_words=self._probes.look(monotonic_ms, self.booth, now_ms),
            paint_findings=findings,
            paint_rh_max_pct=paint_rh_max_pct(plan.limits),
        )
        return with_film(with_limits, plan.blend, self.film, plan.film_unknown)

    def _rh_error_pct(self, now_ms: int, monotonic_ms: int) -> float:
        """Return what the humidity may be off: less where a recent salt check spans the reading."""
        latest = self.booth.channel("relative_humidity", now_ms, monotonic_ms)
        found = self.booth.correction_of(latest) if latest else None
        if latest is None or found is None or is_due(found, now_ms):
            return USUAL_ERROR.rh_pct
        return found.uncertainty_pct if spans(found, latest.value) else USUAL_ERROR.rh_pct

    def _margin_k(self, part_c: float | None, dew_c: float | None) -> float | None:
        """Return the margin of the wet film where it is known, else of the bare part."""
        if self.film is not None:
            return self.film.blush.margin_k
        return None if part_c is None or dew_c is None else part_c - dew_c

    async def acknowledge(self, flag_id: str, person: str) -> Flag:
        """Put on record that a person has read a flag; its level stays as it is."""
        name = named_person(person)
        flag = self.book.acknowledged(flag_id, name, self._bench.now_ms())
        await self._bench.commit([flag])
        now = self.book.take_read(flag)
        if now != flag:
            self._bench.keep([now])
        self._bench.tell("state")
        return now


def paint_rh_max_pct(limits: PaintLimits | None) -> float:
    """Return the humidity above which the paint is not to be sprayed; 85 % where none is stated."""
    stated = limits.rh_max_pct if limits else None
    return RH_LIMIT_PCT if stated is None else stated
