"""The mixing card: one batch on half a sheet, as plain text or as a piece of HTML to print."""

from __future__ import annotations

from html import escape

import numpy as np

from sprayout.colour.difference import ciede2000
from sprayout.mixing.ledger import Batch, LabReading, Reducing, Sprayed
from sprayout.mixing.viscosity import Efflux

CAUTION = (
    "Spraying: follow the product's safety data sheet and local codes; ventilation and respirator "
    "as they ask. This card says nothing about the air you breathe."
)


def _lines(batch: Batch) -> list[tuple[str, str]]:
    """(label, value) rows of the card, the paints first."""
    total = sum(batch.drops.values())
    rows = [
        (paint, f"{_amount(batch, paint, drops)} ({100 * drops / total:.1f} %)")
        for paint, drops in batch.drops.items()
    ]
    rows.append(("paint in all", f"{counted(total)} drops, {batch.paint_ml:.2f} mL"))
    for reducer in dict.fromkeys(e.reducer for e in batch.entries if isinstance(e, Reducing)):
        ml = sum(e.ml for e in batch.entries if isinstance(e, Reducing) and e.reducer == reducer)
        ratio = f", 1 : {batch.paint_ml / ml:.1f} of paint" if batch.paint_ml else ""
        rows.append((f"reducer {reducer}", f"{ml:.2f} mL{ratio}"))
    for entry in batch.entries:
        if isinstance(entry, Efflux):
            value = f"{entry.seconds:g} s at {entry.temperature_c:g} °C"
            rows.append((entry.cup, f"{value}, {entry.kinematic_mm2_s:.0f} mm²/s"))
    rows += _colours(batch)
    rows += [
        (f"sprayed, {e.coat}", f"{e.ml:.2f} mL") for e in batch.entries if isinstance(e, Sprayed)
    ]
    rows.append(("left in the cup", f"{max(0.0, batch.volume_left_ml):.2f} mL"))
    return rows


def _amount(batch: Batch, paint: str, drops: float) -> str:
    """Drops, and the grams where some of it was weighed."""
    said = f"{counted(drops)} drops"
    weighed = batch.grams.get(paint)
    return said if weighed is None else f"{said}, {weighed:.2f} g of it weighed"


def counted(drops: float) -> str:
    """Drops as a whole number where they are one, else to a tenth."""
    return f"{drops:.0f}" if abs(drops - round(drops)) < 1e-6 else f"{drops:.1f}"


def _colours(batch: Batch) -> list[tuple[str, str]]:
    rows = []
    if batch.target_lab is not None:
        rows.append(("target, Lab D65/10°", _lab(batch.target_lab)))
    # Of each kind of reading, wet or dry or a coat, the last one.
    last = {entry.at: entry for entry in batch.entries if isinstance(entry, LabReading)}
    for reading in last.values():
        value = _lab(reading.lab_d65_10)
        if batch.target_lab is not None:
            apart = ciede2000(np.asarray(batch.target_lab), np.asarray(reading.lab_d65_10))
            value += f", {float(apart):.2f} CIEDE2000 off"
        label = f"read, {reading.at}" if reading.at else "read"
        rows.append((label, value))
    return rows


def _lab(lab: tuple[float, float, float]) -> str:
    return " / ".join(f"{v:.1f}" for v in lab)


def card_text(batch: Batch) -> str:
    """The card as plain text, labels and values in two columns."""
    rows = _lines(batch)
    width = max(len(label) for label, _ in rows)
    body = [f"{label.ljust(width)}  {value}" for label, value in rows]
    return "\n".join([batch.name, "=" * len(batch.name), *body, "", CAUTION])


def card_html(batch: Batch) -> str:
    """The card as one ``<section>`` of HTML; everything a person typed is escaped."""
    rows = "".join(
        f"<tr><th scope='row'>{escape(label)}</th><td>{escape(value)}</td></tr>"
        for label, value in _lines(batch)
    )
    return (
        f"<section class='mixing-card'><h2>{escape(batch.name)}</h2>"
        f"<table>{rows}</table><p>{escape(CAUTION)}</p></section>"
    )
