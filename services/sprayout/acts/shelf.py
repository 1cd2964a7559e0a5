"""The shelf: paints with the swatches that tell how they mix, reducers with their solvents."""

import asyncio
import math
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import replace
from typing import Any, TypeVar, cast

from sprayout.acts.bench import Bench
from sprayout.bench.solvent_names import check_names, is_known, nearest, unknown_in
from sprayout.climate.paint_limits import (
    PaintLimits,
    paint_limits_to_json,
    parse_paint_limits,
)
from sprayout.climate.reducer import Blend, blend_by_volume
from sprayout.errors import BadInput
from sprayout.journal import line_volume
from sprayout.journal.line_volume import USUAL_DROP_ML
from sprayout.journal.records import BatchAddition, Json, Paint, Reducer, Swatch
from sprayout.mixing.fit import ShelfModel, fit_shelf
from sprayout.mixing.steer_json import parse_shelf
from sprayout.mixing.values import Shelf as MixingShelf
from sprayout.safety.product_request import parse_product

T = TypeVar("T")

FAMILIES = ("enamel", "lacquer", "acrylic")
BASES = (None, "black", "white")
#: Nobody weighs a kilogram into an airbrush cup, nor less than a scale shows.
GRAMS_LEAST, GRAMS_MOST = 0.001, 1000.0
#: What weighed paint of unknown density is steered by; what is breathed is never judged by it.
ASSUMED_DENSITY_G_ML = 1.0


