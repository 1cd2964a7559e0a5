"""The report of a piece as PDF on A4 or Letter, drawn with fpdf2.

A DejaVu or Arial face of the machine is used where there is one, so that every name prints; else
the PDF's own Helvetica, in which a letter it lacks becomes a question mark and the report says so.
"""

from __future__ import annotations

import io
from collections.abc import Iterable, Sequence
from datetime import UTC, datetime
from pathlib import Path

from fpdf import FPDF
from fpdf.enums import XPos, YPos

from sprayout.review.dossier_entries import (
    BatchEntry,
    CoatEntry,
    Colour,
    Dossier,
    FindingEntry,
)
from sprayout.review.report_html import PAPERS, paper_named, time_words
from sprayout.review.strip_svg import place, runs_of
from sprayout.review.traces import Trace
from sprayout.safety.cautions import one_line

_MARGIN_MM = 16.0
_CHART_MM = (56.0, 15.0)
_FACES = (
    ("/usr/share/fonts/truetype/dejavu/DejaVuSans.ttf", "DejaVuSans-Bold.ttf"),
    ("/usr/share/fonts/dejavu-sans-fonts/DejaVuSans.ttf", "DejaVuSans-Bold.ttf"),
    ("/System/Library/Fonts/Supplemental/Arial.ttf", "Arial Bold.ttf"),
    ("C:/Windows/Fonts/arial.ttf", "arialbd.ttf"),
)


def machine_face() -> tuple[Path, Path] | None:
    """The first face of the list that this machine has, plain and bold."""
    for plain, bold in _FACES:
        found = Path(plain), Path(plain).with_name(bold)
        if all(path.exists() for path in found):
            return found
    return None


def report_pdf(dossier: Dossier, paper: str = "a4", face: tuple[Path, Path] | None = None) -> bytes:
    """The whole document; ``face`` (plain and bold TTF) where the machine's is not wanted."""
    page = _Page(PAPERS[paper_named(paper)], face or machine_face(), dossier.piece.name)
    page.set_creation_date(datetime.fromtimestamp(dossier.record_to_ms / 1000, UTC))
    page.add_page()
    _head(page, dossier)
    _colours(page, dossier)
    for batch in dossier.batches:
        _batch(page, batch)
    _coats(page, dossier.coats)
    _findings(page, dossier.findings)
    _cautions(page, dossier)
    if page.lost:
        page.words("Some letters could not be printed with this machine's fonts; see the HTML.")
    return bytes(page.output())


class _Page(FPDF):
    """A4 or Letter with one face, a foot with the cautions, and words that always print."""

    def __init__(self, paper: str, face: tuple[Path, Path] | None, title: str) -> None:
        super().__init__(orientation="P", unit="mm", format=paper)
        self.lost = False
        self.embedded = face is not None
        self.face = "face" if face else "Helvetica"
        if face:
            self.add_font("face", "", str(face[0]))
            self.add_font("face", "B", str(face[1]))
        self.set_margins(_MARGIN_MM, _MARGIN_MM, _MARGIN_MM)
        self.set_auto_page_break(True, margin=20.0)
        self.piece = title
        self.set_title(self.printable(title))
        self.set_lang("en")

    def printable(self, text: str) -> str:
        """The text in letters that the face has."""
        if self.embedded:
            return text
        text = text.replace("Δ", "d").replace("–", "-")
        shown = text.encode("latin-1", "replace").decode("latin-1")
        self.lost = self.lost or shown != text
        return shown

    def footer(self) -> None:
        """Piece, page and the cautions in one line, on every page."""
        self.set_y(-17.0)
        self.set_font(self.face, "", 6.5)
        text = f"{self.piece}, page {self.page_no()}. {one_line()}"
        self.multi_cell(0, 3.0, self.printable(text), align="L")

    def words(self, text: str, size: float = 9.5, style: str = "", gap: float = 0.8) -> None:
        """A paragraph."""
        self.set_font(self.face, style, size)
        height = size * 0.46
        self.multi_cell(
            0, height, self.printable(text), align="L", new_x=XPos.LMARGIN, new_y=YPos.NEXT
        )
        self.ln(gap)

    def title_line(self, text: str, size: float = 13.0, room_mm: float = 30.0) -> None:
        """A heading that does not stand alone at the foot of a page."""
        if self.will_page_break(room_mm):
            self.add_page()
        self.ln(2.0)
        self.words(text, size, "B")

    def rows(self, head: Sequence[str], rows: Iterable[Sequence[str]]) -> None:
        """A table, its head repeated on every page."""
        self.set_font(self.face, "", 8.0)
        self.set_fill_color(255)  # else its cells take the colour of the swatch before it
        with self.table(
            line_height=4.0, borders_layout="HORIZONTAL_LINES", text_align="LEFT", padding=0.4
        ) as table:
            for cells in (head, *rows):
                row = table.row()
                for cell in cells:
                    row.cell(self.printable(cell))
        self.ln(1.5)


