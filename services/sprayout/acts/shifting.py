"""How this bench's paints move on drying and on reducing, learned from what was measured here.

A pair is one mixture measured twice: the wet cup and then a dry card of it, or the cup before and
after the reducer went in.  Where paint was poured in between it is another mixture, and no pair.
"""

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from sprayout.acts.bench import Bench
from sprayout.acts.matching import Matching, is_of_cup, recipe_of
from sprayout.acts.shelf import Shelf
from sprayout.colour.tristimulus import Spectrum
from sprayout.journal.records import Batch, BatchAddition, Swatch, Target
from sprayout.mixing.aim import AS_READ, Aim
from sprayout.mixing.shifts import Change, Pair, Shift, shift_of
from sprayout.mixing.values import FAMILIES, Family

DRYING: Change = "wet to dry"
REDUCER_OUT: Change = "reduced to unreduced"
Pairs = dict[tuple[Change, Family], tuple[Pair, ...]]


class Shifting:
    """The shifts of each paint family, as far as this bench's record tells."""

    def __init__(self, bench: Bench, matching: Matching, shelf: Shelf) -> None:
        self._bench = bench
        self._matching = matching
        self._shelf = shelf
        self._pairs: tuple[tuple[int, int, int], Pairs] | None = None

    def family(self) -> Family:
        """Return the family of what there is most of in the cup; of the shelf while it is empty."""
        matching = self._matching
        return self._family_of(matching.contents() or recipe_of(matching.batch))

    def _family_of(self, contents: Mapping[str, float]) -> Family:
        if contents:
            paint = self._shelf.paint(max(contents, key=lambda name: contents[name]))
            return family_named(paint.type if paint else None)
        usual = Counter(paint.type for paint in self._shelf.paints.values()).most_common(1)
        return family_named(usual[0][0] if usual else None)

    def shift(self, change: Change) -> Shift:
        """Return what is known of a change for the family of the cup in hand."""
        family = self.family()
        return shift_of(change, family, self._known().get((change, family), ()))

    def aim(self) -> Aim:
        """Return what the cup in hand still goes through; nothing where it is to match wet."""
        batch = self._matching.batch
        if batch is None or batch.aim != "dry":
            return AS_READ
        readings = self._matching.readings
        reduced = any(self._matching.reduced_at(swatch.at_ms) for swatch in readings)
        return Aim((self.shift(DRYING),), self.shift(REDUCER_OUT) if reduced else None)

    def _known(self) -> Pairs:
        # A line taken back, a swatch worked out again or a bottle's family make other pairs too.
        key = (self._matching.recorded, self._matching.version, self._shelf.version)
        if self._pairs is None or self._pairs[0] != key:
            self._pairs = (key, self._look())
        return self._pairs[1]

    def _look(self) -> Pairs:
        read = self._bench.reader
        by_batch: dict[str, list[Swatch]] = {}
        for swatch in read.all(Swatch, bench=self._bench.bench):
            if swatch.batch is not None and swatch.reflectance:
                by_batch.setdefault(swatch.batch, []).append(swatch)
        found: dict[tuple[Change, Family], list[Pair]] = {}
        for batch_id, swatches in by_batch.items():
            lines = read.all(BatchAddition, batch=batch_id)
            if not _may_hold_a_pair(lines, swatches):
                continue
            batch = read.get(Batch, batch_id)
            drops: dict[str, float] = {}
            for line in lines:
                name = self._shelf.name_of(line.paint or "")
                amount = self._shelf.drops_of(line, batch.drop_ml if batch else None)
                drops[name] = drops.get(name, 0.0) + amount
            for change, pair in pairs_in(lines, swatches):
                found.setdefault((change, self._family_of(drops)), []).append(pair)
        return {key: tuple(pairs) for key, pairs in found.items()}


@dataclass(slots=True)
class _Mixture:
    """What was read of one mixture; begun anew with every drop of paint."""

    reduced: bool = False
    plain: Swatch | None = None
    pairs: list[tuple[Change, Pair]] = field(default_factory=list)


def pairs_in(
    lines: Sequence[BatchAddition], swatches: Iterable[Swatch]
) -> list[tuple[Change, Pair]]:
    """Return the pairs that one cup's ledger and readings hold."""
    mixture = _Mixture()
    events: list[BatchAddition | Swatch] = [*lines, *swatches]
    for event in sorted(events, key=lambda one: one.at_ms):
        if isinstance(event, BatchAddition):
            _take_line(mixture, event)
        elif event.note.startswith("dry card"):
            _pair(mixture, DRYING, mixture.plain, event)
        elif is_of_cup(event) and mixture.reduced:
            _pair(mixture, REDUCER_OUT, event, mixture.plain)
        elif is_of_cup(event):
            mixture.plain = event
    return mixture.pairs


def _take_line(mixture: _Mixture, line: BatchAddition) -> None:
    if line.paint and line.poured:
        mixture.plain = None
    elif line.reducer and line.poured:
        mixture.reduced = True


def _pair(mixture: _Mixture, change: Change, before: Swatch | None, after: Swatch | None) -> None:
    if before is None or after is None or before.wavelength_nm != after.wavelength_nm:
        return
    mixture.pairs.append((change, Pair(spectrum_of(before), spectrum_of(after))))


def _may_hold_a_pair(lines: Sequence[BatchAddition], swatches: Sequence[Swatch]) -> bool:
    thinned = any(line.reducer and line.poured for line in lines)
    return thinned or any(swatch.note.startswith("dry card") for swatch in swatches)


def spectrum_of(measured: Swatch | Target) -> Spectrum:
    """Return what was measured."""
    return Spectrum(measured.wavelength_nm, measured.reflectance)


def family_named(kind: str | None) -> Family:
    """Return the family; a bottle that says nothing is taken for an enamel."""
    return next((family for family in FAMILIES if family == kind), "enamel")
