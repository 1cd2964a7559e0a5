"""Colour data as CGATS.17 text, the ASCII form of ISO 28178.

One table per white (D50/2 degrees, D65/10 degrees): swatches, then targets, with Lab and, where it
is known, the reflectance as pairs ``SPECTRAL_NM``/``SPECTRAL_DEC`` (reflectance factor 0 to 1).
Only predefined keywords and field names are used, so that any reader knows them.
Keywords from memory of CGATS.17-2009; the text is read back by Little CMS in the tests.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Generator, Iterator, Sequence

from sprayout.journal import records as r
from sprayout.journal.interchange import Range, records_of
from sprayout.journal.records_json import format_time

WHITES: dict[r.White, tuple[str, str]] = {
    "d50-2": ("D50", "2 degree"),
    "d65-10": ("D65", "10 degree"),
}
Colour = r.Swatch | r.Target


def cgats_text(connection: sqlite3.Connection, chosen: Range) -> Generator[str]:
    """The lines of the file; a table for each set of colours that share white and wavelengths."""
    groups: dict[tuple[r.White, tuple[float, ...]], list[Colour]] = {}
    for record in records_of(connection, chosen):
        if isinstance(record, (r.Swatch, r.Target)) and record.lab is not None:
            key = (record.white, record.wavelength_nm if record.reflectance else ())
            groups.setdefault(key, []).append(record)
    if not groups:
        groups[("d65-10", ())] = []
    for (white, wavelength_nm), colours in sorted(groups.items()):
        yield from table_lines(white, wavelength_nm, colours)


def table_lines(
    white: r.White, wavelength_nm: Sequence[float], colours: Sequence[Colour]
) -> Iterator[str]:
    """One table: header, format, data."""
    illuminant, observer = WHITES[white]
    fields = ["SAMPLE_ID", "SAMPLE_NAME", "LAB_L", "LAB_A", "LAB_B"]
    fields += ["SPECTRAL_NM", "SPECTRAL_DEC"] * len(wavelength_nm)
    yield "CGATS.17\n"
    yield 'ORIGINATOR "sprayout"\n'
    yield f'DESCRIPTOR "Swatches and targets of a paint bench, {illuminant}, {observer}"\n'
    if colours:
        yield f'CREATED "{format_time(max(_time(c) for c in colours))}"\n'
    yield 'INSTRUMENTATION "low-cost sensor with white LED, calibrated on a white tile"\n'
    yield f'WEIGHTING_FUNCTION "ILLUMINANT, {illuminant}"\n'
    yield f'WEIGHTING_FUNCTION "OBSERVER, {observer}"\n'
    yield f"NUMBER_OF_FIELDS {len(fields)}\n"
    yield "BEGIN_DATA_FORMAT\n"
    yield "\t".join(fields) + "\n"
    yield "END_DATA_FORMAT\n"
    yield f"NUMBER_OF_SETS {len(colours)}\n"
    yield "BEGIN_DATA\n"
    for number, colour in enumerate(colours, 1):
        yield _data_line(number, colour, wavelength_nm)
    yield "END_DATA\n"


def _data_line(number: int, colour: Colour, wavelength_nm: Sequence[float]) -> str:
    assert colour.lab is not None
    cells = [str(number), quoted(_name(colour)), *(f"{x:.4f}" for x in colour.lab)]
    for nm, value in zip(wavelength_nm, colour.reflectance, strict=True):
        cells += [f"{nm:g}", f"{value:.6f}"]
    return "\t".join(cells) + "\n"


def _name(colour: Colour) -> str:
    if isinstance(colour, r.Target):
        return f"target {colour.name} ({colour.id})"
    return " ".join(filter(None, ("swatch", colour.note, f"({colour.id})")))


def _time(colour: Colour) -> int:
    return colour.made_ms if isinstance(colour, r.Target) else colour.at_ms


def quoted(text: str) -> str:
    """A CGATS string: ASCII, no quotes or line ends inside."""
    plain = text.encode("ascii", "replace").decode().replace('"', "'")
    return '"' + " ".join(plain.split()) + '"'