class Shelf:
    """Paints and reducers on record, by name."""

    def __init__(self, bench: Bench) -> None:
        self.paints: dict[str, Paint] = {}
        self.reducers: dict[str, Reducer] = {}
        self.version = 0
        self._model: tuple[int, MixingShelf, ShelfModel] | None = None
        self._bench = bench
        # A bottle is read, changed and kept: two screens must not undo each other's change.
        self._one_at_a_time = asyncio.Lock()

    def take_over(self) -> None:
        """Read the shelf from the record."""
        read, bench = self._bench.reader, self._bench.bench
        on_record = read.all(Paint, bench=bench)
        self.paints = {paint.name: paint for paint in on_record}
        twice = len(on_record) - len(self.paints)
        if twice:
            # An import may bring it; the newest of them stands on the shelf.
            names = [paint.name for paint in on_record if self.paints[paint.name] is not paint]
            self._bench.notice(
                "shelf", f"two bottles on record are called {names[0]!r}; the newer one is used"
            )
        self.reducers = {reducer.name: reducer for reducer in read.all(Reducer, bench=bench)}
        self.version += 1

    def paint(self, name: str) -> Paint | None:
        """Return a paint on the shelf."""
        return self.paints.get(name)

    def name_of(self, record_id: str) -> str:
        """Return the name of a paint or reducer in a ledger."""
        bottles: tuple[Paint | Reducer, ...] = (*self.paints.values(), *self.reducers.values())
        return next((b.name for b in bottles if b.id == record_id), record_id)

    def drop_ml(self, name: str, batch_drop_ml: float | None = None) -> float:
        """Return the drop of a bottle: its own, else the cup's, else the usual one."""
        return line_volume.drop_ml(self.paints.get(name), batch_drop_ml)

    def density_g_ml(self, name: str) -> float | None:
        """Return what a bottle's paint weighs; None where nobody has entered it."""
        return line_volume.density_g_ml(self.paints.get(name))

    def ml_of(self, line: BatchAddition, batch_drop_ml: float | None = None) -> float | None:
        """Return the volume a line put into the cup; None for grams of an unknown density."""
        paint = self.paints.get(self.name_of(line.paint or ""))
        return line_volume.volume_ml(line, paint, batch_drop_ml)

    def drops_of(self, line: BatchAddition, batch_drop_ml: float | None = None) -> float:
        """Return the drops of paint a line stands for: as counted, or what the grams come to.

        An import may bring grams without a density: see :meth:`weighed_blind`.
        """
        if line.paint is None:
            return 0.0
        if line.grams is not None:
            name = self.name_of(line.paint)
            ml = line.grams / (self.density_g_ml(name) or ASSUMED_DENSITY_G_ML)
            return ml / self.drop_ml(name, batch_drop_ml)
        return float(line.drops or 0)

    def weighed_blind(self, lines: Sequence[BatchAddition]) -> tuple[str, ...]:
        """Say of each paint that was weighed without a density what it is taken for."""
        weighed = dict.fromkeys(self.name_of(a.paint) for a in lines if a.paint and a.grams)
        return tuple(
            f"{name} was weighed and its density is not known: taken as {ASSUMED_DENSITY_G_ML:g} "
            "g/mL; weigh 10 mL and enter it"
            for name in weighed
            if self.density_g_ml(name) is None
        )

    def grams(self, name: str, drops: float, batch_drop_ml: float | None = None) -> float | None:
        """Return what so many drops of a paint weigh; None where its density is not known."""
        density = self.density_g_ml(name)
        return None if density is None else drops * self.drop_ml(name, batch_drop_ml) * density

    def new_paint(self, name: str, family: str | None = None, **details: object) -> Paint:
        """Return a bottle that is not yet on record."""
        return Paint(
            id=self._bench.new_id("paint"),
            bench=self._bench.bench,
            name=named(name, "paint"),
            made_ms=self._bench.now_ms(),
            type=family,
            details={"swatches": [], **details},
        )

    async def put_paint(
        self,
        name: str,
        family: str,
        *,
        drop_ml: float = USUAL_DROP_ML,
        white: bool = False,
        price_per_ml: float | None = None,
        density_g_ml: float | None = None,
        cleared: Sequence[str] = (),
        new: bool = False,
    ) -> Paint:
        """Put a bottle on the shelf, or correct what is said of one that stands there.

        `cleared` names what is no longer stated of it.  `new`: the person means another bottle,
        so that a name that is taken is refused.
        """
        if family not in FAMILIES:
            raise BadInput(f"paint: got family {family!r}, wanted one of {', '.join(FAMILIES)}")
        check_drop(drop_ml)
        check_weight(density_g_ml)
        said = {"price_per_ml": price_per_ml, "density_g_ml": density_g_ml}
        stated = {field: value for field, value in said.items() if value is not None}
        async with self._one_at_a_time:
            known = self.paints.get(named(name, "paint"))
            self.check_name(name, known, new)
            base = known or self.new_paint(name, family)
            details = {**base.details, "family": family, "drop_ml": drop_ml, "white": white}
            kept = without(details | stated, cleared)
            return await self.keep(replace(base, type=family, details=kept))

    def check_name(self, name: str, known: Paint | None = None, new: bool = False) -> None:
        """Refuse a name that is taken, or that differs from one only in its capitals."""
        alike = {paint.casefold(): paint for paint in self.paints}
        taken = alike.get(named(name, "paint").casefold())
        if taken is not None and (new or known is None):
            raise BadInput(
                f"paint: got the name {name!r}, but {taken!r} stands on the shelf; give this "
                "bottle a name of its own, or correct the one that is there"
            )

    async def put_label(self, name: str, label: Mapping[str, object]) -> Paint:
        """Enter what is in a paint, as its label and data sheet say; None is no longer stated."""
        cleared = [field for field, value in label.items() if value is None]
        async with self._one_at_a_time:
            known = self._there(name, "label")
            stated = label_checked(known, without(label, cleared))
            details = without({**known.details, **stated}, cleared)
            return await self.keep(replace(known, details=details))

    async def put_limits(self, name: str, limits: Mapping[str, object]) -> Paint:
        """Enter what a paint's data sheet asks: temperatures, humidity, recoat times, pot life."""
        async with self._one_at_a_time:
            known = self._there(name, "limits")
            stated = paint_limits_to_json(parse_paint_limits({**limits, "name": known.name}))
            return await self.keep(replace(known, details={**known.details, "limits": stated}))

    def _there(self, name: str, what: str) -> Paint:
        known = self.paints.get(named(name, "paint"))
        if known is None:
            raise BadInput(f"{what}: paint {name!r} is not on the shelf; put it there first")
        return known

    def limits_of(self, contents: Mapping[str, float]) -> PaintLimits | None:
        """Return the limits of what there is most of in a cup; None where no sheet was entered."""
        for name in sorted(contents, key=lambda paint: -contents[paint]):
            stated = self.paints[name].details.get("limits") if name in self.paints else None
            if isinstance(stated, dict):
                return self._readable(parse_paint_limits, stated, f"limits of {name}")
        return None

    def _readable(self, read: Callable[[Json], T], stated: Json, what: str) -> T | None:
        """Return what stands on record, None where it is not readable: an import may bring it.

        The watch over the booth goes on without it; the person is told.
        """
        try:
            return read(stated)
        except (BadInput, TypeError, ValueError) as error:
            self._bench.notice("shelf", f"{what} on record cannot be used: {error}")
            return None

    async def keep(self, paint: Paint) -> Paint:
        """Put a paint on record."""
        await self._bench.commit([paint])
        self.remember(paint)
        self._bench.tell("state")
        return paint

    def remember(self, paint: Paint) -> None:
        """Take a paint that is on record."""
        self.paints[paint.name] = paint
        self.version += 1

    async def keep_swatch(
        self, parts: Mapping[str, float], over: str | None, swatch: Swatch
    ) -> Paint:
        """Keep a measured dry swatch with the paint that it tells of."""
        async with self._one_at_a_time:
            return await self._keep_swatch(parts, over, swatch)

    async def _keep_swatch(
        self, parts: Mapping[str, float], over: str | None, swatch: Swatch
    ) -> Paint:
        owner = self.owner(parts, over)
        entry = {
            "parts": dict(parts),
            "over": over,
            "wavelength_nm": list(swatch.wavelength_nm),
            "reflectance": list(swatch.reflectance),
        }
        kept = [*cast(list[Json], owner.details.get("swatches", [])), entry]
        changed = replace(owner, details={**owner.details, "swatches": kept})
        # Before it goes on record: what cannot be, or contradicts another swatch, is refused.
        version, shelf = self.version, self.mixing_shelf({**self.paints, changed.name: changed})
        model = await asyncio.to_thread(fit_shelf, shelf)
        note = f"swatch of {' + '.join(f'{n:g} {name}' for name, n in parts.items())}"
        await self._bench.commit([replace(swatch, note=note), changed])
        unchanged = version == self.version
        self.remember(changed)
        if unchanged:
            self._model = (self.version, shelf, model)
        self._bench.tell("state")
        return changed

    async def set_aside(self, name: str, number: int, aside: bool = True) -> Paint:
        """Leave a swatch out of what is known of a paint, or take it back; it stays on record.

        `number`: which of the paint's swatches in the order they were made, from 1.
        """
        async with self._one_at_a_time:
            return await self._set_aside(self._there(name, "swatch"), number, aside)

    async def _set_aside(self, known: Paint, number: int, aside: bool) -> Paint:
        listed = list(cast(list[Json], known.details.get("swatches") or []))
        if not 1 <= number <= len(listed):
            raise BadInput(
                f"swatch: got number {number} of {known.name!r}, which has {len(listed)}; count "
                "in its list of swatches, from 1"
            )
        listed[number - 1] = {**listed[number - 1], "set_aside": aside}
        changed = replace(known, details={**known.details, "swatches": listed})
        paints = {**self.paints, changed.name: changed}
        if not aside:
            await asyncio.to_thread(fit_shelf, self.mixing_shelf(paints))
        return await self.keep(changed)

    async def fitted(self) -> tuple[MixingShelf, ShelfModel]:
        """Return the paints that are known and all that is known of them."""
        if self._model is None or self._model[0] != self.version:
            version, shelf = self.version, self.mixing_shelf()
            self._model = (version, shelf, await asyncio.to_thread(fit_shelf, shelf))
        return self._model[1], self._model[2]

    def owner(self, parts: Mapping[str, float], over: str | None) -> Paint:
        """Return the paint a swatch tells of: the one that is not the white."""
        if over not in BASES:
            raise BadInput(f"swatch: got over {over!r}, wanted black, white or nothing")
        unknown = [name for name in parts if name not in self.paints]
        if unknown or not parts:
            raise BadInput(
                f"swatch: {', '.join(unknown) or 'no paint'} is not on the shelf; put it there"
            )
        wrong = [name for name, n in parts.items() if not (math.isfinite(n) and n > 0)]
        if wrong:
            raise BadInput(f"swatch: parts of {wrong[0]} must be more than 0; count the drops")
        coloured = [name for name in parts if not self.paints[name].details.get("white")]
        return self.paints[coloured[0] if coloured else next(iter(parts))]

    def mixing_shelf(self, paints: Mapping[str, Paint] | None = None) -> MixingShelf:
        """Return the shelf as the mixing room takes it: paints that have a swatch."""
        all_of_them = (paints or self.paints).values()
        told = {name for p in all_of_them for s in swatches_of(p) for name in s["parts"]}
        known = [p for p in all_of_them if p.name in told]
        white = next((p.name for p in known if p.details.get("white")), None)
        listed: list[dict[str, Any]] = [
            {
                "name": p.name,
                "swatches": swatches_of(p),
                "family": p.type or "enamel",
                "drop_ml": p.details.get("drop_ml", USUAL_DROP_ML),
                "price_per_ml": p.details.get("price_per_ml"),
                "density_g_ml": p.details.get("density_g_ml", ASSUMED_DENSITY_G_ML),
            }
            for p in known
        ]
        return parse_shelf({"paints": listed, "white_paint": white})

    async def put_reducer(
        self, name: str, solvents: Mapping[str, float], no_data: Sequence[str] = ()
    ) -> Reducer:
        """Put a reducer on the shelf; its solvents by volume must sum up.

        Each is one we know, or one of ``no_data``: said outright to be in none of our tables.
        Then no film can be worked out with it, and every answer says so.
        """
        check_names(solvents, no_data, "reducer")
        if unknown_in(solvents):
            check_shares(solvents)
        else:
            blend_by_volume(dict(solvents))
        known = self.reducers.get(named(name, "reducer"))
        reducer = Reducer(
            id=known.id if known else self._bench.new_id("reducer"),
            bench=self._bench.bench,
            name=named(name, "reducer"),
            made_ms=known.made_ms if known else self._bench.now_ms(),
            solvents=dict(solvents),
        )
        await self._bench.commit([reducer])
        self.reducers[reducer.name] = reducer
        self._bench.tell("state")
        return reducer

    def blend(self, reducer_id: str) -> Blend | None:
        """Return what evaporates from a reducer on record."""
        for reducer in self.reducers.values():
            if reducer.id == reducer_id and not unknown_in(reducer.solvents):
                return self._readable(_blend, reducer.solvents, f"solvents of {reducer.name}")
        return None

    def film_unknown(self, reducer_id: str) -> str:
        """Return in words why no film can be worked out with a reducer; empty where it can."""
        reducer = next((r for r in self.reducers.values() if r.id == reducer_id), None)
        if reducer is None:
            return "a reducer in the cup is not on the shelf"
        unknown = unknown_in(reducer.solvents)
        if unknown:
            return f"no data on {', '.join(unknown)} in {reducer.name}"
        return "" if self.blend(reducer_id) else f"the solvents of {reducer.name} cannot be used"


