"""The report of a piece as one HTML file: no script, nothing fetched, ready to print."""

from __future__ import annotations

import base64
from functools import cache

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from sprayout.errors import BadInput
from sprayout.journal.records import Photo
from sprayout.journal.records_json import format_time
from sprayout.review.dossier_entries import Dossier
from sprayout.review.drawings import drawing
from sprayout.review.strip_svg import strip_svg
from sprayout.review.traces import Trace
from sprayout.safety.cautions import one_line

PAPERS = {"a4": "A4", "letter": "letter"}
#: Kinds of picture that a browser shows and that carry no script.
PICTURES = ("image/jpeg", "image/png", "image/webp", "image/gif")


def paper_named(paper: str) -> str:
    """``a4`` or ``letter``; BadInput for another."""
    key = paper.casefold()
    if key not in PAPERS:
        raise BadInput(f"paper: got {paper!r}, wanted a4 or letter")
    return key


def report_html(dossier: Dossier, paper: str = "a4") -> str:
    """The whole document."""
    size = PAPERS[paper_named(paper)]
    template = _environment().get_template("report.html")
    return template.render(d=dossier, size=size, one_line=one_line())


@cache
def _environment() -> Environment:
    made = Environment(
        loader=PackageLoader("sprayout.review", "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.filters["time"] = time_words
    made.filters["strip"] = _strip
    made.filters["drawing"] = _drawing
    made.filters["picture"] = _picture
    return made


def time_words(at_ms: int) -> str:
    """``2026-09-04 18:00 UTC``."""
    return format_time(at_ms)[:16].replace("T", " ") + " UTC"


def _strip(trace: Trace) -> Markup:
    return Markup(strip_svg(trace))


def _drawing(key: str) -> Markup:
    return Markup(drawing(key))


def _picture(photo: Photo) -> str | None:
    """A data address, or None where a browser cannot show it."""
    if photo.media_type not in PICTURES:
        return None
    return f"data:{photo.media_type};base64,{base64.b64encode(photo.data).decode()}"
