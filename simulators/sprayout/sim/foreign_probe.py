"""A climate probe of another make that publishes to the broker in its own words.

It knows nothing of us: its own topic, its own JSON keys, its own pace.  It has bad moments, as
such devices do; they are values in a list.  It uses a real MQTT client over a real socket in a
thread of its own and waits for a broker that is not there.
"""

import json
import queue
import threading
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Literal

import paho.mqtt.client as mqtt
from paho.mqtt.enums import CallbackAPIVersion
from paho.mqtt.reasoncodes import ReasonCode

from sprayout.errors import BadInput, LinkError

FaultKind = Literal["text", "nan", "silence", "absurd", "broken"]
CONNECT_S = 10.0
FAULT_KINDS: tuple[FaultKind, ...] = ("text", "nan", "silence", "absurd", "broken")


@dataclass(frozen=True, slots=True)
class ProbeFault:
    """A bad moment: ``kind`` from ``from_s`` until ``until_s`` of simulated time.

    ``text``: words where numbers belong; ``nan``: a bare NaN; ``absurd``: -300 °C and 140 %RH;
    ``broken``: half a message; ``silence``: nothing at all.
    """

    kind: FaultKind
    from_s: float
    until_s: float

    def __post_init__(self) -> None:
        """Refuse unknown kinds and times that run backwards."""
        if self.kind not in FAULT_KINDS:
            raise BadInput(f"fault: got {self.kind!r}, wanted one of {', '.join(FAULT_KINDS)}")
        if not 0.0 <= self.from_s < self.until_s:
            raise BadInput(
                f"fault {self.kind}: from {self.from_s!r} s until {self.until_s!r} s, wanted 0 or "
                "more and an end after the start"
            )


@dataclass(frozen=True, slots=True)
class ProbeSettings:
    """How the device was set up by its owner.

    ``interval_s`` is simulated seconds between messages; ``speed`` simulated seconds per real
    one (it only decides how long to wait).
    """

    host: str = "127.0.0.1"
    port: int = 1883
    topic: str = "workshop/yard-door-sensor/state"
    interval_s: float = 30.0
    speed: float = 1.0
    temperature_key: str = "temperature"
    humidity_key: str = "hum"
    client_id: str = "yard-door-sensor"
    username: str | None = None
    password: str | None = None

    def __post_init__(self) -> None:
        """Check port, topic, pace and keys."""
        if not self.host or not 1 <= self.port <= 65535:
            raise BadInput(f"probe: broker is {self.host!r}:{self.port!r}, wanted a host and a "
                           "port from 1 to 65535")  # fmt: skip
        if not self.topic or any(sign in self.topic for sign in "#+\0"):
            raise BadInput(f"probe: topic is {self.topic!r}, wanted one without # and +")
        if not (0.05 <= self.interval_s <= 86_400.0 and 0.01 <= self.speed <= 10_000.0):
            raise BadInput(
                f"probe: interval is {self.interval_s!r} s at speed {self.speed!r}, wanted 0.05 to "
                "86400 s and 0.01 to 10000"
            )
        if not self.temperature_key or self.temperature_key == self.humidity_key:
            raise BadInput("probe: keys are equal or empty, wanted two different ones")


def message(
    settings: ProbeSettings, air_c: float, rh_pct: float, fault: ProbeFault | None
) -> bytes | None:
    """The payload this device would send now; None when it keeps silent."""
    kind = fault.kind if fault else None
    if kind == "silence":
        return None
    values: tuple[object, object] = (round(air_c, 1), round(rh_pct, 1))
    if kind == "text":
        values = ("warming up", "n/a")
    elif kind == "nan":
        values = (float("nan"), float("nan"))
    elif kind == "absurd":
        values = (-300.0, 140.0)
    body = {
        settings.temperature_key: values[0],
        settings.humidity_key: values[1],
        "battery_v": 2.91,
        "place": "yard door",
    }
    payload = json.dumps(body, ensure_ascii=False).encode()
    return payload[: len(payload) // 2] if kind == "broken" else payload


class ForeignProbe:
    """The device: ``start`` it, ``stop`` it; between them it publishes on its own.

    ``sample`` gives (°C, %RH) as the device feels them now; ``clock`` simulated seconds.
    """

    def __init__(
        self,
        sample: Callable[[], tuple[float, float]],
        clock: Callable[[], float],
        settings: ProbeSettings,
        faults: Sequence[ProbeFault] = (),
    ) -> None:
        self._sample, self._clock = sample, clock
        self._settings, self._faults = settings, tuple(faults)
        self._stopping = threading.Event()
        self._thread: threading.Thread | None = None
        self._client = mqtt.Client(CallbackAPIVersion.VERSION2, client_id=settings.client_id)
        if settings.username is not None:
            self._client.username_pw_set(settings.username, settings.password)
        self._answers: queue.SimpleQueue[ReasonCode] = queue.SimpleQueue()
        self._client.on_connect = lambda _c, _u, _f, reason, _p: self._answers.put(reason)
        self._last: mqtt.MQTTMessageInfo | None = None
        self._published = 0

    @property
    def published(self) -> int:
        """How many messages the broker was given so far."""
        return self._published

    def start(self) -> None:
        """Connect and begin; LinkError if no broker answers or it refuses the device."""
        if self._thread is not None:
            raise BadInput("probe: it is running already, wanted it stopped; stop it first")
        self._connect(f"{self._settings.host}:{self._settings.port}")
        self._stopping.clear()
        self._thread = threading.Thread(target=self._run, name="foreign-probe", daemon=True)
        self._thread.start()

    def _connect(self, where: str) -> None:
        try:
            self._client.connect(self._settings.host, self._settings.port, keepalive=30)
        except OSError as error:
            raise LinkError(
                f"foreign probe: no broker answers at {where} ({error}); start the broker first"
            ) from error
        self._client.loop_start()
        try:
            reason = self._answers.get(timeout=CONNECT_S)
        except queue.Empty:
            words = "it does not answer"
        else:
            if not reason.is_failure:
                return
            words = f"it says {reason}"
        self._client.loop_stop()
        raise LinkError(
            f"foreign probe: the broker at {where} lets it not in: {words}; check the probe's "
            "name and password"
        )

    def stop(self) -> None:
        """Stop publishing and leave the broker once it has the last message; may be repeated."""
        self._stopping.set()
        if self._thread is not None:
            self._thread.join(timeout=5.0)
            if (
                self._last
                and self._last.rc == mqtt.MQTT_ERR_SUCCESS
                and self._client.is_connected()
            ):
                self._last.wait_for_publish(timeout=CONNECT_S)
            self._client.disconnect()
            self._client.loop_stop()
            self._thread = None

    def _run(self) -> None:
        """One message per interval of simulated time; late ones are skipped, not caught up."""
        due_s = self._clock()
        while not self._stopping.is_set():
            now_s = self._clock()
            if now_s >= due_s:
                self._publish(now_s)
                missed = int((now_s - due_s) / self._settings.interval_s)
                due_s += (missed + 1) * self._settings.interval_s
            wait_s = (due_s - now_s) / self._settings.speed
            self._stopping.wait(min(max(wait_s, 0.001), 0.25))

    def _publish(self, now_s: float) -> None:
        air_c, rh_pct = self._sample()
        fault = next((f for f in self._faults if f.from_s <= now_s < f.until_s), None)
        payload = message(self._settings, air_c, rh_pct, fault)
        if payload is None:
            return
        self._last = self._client.publish(self._settings.topic, payload, qos=1)
        self._published += 1