def without(stated: Mapping[str, object], cleared: Collection[str]) -> Json:
    """Return what is stated, the cleared names left out."""
    return {name: value for name, value in stated.items() if name not in cleared}


def label_checked(known: Paint, label: Mapping[str, object]) -> Json:
    """Return a label as it is kept; what the safety room cannot read is refused.

    New solvents bring a new list of those there is no data on.
    """
    no_data = label.get("no_data") or []
    stated = {name: value for name, value in label.items() if name != "no_data"}
    product = parse_product({"name": known.name, **stated})
    if product.solvents:
        check_names([solvent.name for solvent in product.solvents], cast(list[str], no_data))
        whole = sum(solvent.share for solvent in product.solvents)
        if whole > 1.0 + 1e-9:
            raise BadInput(
                f"label: shares of the solvents sum to {whole:g}, wanted at most 1 of the bottle; "
                "divide percentages by 100"
            )
        stated["no_data"] = no_data
    elif no_data:
        raise BadInput("label no_data: got names without solvents; give the solvents too")
    for name, _ in product.data_sheet_limits_ppm:
        if not is_known(name):
            raise BadInput(
                f"label data_sheet_limits_ppm: got {name!r}; nearest: {', '.join(nearest(name))}; "
                "name one of these"
            )
    return stated


