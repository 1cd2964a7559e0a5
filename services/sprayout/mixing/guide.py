"""Which swatch to make next, and how much surer it would make the recipes.

Nothing is guessed about what the swatch will show: how much it narrows the uncertainty follows from
the model alone.  Each possible swatch is judged by the mean 95 % radius of a fixed set of mixtures.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from sprayout.errors import BadInput
from sprayout.mixing.axis import MODEL_NM, Sight, sight_on
from sprayout.mixing.belief import CupHistory, learn
from sprayout.mixing.fit import FILM_SD, FILM_START, ShelfModel
from sprayout.mixing.kubelka_munk import opaque_reflectance
from sprayout.mixing.observation import FilmOver, Response, noise_covariance, respond
from sprayout.mixing.outlook import lab_spread, radius
from sprayout.mixing.prior import CARD
from sprayout.mixing.values import Base, Shelf, Swatch

Array = npt.NDArray[np.float64]
Indices = npt.NDArray[np.intp]

LETDOWN, STRONG_LETDOWN = 10, 3
_LIGHT_L = 70.0
_OTHERS = 8
_WHITE_L = 88.0
_SAME_RATIO = 2.0
"""Let-downs whose shares differ by less than this factor tell the same."""


@dataclass(frozen=True, slots=True)
class SwatchAdvice:
    """A swatch worth making: parts in drops, and the mean 95 % radius before and after it.

    ``over``: the cards a thin film goes on; empty for a swatch that hides.
    """

    paint: str
    parts: tuple[tuple[str, int], ...]
    u95_before_de00: float
    u95_after_de00: float
    over: tuple[Base, ...] = ()

    @property
    def gain_de00(self) -> float:
        """How much surer recipes with the paint become."""
        return self.u95_before_de00 - self.u95_after_de00

    def words(self) -> str:
        return (
            f"{self.what()}: recipes with {self.paint} would be sure to "
            f"{self.u95_after_de00:.1f} instead of {self.u95_before_de00:.1f} CIEDE2000"
        )

    def what(self) -> str:
        """The swatch in words."""
        if self.over:
            return f"one thin film of {self.paint} over " + " and over ".join(self.over)
        if len(self.parts) == 1:
            return f"{self.paint} alone, brushed out until nothing shows through"
        return " + ".join(f"{n} {name}" for name, n in self.parts) + " (drops)"


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
        GuidedSwatch(let_down(STRONG_LETDOWN), (), "tells how far the model holds"),
        GuidedSwatch(
            ((paint, 1),), ("black", "white"), "one thin film over both: tells how it hides"
        ),
    )


def next_swatches(shelf: Shelf, model: ShelfModel, most: int = 3) -> tuple[SwatchAdvice, ...]:
    """The swatches that help most, the most helpful first."""
    advice = [one for paint in range(len(shelf.names)) for one in _advice(shelf, model, paint)]
    advice.sort(key=lambda one: -one.gain_de00)
    return tuple(advice[:most])


def next_of_each(shelf: Shelf, model: ShelfModel) -> dict[str, SwatchAdvice | None]:
    """The most helpful next swatch of each paint, None for one whose set is complete."""
    return {
        name: max(_advice(shelf, model, paint), key=lambda one: one.gain_de00, default=None)
        for paint, name in enumerate(shelf.names)
    }


def _advice(shelf: Shelf, model: ShelfModel, paint: int) -> list[SwatchAdvice]:
    """Every swatch of the guided set that one paint still lacks, judged."""
    mixtures = _mixtures(shelf, model, paint)
    before = _mean_radius(model, mixtures)
    return [
        SwatchAdvice(
            paint=model.names[paint],
            parts=parts,
            u95_before_de00=before,
            u95_after_de00=_mean_radius(
                replace(model, covariance=_after(model, parts, over)), mixtures
            ),
            over=over,
        )
        for parts, over in lacking(shelf, model, paint)
    ]


def partner_of(shelf: Shelf, model: ShelfModel, paint: int) -> tuple[str | None, bool]:
    """What a paint is let down with, and whether it is a light one: white, or black for these.

    Always of its own family, for others curdle; None where that has neither.
    """
    lightness = model.lab(np.eye(len(shelf.names)))[:, 0]
    light = bool(lightness[paint] > _LIGHT_L)
    if not light:
        return white_of(shelf, model, paint), light
    own = shelf.paints[paint].family
    kin = [i for i, p in enumerate(shelf.paints) if p.family == own and i != paint]
    dark = min(kin, key=lambda i: float(lightness[i]), default=None)
    return (None if dark is None else shelf.names[dark]), light


def white_of(shelf: Shelf, model: ShelfModel, paint: int) -> str | None:
    """The white of a paint's family: the shelf's own, else the lightest that is nearly white."""
    kin = [p.name for p in shelf.paints if p.family == shelf.paints[paint].family]
    if shelf.white in kin:
        return None if shelf.white == shelf.names[paint] else shelf.white
    labs = dict(zip(shelf.names, model.lab(np.eye(len(shelf.names))), strict=True))
    pale = [n for n in kin if n != shelf.names[paint] and labs[n][0] > _WHITE_L]
    return max(pale, key=lambda n: float(labs[n][0]), default=None)


def wanted_steps(shelf: Shelf, model: ShelfModel, paint: int) -> tuple[GuidedSwatch, ...]:
    """The guided set of a paint with what the shelf has to let it down with."""
    name = shelf.names[paint]
    partner, light = partner_of(shelf, model, paint)
    steps = guided_set(name, partner or "", light)
    if partner is None:
        steps = tuple(step for step in steps if len(step.parts) == 1)
    white = white_of(shelf, model, paint)
    if light and white is not None:
        why = "tells its strength against the white, as that of the dark paints"
        steps += (GuidedSwatch(((name, 1), (white, LETDOWN)), (), why),)
    return steps


def lacking(
    shelf: Shelf, model: ShelfModel, paint: int
) -> list[tuple[tuple[tuple[str, int], ...], tuple[Base, ...]]]:
    """Parts and cards of the swatches of the guided set that the shelf does not have."""
    return [
        (step.parts, tuple(card for card in step.over if not has(shelf, step.parts, (card,))))
        for step in wanted_steps(shelf, model, paint)
        if not has(shelf, step.parts, step.over)
    ]


def has(shelf: Shelf, parts: tuple[tuple[str, int], ...], over: tuple[Base, ...]) -> bool:
    """Whether the shelf has this swatch, or one that tells the same; a film over each card."""
    return all(
        any(_tells_the_same(swatch, dict(parts), card) for swatch in shelf.swatches())
        for card in over or (None,)
    )


def _tells_the_same(swatch: Swatch, parts: dict[str, int], card: Base | None) -> bool:
    held = dict(swatch.parts)
    if held.keys() != parts.keys() or swatch.over != card:
        return False
    first = next(iter(parts))
    one, other = held[first] / sum(held.values()), parts[first] / sum(parts.values())
    # The smaller share is the one that tells.
    if other > 0.5:
        one, other = 1 - one, 1 - other
    return len(parts) == 1 or 1 / _SAME_RATIO < one / other < _SAME_RATIO


def _mixtures(shelf: Shelf, model: ShelfModel, paint: int) -> Array:
    """The paint in others of its family, three parts to one and one to three, (n, paints).

    Of a large shelf only some of the others: their mean tells enough.
    """
    count = len(model.names)
    own = np.eye(count)[paint]
    family = shelf.paints[paint].family
    kin = [i for i, p in enumerate(shelf.paints) if p.family == family and i != paint]
    rest = [np.eye(count)[other] for other in kin] or [own]
    others = [rest[i] for i in np.unique(np.linspace(0, len(rest) - 1, _OTHERS).astype(int))]
    return np.array([mix for other in others for mix in (9 * own + 3 * other, 3 * own + 9 * other)])


def _mean_radius(model: ShelfModel, mixtures: Array) -> float:
    belief = learn(model, CupHistory())
    found = []
    for drops in mixtures:
        spread = belief.covariance(drops)
        lab, covariance = lab_spread(belief, model.axis, belief.log_ratio(drops), spread)
        found.append(radius(lab, covariance, 0.95))
    return float(np.mean(found))


def _after(
    model: ShelfModel, parts: tuple[tuple[str, int], ...], over: tuple[Base, ...] = ()
) -> Array:
    """Covariance of the shelf once this swatch was made and measured, on each card if on any."""
    paints = np.array([model.names.index(name) for name, _ in parts])
    drops = np.array([float(n) for _, n in parts])
    sight = model.filters or sight_on(MODEL_NM)
    looks = [_look(model, drops, paints, sight, card) for card in (over or (None,))]
    noise = _side_by_side([look.error + _noise(model, look) for look in looks])
    if over:
        # One film on both cards: nobody knows how thick it is.
        to_film = np.concatenate([look.gain @ look.to_film for look in looks])
        noise = noise + FILM_SD**2 * np.outer(to_film, to_film)
    slope = np.concatenate([_slope(model, paints, look) for look in looks])
    cross = model.covariance @ slope.T
    joint = slope @ cross + noise
    return np.asarray(model.covariance - cross @ np.linalg.solve(joint, cross.T))


def _side_by_side(blocks: list[Array]) -> Array:
    """The covariance of observations that share no error."""
    whole = np.zeros((sum(map(len, blocks)),) * 2)
    at = 0
    for block in blocks:
        whole[at : at + len(block), at : at + len(block)] = block
        at += len(block)
    return whole


def _look(
    model: ShelfModel, drops: Array, paints: Indices, sight: Sight, card: Base | None
) -> Response:
    film = None
    if card is not None:
        thickness = float(model.films[0]) if model.films.size else FILM_START
        film = FilmOver(thickness, CARD[card], model.surface)
    log_q, log_s = model.log_q[paints], model.log_s[paints]
    return respond(drops, log_q, log_s, sight, model.surface, model.prior, film)


def _noise(model: ShelfModel, look: Response) -> Array:
    seen = model.surface.seen(opaque_reflectance(np.exp(look.value)))
    return noise_covariance(seen, model.surface, model.prior)


def _slope(model: ShelfModel, paints: Indices, look: Response) -> Array:
    """Slope (bands, 2 paints 16) of what is reported to all that the fit does not know."""
    bands, half = len(MODEL_NM), model.log_q.size
    slope = np.zeros((len(look.value), 2 * half))
    for i, paint in enumerate(paints):
        at = slice(paint * bands, (paint + 1) * bands)
        slope[:, at] = look.gain * look.to_q[i]
        slope[:, half + at.start : half + at.stop] = look.gain * look.to_s[i]
    return slope
