"""Which swatch to make next, and how much surer it would make the recipes.

Nothing is guessed about what the swatch will show: how much it narrows the uncertainty follows from
the model alone.  Each possible swatch is judged by the mean 95 % radius of a fixed set of mixtures.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from sprayout.errors import BadInput
from sprayout.mixing.axis import MODEL_NM, sight_on
from sprayout.mixing.belief import CupHistory, learn
from sprayout.mixing.fit import ShelfModel
from sprayout.mixing.kubelka_munk import opaque_reflectance
from sprayout.mixing.observation import noise_covariance, respond
from sprayout.mixing.outlook import lab_spread, radius
from sprayout.mixing.values import Base, Shelf

Array = npt.NDArray[np.float64]

LETDOWN = 10
_LIGHT_L = 70.0


@dataclass(frozen=True, slots=True)
class SwatchAdvice:
    """A swatch worth making: parts in drops, and the mean 95 % radius before and after it."""

    paint: str
    parts: tuple[tuple[str, int], ...]
    u95_before_de00: float
    u95_after_de00: float

    def words(self) -> str:
        what = " + ".join(f"{n} {name}" for name, n in self.parts)
        return (
            f"{what} (drops): recipes with {self.paint} would be sure to "
            f"{self.u95_after_de00:.1f} instead of {self.u95_before_de00:.1f} CIEDE2000"
        )


@dataclass(frozen=True, slots=True)
class GuidedSwatch:
    """One step of the guided set: parts in drops, the card it goes on, and what it is for."""

    parts: tuple[tuple[str, int], ...]
    over: tuple[Base, ...]
    why: str


def guided_set(paint: str, partner: str, light: bool) -> tuple[GuidedSwatch, ...]:
    """The swatches that characterise a paint, the most telling first.

    ``partner``: the white, or for a light paint the black; ``light``: whether the paint is light.
    """
    if paint == partner:
        raise BadInput(f"guided set: {paint} cannot be let down with itself; name another paint")

    def let_down(strength: int) -> tuple[tuple[str, int], ...]:
        if light:
            return ((paint, strength), (partner, 1))
        return ((paint, 1), (partner, strength))

    return (
        GuidedSwatch(((paint, 1),), (), "the masstone: brush it out until nothing shows through"),
        GuidedSwatch(let_down(LETDOWN), (), "counted in drops, it tells strength and drop size"),
        GuidedSwatch(let_down(3), (), "tells how far the model holds"),
        GuidedSwatch(
            ((paint, 1),), ("black", "white"), "one thin film over both: tells how it hides"
        ),
    )


def next_swatches(shelf: Shelf, model: ShelfModel, most: int = 3) -> tuple[SwatchAdvice, ...]:
    """The swatches that help most, the most helpful first."""
    advice = [
        _judged(model, paint, parts)
        for paint in range(len(shelf.names))
        for parts in _possible(shelf, model, paint)
    ]
    advice.sort(key=lambda one: one.u95_after_de00 - one.u95_before_de00)
    return tuple(advice[:most])


def _possible(shelf: Shelf, model: ShelfModel, paint: int) -> list[tuple[tuple[str, int], ...]]:
    """Masstone and let-downs of one paint, unless the shelf has them."""
    name = shelf.names[paint]
    known = {tuple(sorted(n for n, _ in s.parts)) for s in shelf.swatches()}
    lightness = model.lab(np.eye(len(shelf.names)))[:, 0]
    white = int(np.argmax(lightness)) if shelf.white is None else shelf.names.index(shelf.white)
    dark = shelf.names[int(np.argmin(lightness))]
    wanted: list[tuple[tuple[str, int], ...]] = [((name, 1),)]
    if paint != white:
        wanted.append(((name, 1), (shelf.names[white], LETDOWN)))
    if lightness[paint] > _LIGHT_L and dark != name:
        wanted.append(((name, LETDOWN), (dark, 1)))
    return [parts for parts in wanted if tuple(sorted(n for n, _ in parts)) not in known]


def _judged(model: ShelfModel, paint: int, parts: tuple[tuple[str, int], ...]) -> SwatchAdvice:
    surer = replace(model, covariance=_after(model, parts))
    mixtures = _mixtures(model, paint)
    return SwatchAdvice(
        paint=model.names[paint],
        parts=parts,
        u95_before_de00=_mean_radius(model, mixtures),
        u95_after_de00=_mean_radius(surer, mixtures),
    )


def _mixtures(model: ShelfModel, paint: int) -> Array:
    """The paint in every other one, three parts to one and one to three, (n, paints)."""
    count = len(model.names)
    own = np.eye(count)[paint]
    others = [np.eye(count)[other] for other in range(count) if other != paint] or [own]
    return np.array([mix for other in others for mix in (9 * own + 3 * other, 3 * own + 9 * other)])


def _mean_radius(model: ShelfModel, mixtures: Array) -> float:
    belief = learn(model, CupHistory())
    found = []
    for drops in mixtures:
        spread = belief.covariance(drops)
        lab, covariance = lab_spread(belief, model.axis, belief.log_ratio(drops), spread)
        found.append(radius(lab, covariance, 0.95))
    return float(np.mean(found))


def _after(model: ShelfModel, parts: tuple[tuple[str, int], ...]) -> Array:
    """Covariance of the shelf once this swatch was made and measured."""
    paints = np.array([model.names.index(name) for name, _ in parts])
    drops = np.array([float(n) for _, n in parts])
    sight = model.filters or sight_on(MODEL_NM)
    response = respond(
        drops, model.log_q[paints], model.log_s[paints], sight, model.surface, model.prior
    )
    seen = model.surface.seen(
        opaque_reflectance((drops @ model.k[paints]) / (drops @ model.s[paints]))
    )
    noise = response.error + noise_covariance(sight.matrix @ seen, model.surface, model.prior)
    bands, half = len(MODEL_NM), model.log_q.size
    slope = np.zeros((len(noise), 2 * half))
    for i, paint in enumerate(paints):
        at = slice(paint * bands, (paint + 1) * bands)
        slope[:, at] = response.gain * response.to_q[i]
        slope[:, half + at.start : half + at.stop] = response.gain * response.to_s[i]
    cross = model.covariance @ slope.T
    joint = slope @ cross + noise
    return np.asarray(model.covariance - cross @ np.linalg.solve(joint, cross.T))
