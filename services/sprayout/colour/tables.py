"""The published tables this room computes with, read once from the package.

Every file names its publication in its first lines.  All stand on the same wavelengths,
380-780 nm at 5 nm, so that nothing has to be interpolated between tables.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from importlib import resources

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

STEP_NM = 5.0
GRID_NM: FloatArray = np.arange(380.0, 780.1, STEP_NM)
"""Wavelengths of every table and of every spectrum inside this room, nm, shape (81,)."""


@dataclass(frozen=True, slots=True)
class Table:
    """Columns of one file: ``values[:, j]`` belongs to ``names[j]``; rows follow ``GRID_NM``."""

    names: tuple[str, ...]
    values: FloatArray

    def column(self, name: str) -> FloatArray:
        """The column called ``name``, shape (81,)."""
        return self.values[:, self.names.index(name)]


def _read(file_name: str) -> Table:
    text = resources.files(__package__).joinpath("data", file_name).read_text(encoding="ascii")
    lines = [line for line in text.splitlines() if not line.startswith("#")]
    rows = np.array([[float(cell) for cell in line.split(",")] for line in lines[1:]])
    if not np.array_equal(rows[:, 0], GRID_NM):
        raise ValueError(f"{file_name}: wavelengths are not 380-780 nm at 5 nm")
    values = rows[:, 1:]
    values.setflags(write=False)
    return Table(tuple(lines[0].split(",")[1:]), values)


@cache
def cie() -> Table:
    """CIE 1931 and 1964 observers, illuminants D65, D50, A, LED-B3 and C."""
    return _read("cie_5nm.csv")


@cache
def colour_samples() -> Table:
    """The 99 test-colour samples of CIE 224:2017: training spectra."""
    return _read("cie224_samples_5nm.csv")


@cache
def published_chart() -> Table:
    """The 24 patches of ISO 17321-1:2012: a chart without its own certificate."""
    return _read("iso17321_chart_5nm.csv")
