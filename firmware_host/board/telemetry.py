"""Readings over Wi-Fi: what the board measured, with the time it was measured, until a broker
has acknowledged it.

While the broker is away packs wait in a bounded buffer, measured less often; the oldest go first
when it is full.  Without a known time nothing is measured for the broker: a pack that carried no
time would count as live whenever it arrived.
"""

import json

from registers import PartFault
from tasks import Interval

EVERY_MS = 2000
EVERY_AWAY_MS = 5000
MOST_WAITING = 150  # at 5 s: twelve minutes
_CLIMATE = ("climate", "part", "airflow")


class Telemetry:
    """``network`` offers ``step()``, ``up()`` and ``unix_ms()``: (seconds, ms) or None."""

    def __init__(self, program, network, broker, clock):
        self.program = program
        self.network = network
        self.broker = broker
        self.buffer = []
        self.measured = 0
        self.lost = 0
        self._every = Interval(clock)
        self._every.set(EVERY_AWAY_MS)

    def step(self):
        """Measure when due, send what waits."""
        self.network.step()
        if self.network.up():
            self.broker.step()
        else:
            self.broker.rest()
        wanted = EVERY_MS if self.broker.up() else EVERY_AWAY_MS
        if self._every.every_ms != wanted:
            self._every.set(wanted)
        if self._every.due() and self.network.unix_ms():
            self.program.add_climate_job(self._climate())
        if self.buffer and self.broker.payload is None and self.broker.up():
            self.broker.send(self.buffer.pop(0))

    def pressed(self):
        """The push button measures a colour for the broker."""
        if self.network.unix_ms():
            self.program.add_colour_job(self._colour())

    def _climate(self):
        at = self.network.unix_ms()
        records, _ = yield from self.program.probe.measure(_CLIMATE)
        self._keep(records, at)

    def _colour(self):
        at = self.network.unix_ms()
        try:
            pack = yield from self.program.colour.measure()
        except PartFault:
            return  # said already, by the part
        self._keep(colour_records(pack), at)

    def _keep(self, records, at):
        if not records:
            return
        seconds, ms = at
        # Seconds as the integer base: a single-precision float cannot hold them.
        records[0]["bt"] = seconds
        if ms:
            for record in records:
                record["t"] = ms / 1000
        self.measured += 1
        if len(self.buffer) >= MOST_WAITING:
            self.buffer.pop(0)
            self.lost += 1
        self.buffer.append(json.dumps(records, separators=(",", ":")).encode())


def colour_records(pack):
    """Counts, and beside them how they were taken, as records of their own."""
    channels = [record["n"] for record in pack["senml"]]
    records = pack["senml"] + [
        {"n": "gain", "u": "/", "v": pack["gain"]},
        {"n": "integration_time", "u": "s", "v": pack["integration_ms"] / 1000},
        {"n": "full_scale", "u": "count", "v": pack["full_scale"]},
        {"n": "light", "u": "/", "v": 1},
    ]
    for at, channel in enumerate(channels):
        records.append({"n": channel + "/ambient", "u": "count", "v": pack["ambient"][at]})
    for channel in pack["saturated"]:
        records.append({"n": channel + "/saturated", "u": "/", "v": 1})
    return records
