"""Findings, what lay behind them, and the report of a piece over HTTP."""

from __future__ import annotations

import base64
import binascii
from typing import Annotated, Any, Literal

from fastapi import APIRouter, Query
from fastapi.responses import HTMLResponse, Response
from pydantic import Field

from sprayout.errors import BadInput
from sprayout.journal import records as r
from sprayout.journal.records_json import format_time, to_json
from sprayout.review.defects import defect_named
from sprayout.review.dossier import read_dossier
from sprayout.review.history import BenchHistory, coat_on_record, read_history
from sprayout.review.inquiry import review_coat, review_piece
from sprayout.review.over_time_json import over_time_to_json
from sprayout.review.report_html import PICTURES, report_html
from sprayout.review.review_json import defects_to_json, finding_to_json, with_cautions
from sprayout.review.traces import traces_of
from sprayout.station import Station
from sprayout.web.forms import LARGEST_PHOTO, Form, Name

Json = dict[str, Any]
Paper = Annotated[Literal["a4", "letter"], Query()]


class NewPhoto(Form):
    """A picture with its bytes in base64."""

    media_type: Literal["image/jpeg", "image/png", "image/webp", "image/gif"]
    data_base64: str = Field(min_length=4, max_length=LARGEST_PHOTO * 4 // 3 + 4)


class NewFinding(Form):
    """A defect seen: `defect` by trade name or key, `piece` and its `part` by id or name."""

    piece: Name
    coat: str | None = Field(default=None, max_length=200)
    part: str | None = Field(default=None, min_length=1, max_length=200)
    defect: Name
    severity: Literal["slight", "plain", "severe"] | None = None
    place: str = Field(default="", max_length=200)
    note: str = Field(default="", max_length=2000)
    person: str | None = Field(default=None, max_length=80)
    photo: NewPhoto | None = None


def router(station: Station) -> APIRouter:
    """Return the routes."""
    routes = APIRouter(prefix="/api", tags=["review"])
    remembered = _Remembered(station)
    _findings(routes, station)
    _reviews(routes, station, remembered)
    _reports(routes, station)
    return routes


class _Remembered:
    """The bench's history, read anew after anything has happened at the bench."""

    def __init__(self, station: Station) -> None:
        self._station = station
        self._history: BenchHistory | None = None
        station.listeners.append(self._hear)

    def _hear(self, kind: str, value: object = None) -> None:
        if kind == "state":
            self._history = None

    def history(self) -> BenchHistory:
        """Every coat of the bench."""
        held = self._history
        if held is None:
            held = read_history(self._station.reader, self._station.bench)
            self._history = held
        return held

    def of(self, bench: str) -> BenchHistory | None:
        """The bench's own history; None for another bench of the same store."""
        return self.history() if bench == self._station.bench else None


def _findings(routes: APIRouter, station: Station) -> None:
    read = station.reader

    @routes.get("/defects")
    def defects() -> list[Json]:
        """Return the findings by trade name, each with its description and drawing."""
        return defects_to_json()

    @routes.get("/pieces")
    def pieces(limit: Annotated[int, Query(ge=1, le=1000)] = 200) -> list[Json]:
        """Return the pieces, newest first, with how many coats and findings each has."""
        found = read.all(r.Piece, bench=station.bench, newest=True, limit=limit)
        counted = _count(read.all(r.Coat, bench=station.bench))
        seen = _count(read.all(r.Finding, bench=station.bench))
        return [
            {**to_json(piece), "coats": counted.get(piece.id, 0), "findings": seen.get(piece.id, 0)}
            for piece in found
        ]

    @routes.post("/findings")
    async def enter(form: NewFinding) -> Json:
        """Put a finding on record; it answers once it is there."""
        records = _entered(station, form)
        await station.commit(records)
        station.tell("state")
        finding = records[-1]
        assert isinstance(finding, r.Finding)
        return finding_to_json(finding)

    @routes.get("/findings")
    def findings(
        piece: str | None = None,
        coat: str | None = None,
        limit: Annotated[int, Query(ge=1, le=1000)] = 200,
    ) -> list[Json]:
        """Return the findings, newest first, of one piece or coat where asked."""
        asked = {"piece": piece, "coat": coat}
        given = {k: v for k, v in asked.items() if v is not None}
        found = read.all(r.Finding, bench=station.bench, newest=True, limit=limit, **given)
        return [finding_to_json(f) for f in found]

    @routes.get("/photos/{photo_id}")
    def photo(photo_id: str) -> Response:
        """Return a picture as it was given."""
        found = read.get(r.Photo, photo_id)
        if found is None or found.media_type not in PICTURES:
            raise BadInput(f"photo: got {photo_id!r}, wanted one on record; see the findings")
        kept = {"X-Content-Type-Options": "nosniff"}
        return Response(found.data, media_type=found.media_type, headers=kept)


def _count(records: list[r.Coat] | list[r.Finding]) -> dict[str, int]:
    counted: dict[str, int] = {}
    for record in records:
        counted[record.piece] = counted.get(record.piece, 0) + 1
    return counted


def _entered(station: Station, form: NewFinding) -> list[r.Photo | r.Finding]:
    defect = defect_named(form.defect)
    piece = station.dividing.piece(form.piece)
    if form.coat is not None and coat_on_record(station.reader, form.coat).piece != piece.id:
        raise BadInput(
            f"coat: got {form.coat!r}, wanted a coat of {piece.name}; choose one of its coats"
        )
    part = None if form.part is None else station.dividing.part(piece, form.part).id
    photo = None if form.photo is None else _photo(station, form.photo)
    finding = r.Finding(
        id=station.new_id("finding"),
        bench=station.bench,
        piece=piece.id,
        defect=defect.name,
        at_ms=station.now_ms(),
        part=part,
        coat=form.coat,
        severity=form.severity,
        place=" ".join(form.place.split()),
        photo=photo.id if photo else None,
        person=form.person,
        note=form.note.strip(),
    )
    return [finding] if photo is None else [photo, finding]


def _photo(station: Station, form: NewPhoto) -> r.Photo:
    try:
        data = base64.b64decode(form.data_base64, validate=True)
    except (binascii.Error, ValueError) as error:
        raise BadInput(f"photo: not base64 ({error}); send the picture again") from error
    return r.Photo(
        id=station.new_id("photo"),
        bench=station.bench,
        media_type=form.media_type,
        data=data,
        at_ms=station.now_ms(),
    )


def _reviews(routes: APIRouter, station: Station, remembered: _Remembered) -> None:
    read, region = station.reader, station.settings.text("region")

    @routes.get("/review")
    def review(
        coat: str | None = None, piece: str | None = None, defect: str | None = None
    ) -> Json:
        """Say what lay behind a coat's or a piece's findings (contract 8)."""
        if (coat is None) == (piece is None):
            got = "neither" if coat is None else "both"
            raise BadInput(f"review: got {got} of coat and piece, wanted one of them")
        if coat is not None:
            known = remembered.of(coat_on_record(read, coat).bench)
            return with_cautions(review_coat(read, coat, defect, known), region)
        found = read.get(r.Piece, piece or "")
        known = remembered.of(found.bench) if found else None
        return with_cautions(review_piece(read, piece or "", defect, known), region)

    @routes.get("/review/strips")
    def strips(coat: str) -> Json:
        """Return the strip of a coat, each channel with the usual range of the good coats."""
        found = coat_on_record(read, coat)
        return {
            "coat": coat,
            "from": format_time(found.start_ms),
            "to": format_time(found.end_ms) if found.end_ms is not None else None,
            "channels": [
                {
                    "channel": trace.channel,
                    "words": trace.words,
                    "unit": trace.unit,
                    "at_min": _minutes(found, len(trace.mean)),
                    "mean": list(trace.mean),
                    "usual_low": trace.usual_low,
                    "usual_high": trace.usual_high,
                    "n_usual": trace.n_usual,
                }
                for trace in traces_of(read, found, remembered.of(found.bench))
            ],
        }

    @routes.get("/review/over-time")
    def over_time() -> Json:
        """Return what goes with which finding, colour drift, evenings and what a good one was."""
        known = remembered.history()
        return with_cautions(over_time_to_json(known.facts, known.cups), region)


def _minutes(coat: r.Coat, points: int) -> list[float]:
    """Start of each bucket of the strip, in minutes since the coat began."""
    whole = ((coat.end_ms or coat.start_ms) - coat.start_ms) / 60_000
    return [round(whole * i / points, 3) for i in range(points)]


def _reports(routes: APIRouter, station: Station) -> None:
    read, region = station.reader, station.settings.text("region")

    @routes.get("/pieces/{piece_id}/report", response_class=HTMLResponse)
    def html(piece_id: str, paper: Paper = "a4") -> HTMLResponse:
        """Return the report of a piece, ready to print."""
        return HTMLResponse(report_html(read_dossier(read, piece_id, region), paper))

    @routes.get("/pieces/{piece_id}/report.pdf", response_class=Response)
    def pdf(piece_id: str, paper: Paper = "a4") -> Response:
        """Return the report of a piece as PDF."""
        from sprayout.review.report_pdf import report_pdf

        content = report_pdf(read_dossier(read, piece_id, region), paper)
        name = {"Content-Disposition": 'inline; filename="report.pdf"'}
        return Response(content, media_type="application/pdf", headers=name)
