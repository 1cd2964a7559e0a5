"""The board's program: one loop that never blocks and never floods the cable.

The host pulls.  ``step`` does what is due and says how many milliseconds it may be left alone.
Everything it touches is an argument: the cable's port, the I2C bus, the clock, button and lamp.
"""

from climate import ClimateProbe
from colour import ColourMeter
from frames import Receiver
from host_requests import (
    BUSY,
    INVALID_PARAMS,
    INVALID_REQUEST,
    PART_FAILED,
    ROLES,
    UNKNOWN_METHOD,
    Refused,
    in_range,
    parse,
    part_failed,
    roles_of,
    take,
)
from outbox import Outbox
from parts import Part
from registers import PartFault
from self_test import self_test
from tasks import Interval, Lane

PROTOCOL = 1
FIRMWARE = "0.1.0"
_LAST_SEQUENCE = (1 << 29) - 1
_FASTEST_COLOUR_MS = 100
_FASTEST_CLIMATE_MS = 50
_SLOWEST_MS = 3600000
_WATCH_MS = 100  # how often lost parts are looked at


class Program:
    """``drivers``: role -> driver classes; ``needed``: roles whose absence is a fault.

    ``port`` offers ``read() -> bytes`` and ``write(bytes) -> int taken``, neither of which waits.
    ``clock`` offers MicroPython's ``ticks_ms``, ``ticks_diff`` and ``ticks_add``.
    """

    def __init__(self, port, bus, clock, device, drivers, needed, button, recover_bus, lamp=None):
        self.port = port
        self.clock = clock
        self.device = device
        self.button = button
        self.receiver = Receiver()
        self.outbox = Outbox(port, clock)
        self.sequence = -1
        self.uptime_ms = 0
        self.troubles = 0
        self.telemetry = None  # set where the board has a radio
        self._last_tick = clock.ticks_ms()
        self.parts = {
            role: Part(role, drivers[role], role in needed, bus, clock, recover_bus, self._fault)
            for role in ROLES
        }
        for chip in self.parts["colour"].drivers:
            if hasattr(chip, "lamp"):
                chip.lamp = lamp
        self.colour = ColourMeter(self.parts["colour"], 12, 20)
        self.probe = ClimateProbe(self.parts)
        self.started = False
        self._colour_lane, self._climate_lane, self._repair_lane = (Lane(clock) for _ in range(3))
        self._lanes = (self._colour_lane, self._climate_lane, self._repair_lane)
        self._repair_lane.add(self._keep_parts())
        self._colour_every, self._climate_every = Interval(clock), Interval(clock)
        self._methods = {
            "hello": self._hello,
            "configure": self._configure,
            "measure": self._measure,
            "stream": self._stream,
            "self_test": self._self_test,
        }

    # The loop

    def step(self):
        """Do what is due; milliseconds until the next step is."""
        now = self.clock.ticks_ms()
        self.uptime_ms += self.clock.ticks_diff(now, self._last_tick)
        self._last_tick = now
        self._listen()
        if self.button.pressed():
            self._notify("button", "button", {"count": self.button.count})
            if self.telemetry:
                self.telemetry.pressed()
        if self.telemetry:
            self.telemetry.step()
        if self._colour_every.due() and self._colour_lane.idle():
            self._colour_lane.add(self._stream_reading(["colour"]))
        if self._climate_every.due() and self._climate_lane.idle():
            self._climate_lane.add(self._stream_reading(["climate", "part", "airflow"]))
        for lane in self._lanes:
            lane.step()
        left = self.outbox.send()
        wait_ms = 2 if left else self.button.poll_ms
        for waiting in self._lanes + (self._colour_every, self._climate_every):  # noqa: RUF005
            wait_ms = min(wait_ms, waiting.wait_ms())
        return wait_ms

    def trouble(self, failure):
        """Say that the program itself stumbled; the loop goes on.  Ever less often, should it
        stumble at every step: at the 1st, 2nd, 4th, 8th… time."""
        self.troubles += 1
        if self.troubles & (self.troubles - 1) == 0:
            self._fault("program", repr(failure)[:80], self.troubles)

    def add_climate_job(self, job):
        """A reading for others than the cable; left out where one is under way."""
        if self._climate_lane.idle():
            self._climate_lane.add(job)

    def add_colour_job(self, job):
        if self._colour_lane.idle():
            self._colour_lane.add(job)

    def _listen(self):
        if self.outbox.full():
            return  # the host does not read: let it wait with its questions, too
        for text in self.receiver.feed(self.port.read()):
            request = None
            try:
                request = parse(text)
                self._carry_out(request)
            except Refused as refused:
                if request is None or request.number is not None:
                    number = request.number if request else None
                    self.outbox.refuse(number, refused.code, refused.words)

    def _carry_out(self, request):
        """Start the work that answers ``request``."""
        method = self._methods.get(request.method) if isinstance(request.method, str) else None
        if not isinstance(request.method, str):
            raise Refused(INVALID_REQUEST, "method must be a name")
        if method is None:
            raise Refused(
                UNKNOWN_METHOD, "unknown method; known: " + ", ".join(sorted(self._methods))
            )
        lane, work = method(request.params)
        if lane.full():
            raise Refused(BUSY, "%d requests wait already; ask again" % len(lane.waiting))
        lane.add(self._answer(request.number, work))

    def _answer(self, number, work):
        try:
            result = yield from work
        except Refused as refused:
            if number is not None:
                self.outbox.refuse(number, refused.code, refused.words)
        except (OSError, PartFault) as failure:
            if number is not None:
                self.outbox.refuse(number, PART_FAILED, part_failed(failure).words)
        else:
            if number is not None:
                self.outbox.answer(number, result)

    # Requests: each returns the lane it runs in and the work

    def _hello(self, params):
        protocol = take(params, ("protocol",)).get("protocol")
        if protocol != PROTOCOL:
            raise Refused(INVALID_PARAMS, "protocol must be %d, firmware %s" % (PROTOCOL, FIRMWARE))
        return self._climate_lane, self._introduce()

    def _introduce(self):
        while not self.started:
            yield 2
        chip = self.parts["colour"].chip
        return {
            "protocol": PROTOCOL,
            "firmware": FIRMWARE,
            "device": self.device,
            "sensor": chip.sensor if chip else "none",
            "channels": list(chip.channels) if chip else [],
            "chips": [
                {
                    "role": part.role,
                    "chip": part.chip.name,
                    "address": part.chip.address,
                    "identity": part.identity,
                }
                for part in [self.parts[role] for role in ROLES]  # dictionaries have no order here
                if part.chip
            ],
            "uptime_ms": self.uptime_ms,
        }

    def _configure(self, params):
        take(params, ("gain", "integration_ms", "led_ma"))
        return self._colour_lane, self._set_up(params)

    def _set_up(self, params):
        """All of it is checked before any of it is taken."""
        while not self.started:
            yield 2
        meter, chip = self.colour, self.parts["colour"].working()
        gain = params.get("gain", meter.gain)
        if gain not in (None, "auto") and not (gain is not True and gain in chip.gains):
            gains = ", ".join(str(known) for known in chip.gains)
            raise Refused(INVALID_PARAMS, "gain must be auto or one of: " + gains)
        integration_ms, led_ma = meter.integration_ms, meter.led_ma
        if "integration_ms" in params:
            low, high = chip.integration_limits_ms
            integration_ms = in_range("integration_ms", params["integration_ms"], low, high)
        if "led_ma" in params:
            low, high = chip.lamp_limits_ma[0], min(chip.lamp_limits_ma[1], meter.lamp_limit_ma)
            led_ma = chip.nearest_lamp_ma(in_range("led_ma", params["led_ma"], low, high))
        meter.integration_ms, meter.led_ma = integration_ms, led_ma
        if gain != "auto":
            meter.gain = gain
            return meter.in_force(chip)
        chosen = yield from meter.choose_gain()
        if chosen is None:
            raise Refused(PART_FAILED, "too much light even at the lowest gain; lower led_ma")
        return chosen

    def _measure(self, params):
        roles = roles_of(params)
        lane = self._colour_lane if roles == ["colour"] else self._climate_lane
        return lane, self._pack(roles)

    def _pack(self, roles):
        """A pack with what answered; PartFault when nothing did."""
        while not self.started:
            yield 2
        if roles == ["colour"]:
            pack = yield from self.colour.measure()
        else:
            records, missing = yield from self.probe.measure(roles)
            if not records:
                raise PartFault("; ".join(missing))
            pack = {"senml": records}
        pack["sequence"] = self._next_sequence()
        return pack

    def _stream(self, params):
        take(params, ("colour_ms", "climate_ms"))
        for name in params:
            in_range(name, params[name], 0, _SLOWEST_MS)
        return self._climate_lane, self._set_stream(params)

    def _set_stream(self, params):
        while not self.started:
            yield 2
        fastest = max(_FASTEST_COLOUR_MS, self.colour.measuring_ms())
        series = (
            ("colour_ms", self._colour_every, fastest),
            ("climate_ms", self._climate_every, _FASTEST_CLIMATE_MS),
        )
        for name, interval, limit in series:
            if name in params:
                asked = int(params[name])
                interval.set(max(asked, limit) if asked else 0)
        return {name: interval.every_ms for name, interval, _ in series}

    def _self_test(self, params):
        take(params, ())
        return self._colour_lane, self_test(self)

    # What the board says by itself

    def _stream_reading(self, roles):
        try:
            pack = yield from self._pack(roles)
        except PartFault:
            return  # said already, by the part
        self.outbox.notify("reading", roles[0], pack)

    def _fault(self, role, words, count):
        self._notify("fault", "fault " + role, {"part": role, "words": words, "count": count})

    def _notify(self, method, topic, params):
        params["sequence"] = self._next_sequence()
        self.outbox.notify(method, topic, params)

    def _next_sequence(self):
        self.sequence = (self.sequence + 1) & _LAST_SEQUENCE
        return self.sequence

    def _keep_parts(self):
        """Start what is there, and start again what was lost; never ends."""
        while True:
            for role in ROLES:
                if self.parts[role].due():
                    yield from self.parts[role].start()
            self.started = True
            yield _WATCH_MS
