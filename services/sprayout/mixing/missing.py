"""The colour a shelf lacks for a target, as a Lab and in words.

Every imagined paint is tried beside what is on the shelf: how near would the best mixture with it
come, in colour and along the spectrum?  Those that would close the gap with few helpers count most;
the colour named is the one most of them agree on.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations

import numpy as np
import numpy.typing as npt

from sprayout.colour.difference import ciede2000
from sprayout.colour.words import words
from sprayout.mixing.axis import MODEL_NM
from sprayout.mixing.belief import Belief
from sprayout.mixing.goal import Goal, reflectance_slope, spectrum_scale
from sprayout.mixing.imagined import Imagined, imagined_paints
from sprayout.mixing.kubelka_munk import opaque_reflectance
from sprayout.mixing.steering import Limits

Array = npt.NDArray[np.float64]
Indices = npt.NDArray[np.intp]

_SPREAD_DE00 = 0.8
_HELPER_COST = 1.0
_SPECTRAL_WEIGHT = 2.5
_ALIKE_DE00 = 13.0
_LEAST_SHARE = 0.02
_MOST_SETS = 250


_HUES = (
    (20, "crimson"),
    (45, "red"),
    (70, "orange"),
    (105, "yellow"),
    (130, "yellow-green"),
    (185, "green"),
    (225, "turquoise"),
    (295, "blue"),
    (325, "violet"),
    (350, "purple"),
)


@dataclass(frozen=True, slots=True)
class Missing:
    """A paint that would close the gap: its masstone's Lab D65/10°, and words for it.

    ``nearest``: the paint on the shelf that comes nearest to it.
    """

    lab_d65_10: tuple[float, float, float]
    words: str
    nearest: str


def missing_colour(belief: Belief, goal: Goal, limits: Limits) -> Missing:
    """The paint that would bring the target within reach."""
    model = belief.model
    imagined = imagined_paints(MODEL_NM)
    masstone = model.surface.seen(opaque_reflectance(imagined.k / imagined.s))
    labs = model.axis.lab(masstone)
    score = _scores(belief, goal, imagined, min(limits.paints_max - 1, 3))
    weight = np.exp(-0.5 * (score - score.min()))
    alike = ciede2000(labs[:, None, :], labs[None, :, :]) < _ALIKE_DE00
    chosen = labs[np.argmax(alike @ weight)]
    lab = (float(chosen[0]), float(chosen[1]), float(chosen[2]))
    shelf = model.lab(np.eye(len(model.names)))
    nearest = int(np.argmin(ciede2000(shelf, chosen)))
    return Missing(lab, described(lab, shelf[nearest]), model.names[nearest])


def _scores(belief: Belief, goal: Goal, imagined: Imagined, helpers: int) -> Array:
    """For each imagined paint the least squared miss, in units of what may be chance, (n,)."""
    rows, scatter = _directions(belief, goal, imagined)
    count = len(belief.model.names)
    gram = rows.T @ rows
    gram = gram + 1e-4 * np.eye(len(gram))
    new = np.arange(count, len(gram))
    best = np.full(new.size, np.inf)
    for size in range(min(helpers, count) + 1):
        sets = _helper_sets(gram, scatter, count, size)
        columns = np.concatenate(
            [
                np.broadcast_to(sets[None], (new.size, *sets.shape)),
                np.broadcast_to(new[:, None, None], (new.size, len(sets), 1)),
            ],
            axis=2,
        )
        small = gram[columns[..., :, None], columns[..., None, :]]
        weight = scatter[columns]
        solved = np.linalg.solve(small, weight[..., None])[..., 0]
        gain = np.sum(solved * weight, axis=-1)
        share = solved / solved.sum(axis=-1, keepdims=True)
        possible = np.all(solved > 0, axis=-1) & (share[..., -1] > _LEAST_SHARE)
        miss = np.where(possible, 1 / gain, np.inf).min(axis=1) / _SPREAD_DE00**2
        best = np.minimum(best, miss + _HELPER_COST * size)
    return best


def _helper_sets(gram: Array, scatter: Array, count: int, size: int) -> Indices:
    """Sets of shelf paints that may help, (n, size): the ones nearest by themselves if many."""
    listed = list(combinations(range(count), size))
    sets = np.array(listed, dtype=np.intp).reshape(len(listed), size)
    if len(listed) <= _MOST_SETS:
        return sets
    solved = np.linalg.solve(gram[sets[:, :, None], sets[:, None, :]], scatter[sets][..., None])[
        ..., 0
    ]
    gain = np.sum(solved * scatter[sets], axis=1)
    return np.asarray(sets[np.argsort(-gain)[:_MOST_SETS]])


def _directions(belief: Belief, goal: Goal, imagined: Imagined) -> tuple[Array, Array]:
    """Weighted miss per share (rows, paints + imagined), and each column's scattering."""
    model = belief.model
    k, s = np.vstack([belief.k, imagined.k]), np.vstack([belief.s, imagined.s])
    typical = belief.s.mean(axis=0) / belief.s.mean()
    miss = (k / np.exp(goal.log_ratio) - s) / typical
    slope = reflectance_slope(goal.log_ratio, model.surface)
    seen = model.surface.seen(opaque_reflectance(np.exp(goal.log_ratio)))
    weights = goal.root @ goal.axis.lab_slope(seen) * slope
    if goal.sight is not None:
        scale = _SPECTRAL_WEIGHT * spectrum_scale(goal, goal.bands)
        weights = np.vstack([weights, scale[:, None] * goal.sight.matrix * slope])
    return np.asarray(weights @ miss.T), np.asarray(s.mean(axis=1))


def described(lab: tuple[float, float, float], nearest: Array) -> str:
    """Words for a colour beside the nearest paint there is: *a yellower, lighter green*."""
    beside = (float(nearest[0]), float(nearest[1]), float(nearest[2]))
    trade = words(beside, lab).trade[:2]
    name = hue_name(lab)
    phrase = f"{', '.join(trade)} {name}" if trade else name
    return f"{'an' if phrase[0] in 'aeiou' else 'a'} {phrase}"


def hue_name(lab: tuple[float, float, float]) -> str:
    """The everyday name of a colour; angles and limits are common practice, no source."""
    lightness, a, b = lab
    chroma, hue = float(np.hypot(a, b)), float(np.degrees(np.arctan2(b, a)) % 360)
    if chroma < 8:
        return "white" if lightness > 85 else "black" if lightness < 20 else "grey"
    if 30 <= hue < 80 and lightness < 45 and chroma < 45:
        return "brown"
    return next((name for limit, name in _HUES if hue < limit), "crimson")
