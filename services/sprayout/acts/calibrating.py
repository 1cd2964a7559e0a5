"""The guided calibration of a sensor: dark, white tile, chart patches, and the check tile after it.

Every step is checked before it is kept and refused with the reason; a profile is in force only
once it is on record.
"""

from dataclasses import replace

import numpy as np

from sprayout.acts.bench import Bench
from sprayout.bench.colour_desk import ColourDesk, Step, unit_of
from sprayout.colour import guide
from sprayout.colour.due import (
    CalibrationFacts,
    CheckTile,
    CheckTrend,
    DueRules,
    calibration_due,
    check_tile,
    check_trend,
)
from sprayout.colour.guide import Setting, StepCheck
from sprayout.colour.noise import learnt
from sprayout.colour.profile import ColourEstimate, UnitProfile, build_profile
from sprayout.colour.profile_json import profile_from_json, profile_to_json
from sprayout.colour.tables import FloatArray
from sprayout.colour.tristimulus import Spectrum
from sprayout.colour.unit import Patch, Unit
from sprayout.errors import BadInput, CalibrationRefused
from sprayout.journal.records import Calibration, Lab, Swatch

CHECK_NOTE = "check tile"
PATCHES_MAX = 24
#: The air of a moment is looked for in the readings of so long before it.
AIR_BEFORE_MS = 300_000
LOOK_EVERY_MS = 60_000


class Calibrating:
    """The calibration of the board on the cable."""

    def __init__(self, bench: Bench) -> None:
        self.checks: list[Swatch] = []
        self._asked: object = None
        self._due: tuple[str, ...] = ()
        self._bench = bench

    async def take_over(self, desk: ColourDesk) -> None:
        """Put the newest calibration on record into force again, at its own gain."""
        bench = self._bench
        calibration = bench.reader.latest_calibration(bench.bench, desk.device)
        if calibration is None:
            return
        profile = await bench.apart(profile_from_json, calibration.unit)
        await bench.configure_board(profile.unit.gain, profile.unit.integration_ms)
        desk.calibration, desk.profile = calibration, profile
        self.checks = self._checks_of(calibration)

    def _checks_of(self, calibration: Calibration) -> list[Swatch]:
        found = self._bench.reader.all(Swatch, calibration=calibration.id)
        return [swatch for swatch in found if swatch.note.startswith(CHECK_NOTE)]

    def dark(self, desk: ColourDesk, step: Step) -> StepCheck:
        """Keep the light trap: the first step."""
        check = guide.check_dark(
            step.counts,
            _setting(desk, step),
            step.ambient.mean(axis=0),
            tile_level=_last_levels(desk, step),
        )
        check.require()
        desk.start_with(step)
        self._bench.tell("state")
        return check

    async def white(self, desk: ColourDesk, step: Step, tile: Spectrum) -> StepCheck:
        """Keep the white tile; the sensor is calibrated from then on, patches make it better."""
        dark = _kept(desk.dark, "white tile: no dark yet; measure the light trap first")
        _same_setting("white tile", step, dark)
        check = guide.check_white(
            step.counts,
            dark.counts.mean(axis=0),
            _setting(desk, step),
            step.ambient.mean(axis=0),
            last_levels=_last_levels(desk, dark),
        )
        check.require()
        patch = Patch("white tile", step.without_ambient(), tile, None)
        await self._adopt(desk, await self._fitted(desk, (dark, step), patch, ()))
        desk.white = step
        return check

    async def patch(
        self, desk: ColourDesk, step: Step, name: str, spectrum: Spectrum | None, lab: Lab | None
    ) -> StepCheck:
        """Keep one patch of the chart, known by its spectrum or by its Lab (D50/2°)."""
        dark = _kept(desk.dark, "patch: no dark in this calibration; begin with dark")
        white = _kept(desk.white, "patch: no white tile in this calibration; measure it first")
        _same_setting(f"patch {name}", step, dark)
        if (spectrum is None) == (lab is None):
            raise BadInput(f"patch {name}: wanted its spectrum or its Lab (D50/2°), one of the two")
        if len(desk.patches) >= PATCHES_MAX:
            raise BadInput(
                f"patch {name}: {PATCHES_MAX} patches are enough; finish the calibration"
            )
        others = [
            (patch.name, np.array(patch.counts)) for patch in desk.patches if patch.name != name
        ]
        check = guide.check_patch(
            name,
            step.counts,
            dark.counts.mean(axis=0),
            white.counts.mean(axis=0),
            _setting(desk, step),
            step.ambient.mean(axis=0),
            others,
        )
        check.require()
        kept = Patch(name, step.without_ambient(), spectrum, lab)
        desk.patches = (*(p for p in desk.patches if p.name != name), kept)
        self._bench.tell("state")
        return check

    def drop_patch(self, desk: ColourDesk, name: str) -> None:
        """Take a measured patch out again; the calibration in force stays as it is."""
        if name not in {patch.name for patch in desk.patches}:
            listed = ", ".join(patch.name for patch in desk.patches) or "none yet"
            raise BadInput(f"patch: {name!r} was not measured (there: {listed}); choose another")
        desk.patches = tuple(patch for patch in desk.patches if patch.name != name)
        self._bench.tell("state")

    async def finish(self, desk: ColourDesk) -> Calibration:
        """Fit the profile anew with the patches and put it into force."""
        if desk.profile is None or not desk.patches:
            raise BadInput("calibration: no patch measured; measure patches of the chart first")
        dark = _kept(desk.dark, "calibration: no dark in this calibration; begin with dark")
        white = _kept(desk.white, "calibration: no white tile in this calibration; measure it")
        tile = desk.profile.unit.white
        return await self._adopt(desk, await self._fitted(desk, (dark, white), tile, desk.patches))

    async def _fitted(
        self, desk: ColourDesk, steps: tuple[Step, Step], tile: Patch, patches: tuple[Patch, ...]
    ) -> UnitProfile:
        unit = unit_of(desk, steps[0], tile, patches)
        return await self._bench.apart(_profile_of, unit, [step.counts for step in steps])

    async def _adopt(self, desk: ColourDesk, profile: UnitProfile) -> Calibration:
        bench = self._bench
        calibration = Calibration(
            id=bench.new_id("calibration"),
            bench=bench.bench,
            device=desk.device,
            at_ms=bench.now_ms(),
            sensor=desk.sensor,
            unit=profile_to_json(profile),
            formula=profile.formula_version,
            temperature_c=self._air_c(bench.now_ms()),
        )
        await bench.commit([calibration])
        desk.profile, desk.calibration, self.checks = profile, calibration, []
        bench.tell("state")
        return calibration

    async def check(self, swatch: Swatch, estimate: ColourEstimate, name: str) -> Swatch:
        """Keep a look at the check tile; the first after a calibration is the reference."""
        reference = self._reference(name)
        de00 = None if reference is None else check_tile(reference, estimate).de00
        kept = replace(swatch, note=f"{CHECK_NOTE} {name}", de00=de00)
        await self._bench.commit([kept])
        self.checks.append(kept)
        self._bench.tell("state")
        return kept

    def all_checks(self) -> list[Swatch]:
        """Return every look at the check tile on record, whatever the calibration, oldest first."""
        found = self._bench.reader.all(Swatch, bench=self._bench.bench)
        return [swatch for swatch in found if swatch.note.startswith(CHECK_NOTE)]

    def trend(self) -> CheckTrend | None:
        """Return how the check tile moves since the calibration; None with fewer than two looks."""
        looks = [(s.at_ms, s.de00 or 0.0) for s in self.checks if s.note == self.checks[-1].note]
        if len({at_ms for at_ms, _ in looks}) < 2:
            return None
        return check_trend([at_ms for at_ms, _ in looks], [de00 for _, de00 in looks])

    def _reference(self, name: str) -> CheckTile | None:
        first = next((s for s in self.checks if s.note == f"{CHECK_NOTE} {name}"), None)
        return None if first is None or first.lab is None else CheckTile(name, first.lab)

    def due(self, desk: ColourDesk | None) -> tuple[str, ...]:
        """Return why the calibration is due, the weightiest reason first; empty while it holds."""
        if desk is None or desk.calibration is None or desk.profile is None:
            return ()
        minute = self._bench.now_ms() // LOOK_EVERY_MS
        asked = (desk.calibration.id, minute, len(self.checks))
        if asked != self._asked:
            self._asked, self._due = asked, self._due_now(desk, desk.calibration, desk.profile)
        return self._due

    def _due_now(
        self, desk: ColourDesk, calibration: Calibration, profile: UnitProfile
    ) -> tuple[str, ...]:
        unit, made_ms, now_ms = profile.unit, calibration.at_ms, self._bench.now_ms()
        facts = CalibrationFacts(
            made_ms,
            desk.device,
            unit.gain,
            unit.integration_ms,
            calibration.led_hours,
            calibration.temperature_c
            if calibration.temperature_c is not None
            else self._air_c(made_ms),
        )
        # No board tells how long its LED has burned: unknown must not read as not aged.
        now = replace(facts, at_ms=now_ms, led_hours=None, temperature_c=self._air_c(now_ms))
        last = self.checks[-1].de00 if self.checks else None
        rules = DueRules(hours=self._bench.settings.number("calibration_due_h"))
        return calibration_due(facts, now, rules, last_check_de00=last)

    def _air_c(self, at_ms: int) -> float | None:
        """Return the air temperature on record just before a moment."""
        rows = self._bench.reader.readings(
            self._bench.bench, at_ms - AIR_BEFORE_MS, at_ms + 1, channels=["air_temperature"]
        )
        return rows[-1].value if rows else None


