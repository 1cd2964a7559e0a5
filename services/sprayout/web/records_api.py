"""What is on record, for the page and for other programs."""

from typing import Annotated, Any

from fastapi import APIRouter, Query

from sprayout.errors import BadInput
from sprayout.journal.records import Swatch, Target
from sprayout.journal.records_json import format_time, parse_time, to_json
from sprayout.station import Station
from sprayout.web.dew_strip import with_dew_point
from sprayout.web.snapshot import coat_brief, coat_json, target_json

Json = dict[str, Any]
Limit = Annotated[int, Query(ge=1, le=1000)]


def router(station: Station) -> APIRouter:
    """Return the routes."""
    routes = APIRouter(prefix="/api", tags=["record"])
    read = station.reader

    @routes.get("/coats")
    def coats(limit: Limit = 50, brief: bool = False) -> list[Json]:
        """Return the coats, newest first, each with its conditions; brief: without raw channels."""
        drawn = coat_brief if brief else coat_json
        return [drawn(entry) for entry in read.coats(station.bench, limit=limit)]

    @routes.get("/coats/{coat_id}")
    def coat(coat_id: str) -> Json:
        """Return one coat."""
        entry = read.coat(coat_id)
        if entry is None:
            raise BadInput(f"coat: got {coat_id!r}, wanted one on record; see /api/coats")
        return coat_json(entry)

    @routes.get("/targets")
    def targets(limit: Limit = 50) -> list[Json]:
        """Return the targets, newest first."""
        found = read.all(Target, bench=station.bench, newest=True, limit=limit)
        return [row for target in found if (row := target_json(target))]

    @routes.get("/swatches/{swatch_id}")
    def swatch(swatch_id: str) -> Json:
        """Return one swatch with its raw counts."""
        found = read.get(Swatch, swatch_id)
        if found is None:
            raise BadInput(f"swatch: got {swatch_id!r}, wanted one on record")
        return to_json(found)

    @routes.get("/strip")
    def strip(
        channel: Annotated[list[str], Query(min_length=1, max_length=12)],
        start: Annotated[str, Query(alias="from", examples=["2026-09-04T18:00:00Z"])],
        end: Annotated[str, Query(alias="to", examples=["2026-09-04T20:00:00Z"])],
        points: Annotated[int, Query(ge=2, le=4000)] = 720,
    ) -> Json:
        """Return channels over time as columns for a chart; null is a gap."""
        from_ms, to_ms = parse_time(start), parse_time(end)
        if from_ms >= to_ms:
            raise BadInput(f"strip: from {start} is not before to {end}; swap them")
        strip = read.strip(station.bench, channel, from_ms, to_ms, points=points)
        found = with_dew_point(strip, station.watching.booth.corrections)
        return {
            "at": [format_time(at) for at in found.at_ms],
            "resolution": found.resolution,
            "channels": [
                {
                    "device": c.device,
                    "channel": c.channel,
                    "unit": c.unit,
                    "mean": list(c.mean),
                    "low": list(c.low),
                    "high": list(c.high),
                }
                for c in found.channels
            ],
        }

    return routes
