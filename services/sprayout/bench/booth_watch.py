"""The booth's latest readings, by device and channel, and what the flags are judged on.

House rules: a reading that arrives late (the broker kept it) is as old as its own time says; air
temperature and humidity are always taken from one and the same device, or the dew point would
belong to no air at all; a device that is silent is never shown in place of one that speaks.
What is remembered is what was read; what is judged is corrected by the probe's salt check.
"""

from collections.abc import Iterable
from dataclasses import dataclass, field

from sprayout.climate.corrections import in_force
from sprayout.climate.flags import BoothInputs, Measured
from sprayout.climate.salts import Correction
from sprayout.intake.events import ReadingsArrived
from sprayout.safety import interlock
from sprayout.safety.interlock import FanLimits, FanReadings, FanState

#: A probe is silent once it has missed so many of its own beats, after five minutes at the latest.
MISSED_BEFORE_SILENT = 3
SILENT_AT_MOST_MS = 300_000
#: A probe's clock may be so far ahead of ours (the intake refuses more).
AHEAD_MS = 60_000
AIR_CHANNELS = ("air_temperature", "relative_humidity")


@dataclass(frozen=True, slots=True)
class Latest:
    """The newest value of one channel of one device."""

    device: str
    channel: str
    value: float
    unit: str
    at_ms: int
    arrived_ms: int  # monotonic
    pace_ms: int = 0  # the usual time between two of its readings

    def silent_after_ms(self, least_ms: int) -> int:
        """Return the age at which this one is silent: some probes speak only every minute."""
        return min(max(least_ms, MISSED_BEFORE_SILENT * self.pace_ms), SILENT_AT_MOST_MS)

    def age_ms(self, now_ms: int, monotonic_ms: int) -> int:
        """Return the age: the larger of the time since arrival and since its own time stamp."""
        return max(monotonic_ms - self.arrived_ms, now_ms - self.at_ms, 0)