def _profile_of(unit: Unit, repeats: list[FloatArray]) -> UnitProfile:
    """The unit's profile, its noise learnt from what was read more than once."""
    columns = list(unit.colour_columns())
    noise = learnt([counts[:, columns] for counts in repeats])
    return build_profile(replace(unit, noise=noise))


def _setting(desk: ColourDesk, step: Step) -> Setting:
    return Setting(desk.sensor, desk.channels, step.setting.full_scale)


def _kept(step: Step | None, words: str) -> Step:
    if step is None:
        raise BadInput(words)
    return step


def _same_setting(what: str, step: Step, dark: Step) -> None:
    if step.setting != dark.setting:
        raise CalibrationRefused(
            f"{what}: gain {step.setting.gain:g}, {step.setting.integration_ms:g} ms, but the dark "
            f"was measured at gain {dark.setting.gain:g}, {dark.setting.integration_ms:g} ms; "
            "measure the dark again"
        )


def _last_levels(desk: ColourDesk, step: Step) -> FloatArray | None:
    """Return the tile's counts above dark at the last calibration with the setting of a step."""
    if desk.profile is None:
        return None
    unit, setting = desk.profile.unit, step.setting
    if unit.gain != setting.gain or abs(unit.integration_ms - setting.integration_ms) > 0.01:
        return None
    levels: FloatArray = np.array(unit.white.counts) - np.array(unit.dark)
    return levels
