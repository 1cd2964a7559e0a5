"""An arrival as the journal keeps it: the readings and, for a colour, how they were taken.

Counts without their gain and without the light that was there with the LED off say nothing, so
these stand on record beside them, under the names they also have over MQTT.
"""

from sprayout.intake.events import ReadingsArrived
from sprayout.journal.records import Reading
from sprayout.link.colour_senml import ColourSetting, colour_to_records
from sprayout.link.senml import Record


def rows_of(event: ReadingsArrived, bench: str) -> list[Reading]:
    """Return every value of the arrival as a reading of `bench`."""
    rows = [
        Reading(bench, event.device, row.channel, row.value, row.unit, row.at_ms)
        for row in event.readings
    ]
    detail = event.colour
    if detail is None or not rows:
        return rows
    counts = [Record(row.channel, row.unit, row.value) for row in event.readings]
    names = [row.channel for row in event.readings]
    taken = colour_to_records(
        counts,
        ColourSetting(
            gain=detail.gain,
            integration_ms=detail.integration_ms,
            full_scale=detail.full_scale,
            light=detail.light,
            saturated=detail.saturated,
            ambient=dict(zip(names, detail.ambient, strict=False)),
        ),
    )[len(counts) :]
    at_ms = event.readings[0].at_ms
    return rows + [
        Reading(bench, event.device, record.name, record.value, record.unit or "/", at_ms)
        for record in taken
    ]
