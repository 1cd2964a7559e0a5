"""Runs on the virtual paint bench that the mixing benchmark counts up.

Everything here looks at the bench only through its sensor; the truth is asked for the score alone.
"""

from __future__ import annotations

import time
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from sprayout.colour.difference import ciede2000
from sprayout.colour.tristimulus import Spectrum, grid_to_lab
from sprayout.commands.benchmarks.mixing_truth import CENTRE_NM, Bench, TruthCup, bench
from sprayout.mixing.fit import ShelfModel, fit_shelf
from sprayout.mixing.steer import Steering, advise, start
from sprayout.mixing.values import Paint, Shelf, Swatch, Target

Array = npt.NDArray[np.float64]

LETDOWNS = {"masstone": (), "one let-down": (10,), "three-step let-down": (10, 3, 1)}
_MOST_READINGS = 25


def read(bench_: Bench, spectrum: Array) -> Spectrum:
    """What the eight bands report of a true spectrum."""
    return Spectrum(tuple(CENTRE_NM), tuple(float(v) for v in bench_.sensed(spectrum)))


def shelf_of(bench_: Bench, letdowns: tuple[int, ...]) -> Shelf:
    """Every paint with its masstone and these let-downs with white, counted in drops."""
    paints = []
    for i, name in enumerate(bench_.names):
        parts: list[tuple[tuple[str, float], ...]] = [((name, 1.0),)]
        if i:
            parts += [((name, 1.0), (bench_.names[0], float(n))) for n in letdowns]
        paints.append(Paint(name, tuple(_swatch(bench_, one) for one in parts)))
    return Shelf(tuple(paints), bench_.names[0])


def _swatch(bench_: Bench, parts: tuple[tuple[str, float], ...]) -> Swatch:
    drops = np.zeros(len(bench_.names))
    for name, n in parts:
        drops[bench_.names.index(name)] = n
    return Swatch(parts, read(bench_, bench_.reflectance(bench_.poured(drops))))


def random_mixture(rng: np.random.Generator, paints: int) -> Array:
    """Shares (paints,) of two to four paints, white among them more often than not."""
    chosen = rng.choice(paints, int(rng.integers(2, 5)), replace=False)
    if rng.random() < 0.6 and 0 not in chosen:
        chosen[0] = 0
    shares = np.zeros(paints)
    shares[chosen] = rng.dirichlet(np.ones(chosen.size))
    return shares


@dataclass(frozen=True, slots=True)
class Run:
    """One cup brought towards one target: true CIEDE2000 after each reading, CPU s of each step."""

    true_de00: tuple[float, ...]
    drops: int
    reason: str
    step_s: tuple[float, ...]

    @property
    def success(self) -> bool:
        return bool(self.true_de00) and self.true_de00[-1] <= 1.0

    @property
    def overshot(self) -> bool:
        """An addition after the first left the cup further off than before."""
        pairs = zip(self.true_de00, self.true_de00[1:], strict=False)
        return any(after > before + 0.3 for before, after in pairs)


@dataclass(frozen=True, slots=True)
class Setting:
    """One shelf at one bench, fitted once."""

    bench: Bench
    shelf: Shelf
    model: ShelfModel
    rng: np.random.Generator = field(repr=False)


def setting(seed: int, letdowns: tuple[int, ...] = LETDOWNS["one let-down"]) -> Setting:
    """A bench drawn from the seed, and its shelf."""
    drawn = bench(seed)
    shelf = shelf_of(drawn, letdowns)
    return Setting(drawn, shelf, fit_shelf(shelf), np.random.default_rng(seed + 999))


def steered(place: Setting, spectrum: Array) -> Run:
    """A cup steered by the advice until it says done."""
    cup, wanted = TruthCup(place.bench), grid_to_lab(spectrum)
    state = start(place.shelf, Target(read(place.bench, spectrum)), model=place.model)
    true: list[float] = []
    taken: list[float] = []
    while True:
        began = time.perf_counter()
        advice = advise(state)
        taken.append(time.perf_counter() - began)
        if advice.done or len(true) >= _MOST_READINGS:
            return Run(tuple(true), cup.drops, str(advice.reason), tuple(taken))
        for paint, drops in advice.add:
            cup.add(paint, drops)
        state = state.add(dict(advice.add)).read(read(place.bench, cup.spectrum()))
        true.append(float(ciede2000(wanted, grid_to_lab(cup.spectrum()))))


def one_drop_at_a_time(place: Setting, spectrum: Array) -> Run:
    """As it is done by eye: one drop against the largest fault, until it matches or 100 drops.

    Too dark, the white; too light, the darkest paint; else the paint whose hue is the one wanted.
    """
    sight = place.model.filters
    assert sight is not None
    goal = sight.axis.lab(np.asarray(read(place.bench, spectrum).reflectance))
    masstones = place.model.lab(np.eye(len(place.shelf.names)))
    cup, wanted = TruthCup(place.bench), grid_to_lab(spectrum)
    cup.add(place.shelf.names[int(np.argmin(ciede2000(goal, masstones)))], 5)
    true: list[float] = []
    while True:
        now = sight.axis.lab(np.asarray(read(place.bench, cup.spectrum()).reflectance))
        true.append(float(ciede2000(wanted, grid_to_lab(cup.spectrum()))))
        if ciede2000(goal, now) <= 0.75 or cup.drops >= 100:
            return Run(tuple(true), cup.drops, "stopped", ())
        cup.add(place.shelf.names[_by_hue(masstones, goal - now)], 1)


def _by_hue(masstones: Array, step: Array) -> int:
    if abs(step[0]) >= np.hypot(step[1], step[2]):
        return int(np.argmax(masstones[:, 0]) if step[0] > 0 else np.argmin(masstones[:, 0]))
    hue = np.arctan2(masstones[:, 2], masstones[:, 1])
    away = np.abs(np.angle(np.exp(1j * (hue - np.arctan2(step[2], step[1])))))
    away[np.hypot(masstones[:, 1], masstones[:, 2]) < 8] = np.inf
    return int(np.argmin(away))


def steering_without(place: Setting, off: int, spectrum: Array) -> Steering:
    """The start of a cup with one paint taken off the shelf."""
    shelf = place.shelf.without(place.shelf.names[off])
    return start(shelf, Target(read(place.bench, spectrum)))