def _head(page: _Page, dossier: Dossier) -> None:
    piece = dossier.piece
    page.words(piece.name, 18.0, "B")
    metal = f" Metal: {piece.metal} {piece.metal_mm or ''} mm." if piece.metal else ""
    page.words(
        f"Record of the finish, up to {time_words(dossier.record_to_ms)}. Bench {piece.bench}, "
        f"piece {piece.id}, entered {time_words(piece.made_ms)}.{metal}",
        8.5,
    )
    for text in (piece.note, *dossier.notes):
        if text:
            page.words(text, style="B")


def _colours(page: _Page, dossier: Dossier) -> None:
    page.title_line("Colour")
    for title, colours, nothing in (
        ("Target", dossier.targets, "No target on record."),
        ("Result on the piece", dossier.results, "The finished piece was not measured."),
    ):
        page.title_line(title, 10.5)
        for colour in colours:
            _patch(page, colour)
        if not colours:
            page.words(nothing)


def _patch(page: _Page, colour: Colour) -> None:
    if page.will_page_break(20.0):
        page.add_page()
    top = page.get_y()
    red, green, blue = (int(colour.hex[i : i + 2], 16) for i in (1, 3, 5))
    page.set_fill_color(red, green, blue)
    page.rect(page.l_margin, top, 32.0, 14.0, style="DF")
    page.set_left_margin(_MARGIN_MM + 36.0)
    page.set_y(top)
    page.words(f"{colour.words}: {colour.lab_words}", 9.0, "B", 0.2)
    page.words(_colour_words(colour), 8.5, gap=0.2)
    page.set_left_margin(_MARGIN_MM)
    page.set_xy(_MARGIN_MM, max(page.get_y(), top + 16.0))


def _colour_words(colour: Colour) -> str:
    said = []
    if colour.de00 is not None:
        said.append(f"ΔE00 {colour.de00:.2f} to the target")
    if colour.tolerance_de00 is not None:
        said.append(f"tolerance {colour.tolerance_de00:.2g}")
    if colour.u95_de00 is not None:
        said.append(f"true colour within ΔE00 {colour.u95_de00:.1f} 95 times in 100")
    if not colour.in_gamut:
        said.append("beyond what a screen can show; the patch is the nearest")
    return "; ".join([*said, time_words(colour.at_ms)])


def _batch(page: _Page, batch: BatchEntry) -> None:
    page.title_line(f"Batch {batch.name}", 11.0)
    target = f" for {batch.target}" if batch.target else ""
    page.words(f"Mixed from {time_words(batch.made_ms)}{target}.", 8.5)
    if batch.ledger:
        lines = [(time_words(x.at_ms), x.what, x.amount, x.note) for x in batch.ledger]
        page.rows(("When", "What", "How much", "Note"), lines)
    else:
        page.words("Its ledger is empty.")
    for colour in batch.swatches[-3:]:
        _patch(page, colour)


def _coats(page: _Page, coats: Sequence[CoatEntry]) -> None:
    page.title_line("Coats")
    if not coats:
        page.words("No coat on record.")
    for number, entry in enumerate(coats, 1):
        _coat(page, number, entry)


def _coat(page: _Page, number: int, entry: CoatEntry) -> None:
    part = f", {entry.part}" if entry.part else ""
    page.title_line(f"{number}. {entry.coat.kind}{part}", 11.0, 45.0)
    took = f"{entry.minutes:.0f} min" if entry.minutes is not None else "end not on record"
    facts = [
        f"{time_words(entry.coat.start_ms)}, {took}",
        f"batch {entry.batch or 'not on record'}",
        f"sprayed by {entry.coat.person or 'not on record'}",
        *entry.settings,
    ]
    page.words("; ".join(facts), 8.5)
    channels = entry.conditions.channels if entry.conditions else ()
    if channels:
        page.rows(
            ("Channel", "Mean", "Low", "High", "Worst minute", "Silent for"),
            [
                (
                    f"{c.channel.replace('_', ' ')}, {c.unit.replace('Cel', '°C')}",
                    *(_figure(v, c.n) for v in (c.mean, c.low, c.high, c.worst_minute)),
                    f"{c.gap_s:.0f} s",
                )
                for c in channels
            ],
        )
    else:
        page.words("No conditions on record for this coat.", style="B")
    _charts(page, entry.traces)
    flags = "; ".join(entry.flags) or "none on record"
    found = f" Findings: {', '.join(entry.findings)}." if entry.findings else ""
    page.words(f"Flags: {flags}.{found}", 8.5)
    for text in (entry.coat.note, *entry.notes):
        if text:
            page.words(text, 8.5)