def check_shares(solvents: Mapping[str, float]) -> None:
    """Refuse shares of a reducer that are none, or do not sum to 1 or 100."""
    whole = sum(solvents.values())
    if not all(math.isfinite(share) and share >= 0 for share in solvents.values()) or not any(
        abs(whole / full - 1.0) <= 0.01 for full in (1.0, 100.0)
    ):
        raise BadInput(
            f"reducer: shares sum to {whole:g}, wanted 1 or 100 and none below 0; correct them or "
            "add what is missing"
        )


def _blend(solvents: Json) -> Blend:
    return blend_by_volume({name: float(str(share)) for name, share in solvents.items()})


def swatches_of(paint: Paint) -> list[dict[str, Any]]:
    """Return the swatches a paint is known by; those set aside stay on record only."""
    listed = cast(list[dict[str, Any]], paint.details.get("swatches") or [])
    return [swatch for swatch in listed if not swatch.get("set_aside")]


def named(name: str, what: str) -> str:
    """Return a name, its spaces put in order; refused where there is none."""
    words = " ".join(name.split())
    if not 1 <= len(words) <= 120:
        raise BadInput(f"{what}: got a name of {len(words)} letters, wanted 1 to 120; name it")
    return words


def check_weight(density_g_ml: float | None) -> None:
    """Refuse a density that no paint has."""
    if density_g_ml is not None and not 0.5 <= density_g_ml <= 4:
        raise BadInput(
            f"density: got {density_g_ml:g} g/mL, wanted 0.5 to 4; weigh 10 mL of the paint"
        )


def check_drop(drop_ml: float) -> None:
    """Refuse a drop that no dropper gives."""
    if not 0.005 <= drop_ml <= 0.5:
        raise BadInput(f"drop size: got {drop_ml:g} mL, wanted 0.005 to 0.5 mL; weigh 20 drops")
