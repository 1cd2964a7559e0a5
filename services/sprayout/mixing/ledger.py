"""What went into one cup, what it measured, what was taken out: the memory of a batch.

Values only: when things happened, and where they are kept, is for others.  From the ledger come the
volume left, the same colour at another size, and the drift from batch to batch.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from sprayout.colour.difference import ciede2000
from sprayout.errors import BadInput
from sprayout.mixing.viscosity import Efflux

Array = npt.NDArray[np.float64]
Lab = tuple[float, float, float]


@dataclass(frozen=True, slots=True)
class Addition:
    """Drops of one paint counted in, with the volume of its drop.

    ``grams``: what the scale showed, where it was weighed; ``drops`` is then what that comes to.
    """

    paint: str
    drops: float
    drop_ml: float = 0.05
    grams: float | None = None

    def __post_init__(self) -> None:
        least = 1 if self.grams is None else 0
        if not (self.drops >= least and self.drops > 0 and self.drop_ml > 0):
            raise BadInput(
                f"addition of {self.paint}: got {self.drops:g} drops of {self.drop_ml:g} mL, "
                "wanted 1 drop or more; count again"
            )


@dataclass(frozen=True, slots=True)
class LabReading:
    """What the cup, or a dry draw of it, measured; ``at`` is free text, as *dry, unreduced*."""

    lab_d65_10: Lab
    at: str = ""


@dataclass(frozen=True, slots=True)
class Reducing:
    """Reducer poured in: its name and volume."""

    reducer: str
    ml: float

    def __post_init__(self) -> None:
        if not 0 < self.ml <= 10_000:
            raise BadInput(f"reducer: got {self.ml:g} mL, wanted more than 0; measure it again")


@dataclass(frozen=True, slots=True)
class Sprayed:
    """Volume that left the cup for one coat."""

    coat: str
    ml: float

    def __post_init__(self) -> None:
        if not 0 < self.ml <= 10_000:
            raise BadInput(f"coat: got {self.ml:g} mL, wanted more than 0; measure it again")


Entry = Addition | LabReading | Reducing | Efflux | Sprayed


@dataclass(frozen=True, slots=True)
class Batch:
    """One cup with its entries in their order; each act returns a new batch."""

    name: str
    target_lab: Lab | None = None
    entries: tuple[Entry, ...] = ()

    def enter(self, entry: Entry) -> Batch:
        """The batch with one entry more; refuses more sprayed than there is."""
        if isinstance(entry, Sprayed) and entry.ml > self.volume_left_ml + 0.05:
            raise BadInput(
                f"{self.name}: got {entry.ml:g} mL sprayed, wanted at most the "
                f"{self.volume_left_ml:.2f} mL left in the cup; correct the volume"
            )
        return self.replay(entry)

    def replay(self, entry: Entry) -> Batch:
        """The batch with an entry that is on record already: it was checked when it was made."""
        return replace(self, entries=(*self.entries, entry))

    @property
    def drops(self) -> dict[str, float]:
        """Drops of each paint, in the order they first came in; what was weighed as drops."""
        total: dict[str, float] = {}
        for entry in self.entries:
            if isinstance(entry, Addition):
                total[entry.paint] = total.get(entry.paint, 0) + entry.drops
        return total

    @property
    def grams(self) -> dict[str, float]:
        """Grams of each paint that was weighed, as the scale showed them."""
        total: dict[str, float] = {}
        for entry in self.entries:
            if isinstance(entry, Addition) and entry.grams is not None:
                total[entry.paint] = total.get(entry.paint, 0.0) + entry.grams
        return total

    @property
    def paint_ml(self) -> float:
        return sum(e.drops * e.drop_ml for e in self.entries if isinstance(e, Addition))

    @property
    def reducer_ml(self) -> float:
        return sum(e.ml for e in self.entries if isinstance(e, Reducing))

    @property
    def reducer_parts(self) -> float:
        """Reducer per part of paint; 0 for an empty cup."""
        return self.reducer_ml / self.paint_ml if self.paint_ml else 0.0

    @property
    def volume_left_ml(self) -> float:
        """Below 0 where the record says that more was sprayed than went in."""
        sprayed = sum(e.ml for e in self.entries if isinstance(e, Sprayed))
        return self.paint_ml + self.reducer_ml - sprayed

    @property
    def last_reading(self) -> LabReading | None:
        readings = [entry for entry in self.entries if isinstance(entry, LabReading)]
        return readings[-1] if readings else None


@dataclass(frozen=True, slots=True)
class Again:
    """The same colour at another size: whole drops, reducer, and what rounding does to shares."""

    drops: tuple[tuple[str, int], ...]
    reducer_ml: float
    paint_ml: float
    worst_share_error_pct: float


def make_again(batch: Batch, paint_ml: float, most_share_error_pct: float = 3.0) -> Again:
    """The batch's paints in whole drops for at least ``paint_ml`` of paint.

    The cup grows, by up to half again, until rounding changes no paint's amount by more than
    ``most_share_error_pct``.
    """
    if not batch.drops:
        raise BadInput(f"{batch.name}: it holds no paint yet; make a batch first")
    if not 0 < paint_ml <= 10_000:
        raise BadInput(f"make again: got {paint_ml:g} mL, wanted more than 0 to 10,000")
    names = list(batch.drops)
    counted = np.array([batch.drops[name] for name in names], dtype=float)
    size = np.array([_drop_ml(batch, name) for name in names])
    least = paint_ml / float(counted @ size)
    tried = [_scaled(counted, least * grow) for grow in np.linspace(1.0, 1.5, 101)]
    errors = [_share_error(drops, counted) for drops in tried]
    fine = next((i for i, e in enumerate(errors) if e <= most_share_error_pct / 100), None)
    chosen = int(np.argmin(errors)) if fine is None else fine
    drops = tried[chosen]
    made = float(drops @ size)
    return Again(
        drops=tuple((name, int(n)) for name, n in zip(names, drops, strict=True)),
        reducer_ml=batch.reducer_parts * made,
        paint_ml=made,
        worst_share_error_pct=100 * errors[chosen],
    )


def _scaled(counted: Array, factor: float) -> Array:
    return np.asarray(np.maximum(np.round(counted * factor), 1.0))


def _share_error(drops: Array, counted: Array) -> float:
    share, wanted = drops / drops.sum(), counted / counted.sum()
    return float(np.max(np.abs(share / wanted - 1)))


def _drop_ml(batch: Batch, paint: str) -> float:
    sizes = [e.drop_ml for e in batch.entries if isinstance(e, Addition) and e.paint == paint]
    return sizes[-1]


@dataclass(frozen=True, slots=True)
class DriftPoint:
    """One batch of a colour: CIEDE2000 from the first batch and, where there is one, the target."""

    batch: str
    lab_d65_10: Lab
    from_first_de00: float
    from_target_de00: float | None


def drift(batches: tuple[Batch, ...]) -> tuple[DriftPoint, ...]:
    """The last reading of each batch beside the first batch's, in the order given."""
    read = [(batch, batch.last_reading) for batch in batches]
    known = [(batch, reading.lab_d65_10) for batch, reading in read if reading is not None]
    if not known:
        raise BadInput("drift: none of the batches was read; read a dry draw of each")
    first = np.asarray(known[0][1])
    return tuple(
        DriftPoint(
            batch=batch.name,
            lab_d65_10=lab,
            from_first_de00=float(ciede2000(first, np.asarray(lab))),
            from_target_de00=None
            if batch.target_lab is None
            else float(ciede2000(np.asarray(batch.target_lab), np.asarray(lab))),
        )
        for batch, lab in known
    )
