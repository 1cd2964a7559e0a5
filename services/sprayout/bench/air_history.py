"""The booth's last hours in minute steps: for the forecast, and for one probe against another."""

from collections import deque
from dataclasses import dataclass, field

import numpy as np

from sprayout.bench.booth_watch import AIR_CHANNELS, BoothWatch, Latest
from sprayout.climate.forecast import APART_K, Forecast, forecast
from sprayout.climate.probe_checks import ProbeSeries, check_probes

#: A sample every so often is kept, for so long.
STEP_MS = 20_000
HISTORY_MS = 3 * 3_600_000
FORECAST_EVERY_MS = 60_000
CHECK_EVERY_MS = 300_000
MS_PER_DAY = 86_400_000


@dataclass(slots=True)
class MarginHistory:
    """The margin to the dew point of what will be wet, and where it is going."""

    _samples: deque[tuple[int, float]] = field(default_factory=deque)
    _ahead: Forecast | None = None
    _looked_ms: int | None = None

    def look(self, monotonic_ms: int, margin_k: float | None) -> Forecast | None:
        """Take the margin now; return the forecast, worked out anew about once a minute."""
        last_ms = self._samples[-1][0] if self._samples else None
        if margin_k is not None and (last_ms is None or monotonic_ms - last_ms >= STEP_MS):
            self._samples.append((monotonic_ms, margin_k))
        while self._samples and monotonic_ms - self._samples[0][0] > HISTORY_MS:
            self._samples.popleft()
        due = self._looked_ms is None or monotonic_ms - self._looked_ms >= FORECAST_EVERY_MS
        if due or self._contradicts(margin_k):
            if margin_k is not None and self._samples[-1][0] != monotonic_ms:
                self._samples.append((monotonic_ms, margin_k))
            self._looked_ms = monotonic_ms
            self._ahead = self._forecast()
        return self._ahead

    def _contradicts(self, margin_k: float | None) -> bool:
        """Return whether the margin has left the trend since the last look: a door, most often."""
        now_k = self._ahead.now_k if self._ahead else None
        return margin_k is not None and now_k is not None and abs(margin_k - now_k) > APART_K

    def _forecast(self) -> Forecast | None:
        if not self._samples:
            return None
        times, margins = zip(*self._samples, strict=True)
        return forecast(np.array(times) / 1000.0, np.array(margins))

    def clear(self) -> None:
        """Forget: another film's margin begins."""
        self._samples.clear()
        self._ahead = self._looked_ms = None


@dataclass(slots=True)
class ProbeHistory:
    """Air temperature and humidity of each device, for holding one against another."""

    _samples: dict[str, deque[tuple[float, float, float]]] = field(default_factory=dict)
    _silent_s: dict[str, float] = field(default_factory=dict)
    _checked_ms: dict[str, int | None] = field(default_factory=dict)
    _words: tuple[str, ...] = ()
    _looked_ms: int | None = None

    def look(self, monotonic_ms: int, booth: BoothWatch, now_ms: int) -> tuple[str, ...]:
        """Take what the probes say; return what is suspect, judged every few minutes."""
        self._take(monotonic_ms, booth)
        if self._looked_ms is None or monotonic_ms - self._looked_ms >= CHECK_EVERY_MS:
            self._looked_ms = monotonic_ms
            self._words = self._check(monotonic_ms / 1000.0, now_ms)
        return self._words

    def _take(self, monotonic_ms: int, booth: BoothWatch) -> None:
        pairs: dict[str, dict[str, Latest]] = {}
        for entry in booth.all_latest():
            if entry.channel in AIR_CHANNELS:
                pairs.setdefault(entry.device, {})[entry.channel] = entry
        for device, pair in pairs.items():
            if len(pair) < len(AIR_CHANNELS):
                continue
            slowest = max(entry.silent_after_ms(booth.silent_after_ms) for entry in pair.values())
            self._silent_s[device] = slowest / 1000.0
            at_s = min(entry.arrived_ms for entry in pair.values()) / 1000.0
            air_c, rh_pct = (booth.true_value(pair[channel]) for channel in AIR_CHANNELS)
            found = booth.correction_of(pair[AIR_CHANNELS[1]])
            self._checked_ms[device] = None if found is None else found.at_ms
            samples = self._samples.setdefault(device, deque())
            if not samples or at_s - samples[-1][0] >= STEP_MS / 1000.0:
                samples.append((at_s, air_c, rh_pct))
            while monotonic_ms / 1000.0 - samples[0][0] > HISTORY_MS / 1000.0:
                samples.popleft()
                if not samples:
                    break

    def _check(self, now_s: float, now_ms: int) -> tuple[str, ...]:
        known = [device for device, samples in self._samples.items() if samples]
        series = [self._series(device, now_ms) for device in known]
        return check_probes(series, now_s).words() if series else ()

    def _series(self, device: str, now_ms: int) -> ProbeSeries:
        time_s, air_c, rh_pct = np.array(self._samples[device]).T
        # What was sampled is up to a step older than what was read.
        silent_s = self._silent_s.get(device, 0.0) + 2 * STEP_MS / 1000.0
        checked_ms = self._checked_ms.get(device)
        days = None if checked_ms is None else (now_ms - checked_ms) / MS_PER_DAY
        return ProbeSeries(device, time_s, air_c, rh_pct, days, silent_s)