@dataclass(slots=True)
class BoothWatch:
    """Latest readings of one bench; `own_device` is preferred while it speaks."""

    silent_after_ms: int
    fan_limits: FanLimits
    own_device: str | None = None
    corrections: tuple[Correction, ...] = ()
    _latest: dict[tuple[str, str], Latest] = field(default_factory=dict)

    def take(self, arrived: ReadingsArrived, monotonic_ms: int, now_ms: int | None = None) -> None:
        """Remember what is newer than what is known.

        What is dated ahead of `now_ms` was read before the clock was set back: it gives way.
        """
        for reading in arrived.readings:
            key = (arrived.device, reading.channel)
            known = self._latest.get(key)
            ahead = known is not None and now_ms is not None and known.at_ms > now_ms + AHEAD_MS
            if known is None or reading.at_ms >= known.at_ms or ahead:
                self._latest[key] = Latest(
                    arrived.device,
                    reading.channel,
                    reading.value,
                    reading.unit,
                    reading.at_ms,
                    monotonic_ms,
                    _pace_ms(known, monotonic_ms),
                )

    def channel(self, channel: str, now_ms: int, monotonic_ms: int) -> Latest | None:
        """Return the channel's reading from the device that speaks for it, or None."""
        found = [entry for (_, name), entry in self._latest.items() if name == channel]
        if channel in AIR_CHANNELS:
            device = self.air_device(now_ms, monotonic_ms)
            found = [entry for entry in found if entry.device == device]
        return self.best(found, now_ms, monotonic_ms)

    def air_device(self, now_ms: int, monotonic_ms: int) -> str | None:
        """Return the device whose air temperature and humidity are used, or None."""
        devices = {device for device, _ in self._latest}
        pairs = [older for device in devices if (older := self._older_of_pair(device)) is not None]
        best = self.best(pairs, now_ms, monotonic_ms)
        return best.device if best else None

    def _older_of_pair(self, device: str) -> Latest | None:
        pair = [self._latest.get((device, channel)) for channel in AIR_CHANNELS]
        there = [entry for entry in pair if entry is not None]
        return min(there, key=lambda entry: entry.at_ms) if len(there) == len(pair) else None

    def best(self, found: Iterable[Latest], now_ms: int, monotonic_ms: int) -> Latest | None:
        """Return the entry that speaks for the booth: one that is not silent, the board's own."""

        def rank(entry: Latest) -> tuple[bool, bool, int]:
            return (
                not self.is_silent(entry, now_ms, monotonic_ms),
                entry.device == self.own_device,
                entry.at_ms,
            )

        return max(found, key=rank, default=None)

    def is_silent(self, entry: Latest, now_ms: int, monotonic_ms: int) -> bool:
        """Return whether a reading is too old to stand for the present."""
        limit_ms = entry.silent_after_ms(self.silent_after_ms)
        return entry.age_ms(now_ms, monotonic_ms) > limit_ms

    def air_silent_after_ms(self, now_ms: int, monotonic_ms: int) -> int:
        """Return the age at which the air of the booth counts as not read."""
        air = self.channel(AIR_CHANNELS[0], now_ms, monotonic_ms)
        return self.silent_after_ms if air is None else air.silent_after_ms(self.silent_after_ms)

    def all_latest(self) -> list[Latest]:
        """Return every latest reading, ordered by device and channel."""
        return [self._latest[key] for key in sorted(self._latest)]

    def measured(self, channel: str, now_ms: int, monotonic_ms: int) -> Measured | None:
        """Return value and age for the flags; None where the bench has no such channel."""
        latest = self.channel(channel, now_ms, monotonic_ms)
        if latest is None:
            return None
        return Measured(self.true_value(latest), latest.age_ms(now_ms, monotonic_ms))

    def correction_of(self, entry: Latest) -> Correction | None:
        """Return the salt check that counts for a humidity reading, None for anything else."""
        if entry.channel != AIR_CHANNELS[1]:
            return None
        return in_force(self.corrections, entry.device, entry.at_ms)

    def true_value(self, entry: Latest) -> float:
        """Return the value that counts: as read, or corrected by the probe's salt check."""
        found = self.correction_of(entry)
        return entry.value if found is None else found.apply(entry.value)

    def fan(self, now_ms: int, monotonic_ms: int) -> FanState:
        """Return whether the fan is confirmed by what was read of late."""

        def reading(channel: str) -> interlock.Reading | None:
            measured = self.measured(channel, now_ms, monotonic_ms)
            if measured is None or measured.age_ms is None:
                return None
            return interlock.Reading(measured.value, measured.age_ms / 1000)

        pressure = reading("booth_pressure")
        if pressure is not None and pressure.value is not None:
            # Which way round the two hoses are pushed on is anybody's guess: suction either way.
            pressure = interlock.Reading(-abs(pressure.value), pressure.age_s)
        readings = FanReadings(reading("air_speed"), pressure, reading("fan_power"))
        return interlock.evaluate(readings, self.fan_limits)

    def inputs(
        self,
        now_ms: int,
        monotonic_ms: int,
        *,
        calibration_age_days: float | None,
        fan_wanted: bool | None,
    ) -> BoothInputs:
        """Return what the flags are judged on at this moment."""

        def measured(channel: str) -> Measured | None:
            return self.measured(channel, now_ms, monotonic_ms)

        fan = self.fan(now_ms, monotonic_ms)
        return BoothInputs(
            air_c=measured("air_temperature") or Measured.missing(),
            rh_pct=measured("relative_humidity") or Measured.missing(),
            part_c=measured("part_temperature"),
            fan_state=fan.state,
            fan_words=fan.words,
            calibration_age_days=calibration_age_days,
            fan_wanted=fan_wanted,
            silent_after_ms=self.air_silent_after_ms(now_ms, monotonic_ms),
        )


def _pace_ms(known: Latest | None, monotonic_ms: int) -> int:
    """Return the smoothed time between readings; a long gap counts for little, it is no pace."""
    if known is None:
        return 0
    passed_ms = monotonic_ms - known.arrived_ms
    if known.pace_ms == 0:
        return min(passed_ms, SILENT_AT_MOST_MS)
    return round(0.8 * known.pace_ms + 0.2 * min(passed_ms, 2 * known.pace_ms))
