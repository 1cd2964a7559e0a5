"""A table of raw sample counts -> one colour for each name, repeats averaged."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from sprayout.colour.noise import READINGS, USUAL, learnt, noise_excess
from sprayout.colour.profile import LabBatch, UnitProfile, build_profile
from sprayout.colour.tables import FloatArray
from sprayout.colour.uncertainty import widen_clipped
from sprayout.colour.unit import COLOUR_CHANNELS, Unit
from sprayout.colour.unit_check import full_scale_of
from sprayout.errors import BadInput


@dataclass(frozen=True, slots=True)
class SampleTable:
    """Rows of a sample file: ``names[i]`` with ``counts[i]``, ordered as the unit's channels."""

    names: tuple[str, ...]
    counts: FloatArray


@dataclass(frozen=True, slots=True)
class Converted:
    """One row for each name in the order they first came; ``repeats`` (n,) rows went into each."""

    names: tuple[str, ...]
    repeats: FloatArray
    colours: LabBatch


def parse_samples(rows: Iterable[Sequence[str]], unit: Unit) -> SampleTable:
    """The table behind the cells of a CSV file, header first; ``BadInput`` names row and column."""
    lines = iter(rows)
    header = [cell.strip().lstrip("\ufeff") for cell in next(lines, [])]
    if "name" not in header:
        raise BadInput(
            "samples: the first line has no column called name; wanted name and channels"
        )
    missing = [name for name in COLOUR_CHANNELS[unit.sensor] if name not in header]
    if missing:
        raise BadInput(
            f"samples: column {', '.join(missing)} missing; "
            f"wanted name and {', '.join(unit.channels)}"
        )
    twice = [name for name in unit.channels if header.count(name) > 1]
    if twice:
        raise BadInput(f"samples: column {twice[0]} stands twice; name each channel once")
    body = [line for line in lines if any(cell.strip() for cell in line)]
    if not body:
        raise BadInput("samples: no rows after the header; wanted at least one sample")
    _check_widths(body, len(header))
    at = header.index("name")
    names = tuple(line[at].strip() for line in body)
    if "" in names:
        raise BadInput(f"samples, row {names.index('') + 2}: no name; name every sample")
    counts = np.zeros((len(body), len(unit.channels)))
    for column, channel in enumerate(unit.channels):
        if channel in header:
            counts[:, column] = _column(body, header.index(channel), channel, names)
    return SampleTable(names, counts)


def _check_widths(body: Sequence[Sequence[str]], width: int) -> None:
    for number, line in enumerate(body, start=2):
        if len(line) != width:
            raise BadInput(
                f"samples, row {number}: got {len(line)} cells, wanted {width} as in the header"
            )


def _column(
    body: Sequence[Sequence[str]], at: int, channel: str, names: Sequence[str]
) -> FloatArray:
    cells = [line[at] for line in body]
    try:
        values = np.fromiter(map(float, cells), dtype=float, count=len(cells))
    except ValueError:
        bad = next(i for i, cell in enumerate(cells) if not _is_number(cell))
        raise BadInput(
            f"sample {names[bad]}: {channel} reads {cells[bad]!r}, wanted a count; measure it again"
        ) from None
    wrong = ~np.isfinite(values) | (values < 0.0)
    if wrong.any():
        bad = int(np.argmax(wrong))
        raise BadInput(
            f"sample {names[bad]}: {channel} reads {cells[bad].strip()}, wanted a count from 0 up; "
            "measure it again"
        )
    return values


def _is_number(cell: str) -> bool:
    try:
        float(cell)
    except ValueError:
        return False
    return True


def convert(profile: UnitProfile, table: SampleTable, white: str = "d65-10") -> Converted:
    """Colours of all samples of a table; the scatter of repeats tells how noisy readings are."""
    first: dict[str, int] = {}
    group = np.array([first.setdefault(name, len(first)) for name in table.names])
    size = np.bincount(group).astype(float)
    mean = (
        np.stack([np.bincount(group, column) for column in table.counts.T], axis=1) / size[:, None]
    )
    top = full_scale_of(profile.unit, table.counts)
    exact = dataclasses.replace(profile, full_scale=top)
    refuse_below_dark(profile.unit, [f"sample {name}" for name in first], mean)
    columns = list(profile.unit.colour_columns())
    behind = _readings_behind(table.counts[:, columns])
    exact = _with_the_noise_found(exact, table.counts[:, columns], group, size, behind)
    found = _noise_found(exact, table.counts, mean[group], size[group], behind)
    share = READINGS / (size * behind) * found
    colours = exact.lab(mean, white, share)
    clipped = np.bincount(group, exact.clipped(table.counts)) > 0
    u95 = widen_clipped(colours.u95_de00, clipped)
    return Converted(tuple(first), size, LabBatch(colours.lab, u95, clipped))


def refuse_below_dark(unit: Unit, names: Sequence[str], mean: FloatArray) -> None:
    """A surface cannot be much darker than the light trap: then the dark is not this unit's."""
    columns = list(unit.colour_columns())
    dark = np.array(unit.dark)[columns]
    margin = np.maximum(10.0, 0.02 * (np.array(unit.white.counts)[columns] - dark))
    below = mean[:, columns] < dark - margin
    if below.any():
        row, column = np.argwhere(below)[0]
        channel, count = unit.channels[columns[column]], mean[row, columns[column]]
        raise BadInput(
            f"{names[row]}: {channel} reads {count:g}, below the dark reading "
            f"{dark[column]:g}; measure dark again, LED on, over a light trap"
        )


def _readings_behind(counts: FloatArray) -> int:
    """Readings that went into each row: a count is whole, so fractions tell of an average."""
    for readings in (1, 2, 4, 8):
        if np.all(np.abs(counts * readings - np.rint(counts * readings)) < 1e-6):
            return readings
    return READINGS


def _with_the_noise_found(
    profile: UnitProfile, counts: FloatArray, group: FloatArray, size: FloatArray, behind: int
) -> UnitProfile:
    """The profile fitted anew where the repeats show another noise than it was trained for."""
    order = np.argsort(group, kind="stable")
    ends = np.cumsum(size.astype(int))[:-1]
    repeats = [rows for rows in np.split(counts[order], ends) if len(rows) > 1]
    before = profile.unit.noise or USUAL
    noise = learnt(repeats, behind, before)
    white = np.array(profile.unit.white.counts)[list(profile.unit.colour_columns())]
    if not noise.differs(before, white):
        return profile
    again = build_profile(dataclasses.replace(profile.unit, noise=noise))
    return dataclasses.replace(again, full_scale=profile.full_scale)


def _noise_found(
    profile: UnitProfile, counts: FloatArray, mean: FloatArray, size: FloatArray, behind: int
) -> float:
    """Variance of the repeats over the one trained for, drawn to 1 when they are few."""
    repeated = size > 1
    if not repeated.any():
        return 1.0
    columns = list(profile.unit.colour_columns())
    residual = (counts - mean)[repeated][:, columns]
    trained = profile.noise_sd(mean[repeated]) / np.sqrt(behind)
    freedom = float((1.0 - 1.0 / size[repeated]).sum()) * len(columns)
    found = float(((residual / trained) ** 2).sum())
    return noise_excess(found, freedom)
