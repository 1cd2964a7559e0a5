"""What a piece's report is made of, as values."""

from __future__ import annotations

from dataclasses import dataclass

from sprayout.journal import records as r
from sprayout.review.review_json import Json
from sprayout.review.traces import Trace


@dataclass(frozen=True, slots=True)
class Colour:
    """A colour on record; ``hex`` is the nearest a screen can show, marked where it cannot."""

    words: str
    at_ms: int
    lab: r.Lab
    white: str
    hex: str
    in_gamut: bool
    u95_de00: float | None
    de00: float | None
    tolerance_de00: float | None = None

    @property
    def lab_words(self) -> str:
        """``L* 38.2  a* -4.1  b* -25.8 (D65/10)``."""
        lightness, a, b = self.lab
        white = "D65/10°" if self.white == "d65-10" else "D50/2°"
        return f"L* {lightness:.1f}  a* {a:.1f}  b* {b:.1f} ({white})"


@dataclass(frozen=True, slots=True)
class LedgerLine:
    """One addition to a batch."""

    at_ms: int
    what: str
    amount: str
    note: str


@dataclass(frozen=True, slots=True)
class BatchEntry:
    """One batch: target, ledger, swatches."""

    name: str
    made_ms: int
    target: str | None
    ledger: tuple[LedgerLine, ...]
    swatches: tuple[Colour, ...]


@dataclass(frozen=True, slots=True)
class CoatEntry:
    """One coat with its conditions."""

    coat: r.Coat
    batch: str | None
    part: str | None
    conditions: r.Conditions | None
    traces: tuple[Trace, ...]
    settings: tuple[str, ...]
    flags: tuple[str, ...]
    findings: tuple[str, ...]
    notes: tuple[str, ...]

    @property
    def minutes(self) -> float | None:
        """How long it took."""
        if self.coat.end_ms is None:
            return None
        return (self.coat.end_ms - self.coat.start_ms) / 60_000


@dataclass(frozen=True, slots=True)
class FindingEntry:
    """One finding with what the review says of it; ``part`` by name."""

    finding: r.Finding
    name: str
    part: str | None
    description: str
    drawing_key: str | None
    photo: r.Photo | None
    review: Json | None


@dataclass(frozen=True, slots=True)
class Dossier:
    """The whole report of a piece, as values."""

    piece: r.Piece
    parts: tuple[r.Part, ...]
    targets: tuple[Colour, ...]
    results: tuple[Colour, ...]
    batches: tuple[BatchEntry, ...]
    coats: tuple[CoatEntry, ...]
    findings: tuple[FindingEntry, ...]
    acknowledged: tuple[r.CautionsAcknowledged, ...]
    unacknowledged: tuple[str, ...]
    notes: tuple[str, ...]
    cautions: tuple[str, ...]
    record_to_ms: int