def _figure(value: float | None, n: int) -> str:
    return "no reading" if not n else "?" if value is None else f"{value:.2f}"


def _charts(page: _Page, traces: Sequence[Trace]) -> None:
    width, height = _CHART_MM
    for first in range(0, len(traces), 3):
        if page.will_page_break(height + 7.0):
            page.add_page()
        top = page.get_y()
        for column, trace in enumerate(traces[first : first + 3]):
            _chart(page, trace, _MARGIN_MM + column * (width + 4.0), top)
        page.set_xy(_MARGIN_MM, top + height + 6.0)


def _chart(page: _Page, trace: Trace, left: float, top: float) -> None:
    width, height = _CHART_MM
    step = width / 220.0  # place() counts in the 220 by 46 of the HTML's chart

    def at(i: int, value: float) -> tuple[float, float]:
        x, y = place(trace, i, value, 220.0, height / step)
        return left + x * step, top + y * step

    if trace.usual_low is not None and trace.usual_high is not None:
        last = max(len(trace.mean) - 1, 1)
        (x0, y0), (x1, y1) = at(0, trace.usual_high), at(last, trace.usual_low)
        page.set_fill_color(213, 221, 228)
        page.rect(x0, y0, x1 - x0, max(y1 - y0, 0.3), style="F")
    page.set_draw_color(150)
    page.rect(left, top, width, height)
    page.set_draw_color(26)
    for run in runs_of(trace.mean):
        points = [at(i, value) for i, value in run]
        if len(points) == 1:
            page.ellipse(points[0][0] - 0.3, points[0][1] - 0.3, 0.6, 0.6, style="D")
        else:
            page.polyline(points)
    known = [v for v in trace.mean if v is not None]
    page.set_font(page.face, "", 6.5)
    usual = f"; band: usual of {trace.n_usual}" if trace.n_usual else ""
    text = f"{trace.words} {min(known):.3g} to {max(known):.3g} {trace.unit}{usual}"
    page.text(left, top + height + 3.0, page.printable(text))


def _findings(page: _Page, findings: Sequence[FindingEntry]) -> None:
    page.title_line("Findings")
    if not findings:
        page.words(
            "No finding on record. That nothing was written down does not say that nothing was "
            "there."
        )
    for entry in findings:
        _finding(page, entry)


def _finding(page: _Page, entry: FindingEntry) -> None:
    finding = entry.finding
    severity = f", {finding.severity}" if finding.severity else ""
    part = f", {entry.part}" if entry.part else ""
    where = f"{part}: {finding.place}" if finding.place else part
    page.title_line(f"{entry.name}{severity}{where}", 10.5)
    seen = f", seen by {finding.person}" if finding.person else ""
    page.words(f"{time_words(finding.at_ms)}{seen}. {entry.description}", 8.5)
    if finding.note:
        page.words(finding.note)
    if entry.photo is not None:
        _photo(page, entry.photo.data, entry.photo.media_type)
    if entry.review is None:
        return
    page.words(str(entry.review["words"]))
    for cause in [c for c in entry.review["ranked"] if c["score"] >= 0.05][:3]:
        page.words(f"- {cause['words']}", 9.0, gap=0.2)
        for side in ("for", "against"):
            for line in cause[side]:
                page.words(f"    {side}: {line}", 8.0, gap=0.2)
    if "compared_with" in entry.review:
        page.words(str(entry.review["compared_with"]["words"]), 8.0)


def _photo(page: _Page, data: bytes, media_type: str) -> None:
    """The picture, or a line where it is no picture that can be printed."""
    try:
        if page.will_page_break(55.0):
            page.add_page()
        page.image(io.BytesIO(data), w=75.0, h=50.0, keep_aspect_ratio=True)
        page.ln(2.0)
    except Exception:  # whatever the decoder makes of a broken file, the report goes on
        page.words(f"A picture ({media_type}) is on record but cannot be printed.", 8.5)


def _cautions(page: _Page, dossier: Dossier) -> None:
    page.title_line("Cautions", room_mm=60.0)
    for signed in dossier.acknowledged:
        page.words(
            f"Evening of {signed.evening}: read by {signed.person}, {time_words(signed.at_ms)}.",
            8.5,
        )
    for evening in dossier.unacknowledged:
        page.words(
            f"Evening of {evening}: nobody is on record as having read the cautions.", 8.5, "B"
        )
    for text in dossier.cautions:
        page.words(f"- {text}", 8.5, gap=0.4)
