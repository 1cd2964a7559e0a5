"""Calibrate the sensor and measure colours: dark, white tile, swatch, and the live reading."""

import asyncio
from collections.abc import AsyncIterator, Callable, Coroutine, Mapping
from contextlib import asynccontextmanager
from dataclasses import replace
from typing import cast

import numpy as np

from sprayout.acts.bench import Bench
from sprayout.acts.calibrating import Calibrating
from sprayout.acts.matching import Matching, is_of_cup, noted
from sprayout.acts.shelf import Shelf
from sprayout.bench import colour_desk
from sprayout.bench.colour_desk import ColourDesk, Step, step_of, together
from sprayout.bench.judged_colour import JudgedColour, judge, lab_of
from sprayout.colour.difference import ciede2000
from sprayout.colour.guide import StepCheck
from sprayout.colour.metamerism import MetamerismReport, metamerism
from sprayout.colour.placements import PlacementResult, combine_placements
from sprayout.colour.profile import BANDS_NM, FORMULA_VERSION, ColourEstimate
from sprayout.colour.samples import refuse_below_dark
from sprayout.colour.tristimulus import Spectrum
from sprayout.colour.unit import COLOUR_CHANNELS, Sensor
from sprayout.errors import BadInput, BoardFault, LinkError, SprayoutError
from sprayout.intake.events import ReadingsArrived
from sprayout.journal.records import Calibration, Lab, Paint, Swatch, White
from sprayout.link.messages import ConfigureAnswer, HelloAnswer

#: Readings averaged into a calibration step and into a swatch (noise falls with the root).
CALIBRATION_REPEATS = 12
SWATCH_REPEATS = 4


Check = Callable[[Spectrum], Coroutine[object, object, None]]
"""Refuses a reading that cannot be of the cup in hand, before it is kept."""


