"""The painter of the scripted evening: knows the bottles and creeps up on the colour.

Light paint first with half of the blue, the dark by the drop, the last drops judged by eye.  The
story needs additions that work for any seed, so they are worked out here from the virtual paints
themselves; the services get no part of it.
"""

from collections.abc import Mapping

import numpy as np

from sprayout.sim.paints import Cup, Shelf, cup_seed
from sprayout.sim.spectra import Spectrum, bump, checked_seed
from sprayout.sim.targets import target_swatch

TARGET = "pilot cutter hull blue"
LIGHT_PAINT = "ice-van white"
TINTS = ("deep-berth blue", "coal-hatch black", "quay-crane ochre")
LIGHT_DROPS = 64


def additions(seed: int, variation: float = 1.0) -> tuple[Mapping[str, int], ...]:
    """What goes into the cup before each of the readings, three to five of them.

    Light paint first with half of the blue, then ever smaller steps; the last additions are the
    drops that bring this very cup nearest to the target.
    """
    shelf = Shelf(checked_seed(seed), variation)
    wanted = target_swatch(TARGET).reflectance
    whole = _recipe(shelf, wanted)
    given = dict.fromkeys(TINTS, 0)
    turns: list[dict[str, int]] = []
    for shares in ((0.45, 0.0, 0.3), (0.75, 0.6, 0.7), (0.92, 0.85, 0.9)):
        goal = {t: int(s * whole[t]) for t, s in zip(TINTS, shares, strict=True)}
        turns.append({t: goal[t] - given[t] for t in TINTS if goal[t] > given[t]})
        given.update({t: max(goal[t], given[t]) for t in TINTS})
    turns[0] = {LIGHT_PAINT: LIGHT_DROPS, **turns[0]}
    turns = [turn for turn in turns if turn]
    for _ in range(2):
        last = _by_eye(shelf, seed, turns, wanted)
        if not last:
            break
        turns.append(last)
    return tuple(turns)


def _recipe(shelf: Shelf, wanted: Spectrum) -> dict[str, float]:
    """Drops of each tint beside the light paint, were all drops alike: coordinate search."""
    drops = np.array([LIGHT_DROPS, 40.0, 6.0, 5.0])
    step = 8.0
    while step > 0.1:
        tries = [drops + step * sign * np.eye(4)[i] for i in (1, 2, 3) for sign in (1.0, -1.0)]
        best = min(tries, key=lambda d: _apart(_even_mix(shelf, d), wanted))
        if _apart(_even_mix(shelf, best), wanted) < _apart(_even_mix(shelf, drops), wanted):
            drops = best
        else:
            step /= 2.0
    return dict(zip(TINTS, np.maximum(drops[1:], 0.0).tolist(), strict=True))


def _even_mix(shelf: Shelf, drops: Spectrum) -> Spectrum:
    """A deep cup of these drops, every drop of its bottle's mean size."""
    names = (LIGHT_PAINT, *TINTS)
    volumes = np.zeros(len(shelf.names))
    for name, count in zip(names, np.maximum(drops, 0.0), strict=True):
        volumes[shelf.names.index(name)] = count * shelf.bottle(name).drop_ml
    return shelf.wet_look(volumes, "enamel")


def _by_eye(
    shelf: Shelf, seed: int, turns: list[dict[str, int]], wanted: Spectrum
) -> dict[str, int]:
    """The few drops that bring the cup, as it really is, nearest; none if none help."""
    options: list[dict[str, int]] = [{}]
    for blue in range(5):
        for black in range(3):
            for ochre in range(3):
                counts = dict(zip(TINTS, (blue, black, ochre), strict=True))
                options.append({tint: n for tint, n in counts.items() if n})
    return min(options, key=lambda o: _apart(_filled(shelf, seed, [*turns, o]), wanted))


def _filled(shelf: Shelf, seed: int, turns: list[dict[str, int]]) -> Spectrum:
    """The cup of the evening after these additions, drop by drop as they will fall."""
    cup = Cup(shelf, cup_seed(seed, 2))
    for turn in turns:
        for name, count in turn.items():
            cup.add(name, count)
        if turn:
            cup.stir(40)
    return cup.reflectance()


def _apart(one: Spectrum, other: Spectrum) -> float:
    """How different two curves look to the painter, about in steps a keen eye can see."""
    lightness, red_green, yellow_blue = (a - b for a, b in zip(_eye(one), _eye(other), strict=True))
    return float((116.0 * lightness) ** 2 + (500.0 * red_green) ** 2 + (200.0 * yellow_blue) ** 2)


def _eye(curve: Spectrum) -> tuple[float, float, float]:
    """A rough eye: three bells of sensitivity, cube roots, and their differences.

    A stand-in good enough to judge drops by; no standard observer, and not meant as one.
    """
    bells = (bump(598.0, 36.0) + 0.35 * bump(445.0, 20.0), bump(557.0, 43.0), bump(450.0, 23.0))
    red, green, blue = (float(np.cbrt((curve * bell).sum() / bell.sum())) for bell in bells)
    return green, red - green, green - blue
