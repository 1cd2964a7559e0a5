"""Watch the booth: judge the flags, keep them on record, let a person acknowledge them."""

from sprayout.acts.bench import Bench
from sprayout.acts.spraying import named_person
from sprayout.bench.booth_watch import BoothWatch
from sprayout.bench.film_watch import ExpectedFilm, FilmWatch, with_film
from sprayout.bench.flag_book import FlagBook
from sprayout.climate import flags
from sprayout.climate.flags import BoothInputs
from sprayout.climate.part import Part
from sprayout.climate.reducer import Blend
from sprayout.intake.events import ReadingsArrived
from sprayout.journal.records import Flag
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
        self.film: ExpectedFilm | None = None
        self._films = FilmWatch()
        self._bench = bench

    async def take_over(self) -> None:
        """Close the flags of an earlier run: what still holds is raised again."""
        open_flags = self._bench.reader.open_flags(self._bench.bench)
        await self._bench.commit(self.book.close_all(open_flags, self._bench.now_ms()))

    def take(self, event: ReadingsArrived) -> None:
        """Remember booth readings as they arrive."""
        self.booth.take(event, self._bench.monotonic_ms())
        self._bench.tell("booth", event)

    def fan(self) -> FanState:
        """Return whether the fan is confirmed now."""
        return self.booth.fan(self._bench.now_ms(), self._bench.monotonic_ms())

    def inputs(self, calibrated_ms: int | None, fan_wanted: bool) -> BoothInputs:
        """Return what the flags are judged on now."""
        now_ms = self._bench.now_ms()
        age = None if calibrated_ms is None else (now_ms - calibrated_ms) / MS_PER_DAY
        return self.booth.inputs(
            now_ms, self._bench.monotonic_ms(), calibration_age_days=age, fan_wanted=fan_wanted
        )

    async def look(
        self, inputs: BoothInputs, blend: Blend | None, part: Part, coat: str | None
    ) -> None:
        """Judge the flags once and put what happened on record."""
        now_ms, monotonic_ms = self._bench.now_ms(), self._bench.monotonic_ms()
        speed = self.booth.measured("air_speed", now_ms, monotonic_ms)
        speed_ms = speed.fresh(0.0, 20.0, inputs.silent_after_ms) if speed else None
        self.film = self._films.expect(inputs, blend, part, speed_ms)
        inputs = with_film(inputs, blend, self.film)
        self.state, events = flags.evaluate(self.state, inputs, self._bench.now_ms())
        changed = self.book.apply(events, coat)
        if changed:
            await self._bench.commit(changed)
        self._bench.tell("state")

    async def acknowledge(self, flag_id: str, person: str) -> Flag:
        """Put on record that a person has read a flag; its level stays as it is."""
        name = named_person(person)
        flag = self.book.acknowledge(flag_id, name, self._bench.now_ms())
        await self._bench.commit([flag])
        self._bench.tell("state")
        return flag