class Measuring:
    """The sensor of one bench."""

    def __init__(self, bench: Bench, matching: Matching, check: Check) -> None:
        self.desk: ColourDesk | None = None
        self.live: JudgedColour | None = None
        self.calibrating = Calibrating(bench)
        self.placements: list[tuple[Step, ColourEstimate]] = []
        self._bench = bench
        self._matching = matching
        self._check_reading = check
        self._one_at_a_time = asyncio.Lock()

    async def meet_board(self) -> None:
        """Take over the calibration of the board that said hello and ask it for live readings."""
        board, hello = self._bench.connected_board()
        known = self.desk
        if known is None or (known.device, known.channels) != (hello.device, hello.channels):
            self.desk = ColourDesk(hello.device, known_sensor(hello), hello.channels)
            await self.calibrating.take_over(self.desk)
        settings = self._bench.settings
        await asyncio.wrap_future(
            board.stream(
                round(settings.number("colour_interval_s") * 1000),
                round(settings.number("climate_interval_s") * 1000),
            )
        )
        self._bench.tell("state")

    def _desk(self) -> ColourDesk:
        self._bench.connected_board()
        if self.desk is None:
            raise LinkError("the board has not said yet what it is; wait a moment and try again")
        return self.desk

    def take(self, event: ReadingsArrived) -> None:
        """Judge a live reading; without a calibration at its very setting there is no colour."""
        desk, detail = self.desk, event.colour
        self.live = None
        profile = desk.profile if desk else None
        if profile and detail and colour_desk.same_setting(profile.unit, detail):
            step = step_of([event], profile.unit.channels)
            estimate = profile.estimate(step.counts, ambient=step.ambient)[0]
            self.live = judge(estimate, self._matching.target, event.at_ms, event.device)
        self._bench.tell("colour", self.live)

    async def _measure(self, repeats: int) -> Step:
        desk = self._desk()
        board, _ = self._bench.connected_board()
        async with self._one_at_a_time:
            arrived = [
                await asyncio.wrap_future(board.measure(("colour",))) for _ in range(repeats)
            ]
        return step_of(arrived, desk.channels)

    async def dark(self) -> StepCheck:
        """Measure the light trap: the first step of a calibration."""
        step = await self._measure(CALIBRATION_REPEATS)
        return self.calibrating.dark(self._desk(), step)

    async def white(self, tile: Spectrum) -> StepCheck:
        """Measure the white tile; the sensor is calibrated from then on."""
        step = await self._measure(CALIBRATION_REPEATS)
        return await self.calibrating.white(self._desk(), step, tile)

    async def patch(self, name: str, spectrum: Spectrum | None, lab: Lab | None) -> StepCheck:
        """Measure one patch of the printed chart."""
        step = await self._measure(CALIBRATION_REPEATS)
        return await self.calibrating.patch(self._desk(), step, name, spectrum, lab)

    def drop_patch(self, name: str) -> None:
        """Take a measured patch out again."""
        self.calibrating.drop_patch(self._desk(), name)

    async def finish_calibration(self) -> Calibration:
        """Use the patches that were measured."""
        return await self.calibrating.finish(self._desk())

    async def check_tile(self, name: str) -> Swatch:
        """Measure the check tile."""
        step, estimate = await self.estimate()
        swatch = self.record(step, estimate, of_target=True)
        return await self.calibrating.check(swatch, estimate, name)

    async def choose_gain(self) -> ConfigureAnswer:
        """Let the board choose its gain on what is under it; dark and white are due again."""
        desk = self._desk()
        board, _ = self._bench.connected_board()
        answer = await asyncio.wrap_future(board.configure(gain="auto"))
        desk.dark = desk.white = desk.profile = desk.calibration = None
        desk.patches = ()
        self._bench.tell("state")
        return answer

    async def estimate(self) -> tuple[Step, ColourEstimate]:
        """Measure what is under the sensor; raises BadInput where nothing is calibrated."""
        desk = self._desk()
        if desk.profile is None or desk.calibration is None:
            raise BadInput(f"swatch: {desk.words()}")
        step = await self._measure(SWATCH_REPEATS)
        desk.require_setting(step)
        lit = np.array(step.without_ambient())
        refuse_below_dark(desk.profile.unit, ["swatch"], lit[None])
        return step, desk.profile.estimate_sample(step.counts, ambient=step.ambient)

    async def place(self) -> ColourEstimate:
        """Measure one placement of a surface that is to be measured in several places."""
        step, estimate = await self.estimate()
        self.placements.append((step, estimate))
        self._bench.tell("state")
        return estimate

    def placed(self) -> PlacementResult | None:
        """Return what the placements so far come to; None where there are none."""
        if not self.placements:
            return None
        return combine_placements([estimate for _, estimate in self.placements])

    def lift(self) -> None:
        """Forget the placements measured so far."""
        self.placements.clear()
        self._bench.tell("state")

    @asynccontextmanager
    async def surface(self) -> AsyncIterator[tuple[Step, ColourEstimate]]:
        """Give the colour of the placements, or of what is under the sensor if there are none.

        The placements are used up unless what they were measured for is refused or not kept.
        """
        placed = self.placements
        found = await self._surface()
        try:
            yield found
        except SprayoutError:
            if self.placements is not placed:
                self.placements = placed + self.placements
            raise

    async def _surface(self) -> tuple[Step, ColourEstimate]:
        """Return the colour of a surface, and forget its placements.

        Placements that disagree widen the uncertainty; one that lies apart is named and left out.
        """
        if not self.placements:
            return await self.estimate()
        placed, self.placements = self.placements, []
        steps, estimates = [step for step, _ in placed], [estimate for _, estimate in placed]
        found = combine_placements(estimates)
        apart = tuple(f"placement {name} lies apart and is left out" for name in found.outliers)
        middle = replace(
            estimates[0],
            reflectance=found.reflectance,
            lab_d65_10=found.lab_d65_10,
            lab_d50_2=found.lab_d50_2,
            u95_de00=found.u95_de00,
            warnings=(*found.warnings, *apart),
        )
        kept = [step for n, step in enumerate(steps, 1) if str(n) not in found.outliers]
        return together(kept), middle

    async def swatch(self, note: str = "", coat: str | None = None, of: str = "cup") -> Swatch:
        """Measure a surface and put it on record beside target and batch.

        `of`: the wet ``cup``, a ``dry card`` of it, the piece's ``base``, or a ``coat`` on it.
        """
        async with self.surface() as (step, estimate):
            swatch = replace(self.record(step, estimate), note=noted(of, note), coat=coat)
            if is_of_cup(swatch):
                await self._check_reading(Spectrum(swatch.wavelength_nm, swatch.reflectance))
            await self._bench.commit([swatch])
        self._matching.take_swatch(swatch)
        self.live = judge(estimate, self._matching.target, swatch.at_ms, swatch.device)
        self._bench.tell("state")
        return swatch

    def lamps(self) -> MetamerismReport:
        """Say how the last reading of the cup matches the target under lamp light."""
        target = self._matching.target
        last = self._matching.readings[-1] if self._matching.readings else None
        if target is None or not target.reflectance or last is None:
            raise BadInput("lamps: wanted a measured target and a reading of the cup; measure both")
        return metamerism(
            Spectrum(target.wavelength_nm, target.reflectance),
            Spectrum(last.wavelength_nm, last.reflectance),
        )

    async def paint_swatch(
        self, shelf: Shelf, parts: Mapping[str, float], over: str | None
    ) -> Paint:
        """Measure a dry swatch of a paint, alone or let down, and keep it with that paint."""
        shelf.owner(parts, over)
        step, estimate = await self.estimate()
        swatch = self.record(step, estimate, of_target=True)
        return await shelf.keep_swatch(parts, over, swatch)

    def record(self, step: Step, estimate: ColourEstimate, *, of_target: bool = False) -> Swatch:
        """Return the measurement as a record: raw counts beside all that was derived.

        A swatch `of_target` is the original itself: it belongs to no cup and misses nothing.
        """
        desk = self._desk()
        target = None if of_target else self._matching.target
        batch = None if of_target else self._matching.batch
        at_ms = self._matching.moment_ms() if batch else self._bench.now_ms()
        white: White = target.white if target else "d65-10"
        lab = lab_of(estimate, white)
        return Swatch(
            id=self._bench.new_id("swatch"),
            bench=self._bench.bench,
            device=desk.device,
            at_ms=at_ms,
            channels=step.channels,
            counts=tuple(float(v) for v in step.counts.mean(axis=0)),
            white=white,
            lab=lab,
            u95_de00=estimate.u95_de00,
            clipped=step.saturated,
            wavelength_nm=tuple(float(v) for v in BANDS_NM),
            reflectance=tuple(float(v) for v in estimate.reflectance),
            calibration=desk.calibration.id if desk.calibration else None,
            formula=FORMULA_VERSION,
            target=target.id if target else None,
            batch=batch.id if batch else None,
            de00=float(ciede2000(target.lab, lab)) if target else None,
            ambient=tuple(float(v) for v in step.ambient.mean(axis=0)),
            repeats=len(step.counts),
            placements=step.placements,
            warnings=estimate.warnings,
        )


def known_sensor(hello: HelloAnswer) -> Sensor:
    """Return the kind of sensor; raises BoardFault for one this version cannot turn into colour."""
    for kind, needed in COLOUR_CHANNELS.items():
        if hello.sensor == kind and set(needed) <= set(hello.channels):
            return cast(Sensor, kind)
    raise BoardFault(
        f"board {hello.device}: sensor {hello.sensor!r} with channels {', '.join(hello.channels)}, "
        f"wanted one of {', '.join(COLOUR_CHANNELS)}; update the board's program"
    )
