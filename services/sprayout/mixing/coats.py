"""How coats of a mixed paint build up over a base: primer, old paint, bare card.

A coat is a film of the mixture's K and S.  Thickness is counted in *hiding units*: the model's S
is per unit of the white's scattering, and only the product with thickness shows, so that one number
per coat (``step``) carries both; the first coat that is read tells it.  Film equation: Kubelka
1948.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from sprayout.colour.difference import ciede2000
from sprayout.colour.tristimulus import Spectrum
from sprayout.errors import BadInput
from sprayout.mixing.axis import MODEL_NM, Axis, sight_of
from sprayout.mixing.belief import Belief
from sprayout.mixing.kubelka_munk import Surface, film_reflectance
from sprayout.mixing.outlook import radius

Array = npt.NDArray[np.float64]
Lab = tuple[float, float, float]

COAT_STEP = 1.4
"""S X of one wet coat of a white paint, in hiding units; common practice, no source."""
STEP_SD, THICKNESS_SD = 0.6, 0.12
"""ln of the step before anything was read, and of one coat against the next."""
MIX_SD = 0.08
"""ln of K and of S of the mixture as the steering left it: the mix may be off, evenly."""
COLOUR_SD = 0.4
"""Each of L*, a*, b*: what the sensor gets wrong whatever the film."""
HIDING_CONTRAST = 0.98
"""Contrast ratio at which a film counts as hiding (ISO 6504-3, ASTM D2805)."""
BLACK, WHITE = 0.02, 0.80


@dataclass(frozen=True, slots=True)
class Film:
    """The mixture as it will be sprayed: K and S (16,) on the model's axis, and its surface.

    ``axis`` turns reflectances on ``MODEL_NM`` into Lab; ``k`` and ``s`` per hiding unit.
    """

    k: Array
    s: Array
    surface: Surface
    axis: Axis

    def over(self, base: Array, thickness: float) -> Array:
        """Measured reflectance (16,) of the film over a base of *measured* reflectance (16,)."""
        under = np.clip(self.surface.below(base), 1e-4, 0.9999)
        return self.surface.seen(film_reflectance(self.k, self.s, thickness, under))

    def contrast_ratio(self, thickness: float, black: float = BLACK, white: float = WHITE) -> float:
        """Y over black / Y over white of the film on a card (ISO 6504-3, ASTM D2805), 0 to 1."""
        dark = self.over(np.full(self.k.size, black), thickness)
        light = self.over(np.full(self.k.size, white), thickness)
        return float((dark @ self.axis.to_xyz)[1] / (light @ self.axis.to_xyz)[1])

    def opaque(self) -> Array:
        """Measured reflectance (16,) of a film that hides whatever is under it."""
        return self.over(np.full(self.k.size, 0.5), 1e4)


def film_of(belief: Belief) -> Film:
    """The mixture in the cup as a film, with everything its readings taught."""
    volumes = belief.volumes
    if not volumes.any():
        raise BadInput("film: the cup is empty; mix the paint first")
    shares = volumes / volumes.sum()
    k = (shares @ belief.k) * np.exp(belief.shift(shares))
    return Film(k, shares @ belief.s, belief.model.surface, belief.model.axis)


@dataclass(frozen=True, slots=True)
class CoatOutlook:
    """What is expected after so many coats.

    ``de00`` from the target, ``u95_de00`` the radius around ``lab``; ``contrast_ratio`` and whether
    it reaches hiding.
    """

    coats: int
    lab: Lab
    de00: float
    u95_de00: float
    contrast_ratio: float
    hides: bool


@dataclass(frozen=True, slots=True)
class CoatReading:
    """A coat that was read: after how many, and what was measured."""

    coats: int
    spectrum: Spectrum


@dataclass(frozen=True, slots=True)
class CoatPlan:
    """A film going over a base towards a target Lab; readings make it surer.

    ``base``: measured spectrum of what is under it; ``step_guess``: hiding units one coat is
    expected to lay down (:func:`step_from_film`).
    """

    film: Film
    base: Spectrum
    target_lab: Lab
    step_guess: float = COAT_STEP
    readings: tuple[CoatReading, ...] = ()
    state: Array = field(init=False, repr=False)
    spread: Array = field(init=False, repr=False)

    def __post_init__(self) -> None:
        if not 0.01 <= self.step_guess <= 100:
            raise BadInput(f"coat: a step of {self.step_guess:g}, wanted 0.01 to 100 hiding units")
        state, spread = _learned(self)
        object.__setattr__(self, "state", state)
        object.__setattr__(self, "spread", spread)

    def read(self, coats: int, spectrum: Spectrum) -> CoatPlan:
        """The plan after ``coats`` coats were read as ``spectrum``."""
        if not 1 <= coats <= 20:
            raise BadInput(f"coats: got {coats}, wanted 1 to 20; count the coats on the piece")
        reading = CoatReading(coats, spectrum)
        return CoatPlan(
            self.film, self.base, self.target_lab, self.step_guess, (*self.readings, reading)
        )

    def after(self, coats: int) -> CoatOutlook:
        """The colour after that many coats in all."""
        log_seen = _predicted(self, coats, self.state)
        slope = _slopes(self, coats, self.state)
        spread = slope @ self.spread @ slope.T
        more = coats - max((r.coats for r in self.readings), default=0)
        by_step = slope[:, 0]
        spread += np.outer(by_step, by_step) * THICKNESS_SD**2 * max(more, 0) / coats**2
        seen = np.exp(log_seen)
        to_lab = self.film.axis.lab_slope(seen) * seen
        covariance = to_lab @ spread @ to_lab.T + COLOUR_SD**2 * np.eye(3)
        lab = self.film.axis.lab(seen)
        thickness = coats * float(np.exp(self.state[0]))
        contrast = self.film.contrast_ratio(thickness)
        return CoatOutlook(
            coats=coats,
            lab=(float(lab[0]), float(lab[1]), float(lab[2])),
            de00=float(ciede2000(np.asarray(self.target_lab), lab)),
            u95_de00=radius(lab, covariance, 0.95),
            contrast_ratio=contrast,
            hides=contrast >= HIDING_CONTRAST,
        )

    def coats_to_hide(self, most: int = 12) -> int | None:
        """Coats until the film hides, or None when that is beyond ``most``."""
        return next((n for n in range(1, most + 1) if self.after(n).hides), None)


_BASIS_NM = (420.0, 500.0, 580.0, 660.0)
_SIZE = 1 + 2 * len(_BASIS_NM)


def _basis() -> Array:
    """Slow changes of ln K and ln S along the spectrum, (16, 4)."""
    nm = np.asarray(MODEL_NM)[:, None]
    near = np.exp(-0.5 * ((nm - np.asarray(_BASIS_NM)) / 60.0) ** 2)
    return np.asarray(near / near.sum(axis=1, keepdims=True))


def _predicted(plan: CoatPlan, coats: int, state: Array) -> Array:
    """ln of measured reflectance (16,); state = (ln step, changes of ln K, changes of ln S)."""
    basis, count = _basis(), len(_BASIS_NM)
    film = Film(
        plan.film.k * np.exp(basis @ state[1 : 1 + count]),
        plan.film.s * np.exp(basis @ state[1 + count :]),
        plan.film.surface,
        plan.film.axis,
    )
    sight = sight_of(plan.base)
    base = np.interp(MODEL_NM, sight.band_nm, sight.bands_of(plan.base.reflectance))
    seen = film.over(np.clip(base, 1e-3, 0.95), coats * float(np.exp(state[0])))
    return np.log(np.maximum(seen, 1e-4))


def _slopes(plan: CoatPlan, coats: int, state: Array) -> Array:
    step = 1e-4
    here = _predicted(plan, coats, state)
    moved = [_predicted(plan, coats, state + step * unit) for unit in np.eye(_SIZE)]
    return np.stack([(there - here) / step for there in moved], axis=1)


def _learned(plan: CoatPlan) -> tuple[Array, Array]:
    """State and covariance after all readings: Gauss–Newton from the prior."""
    start = np.zeros(_SIZE)
    start[0] = np.log(plan.step_guess)
    precision = np.diag([STEP_SD**-2] + [MIX_SD**-2] * (_SIZE - 1))
    state, curvature = start.copy(), precision.copy()
    for _ in range(8 if plan.readings else 0):
        curvature, right = precision.copy(), precision @ (start - state)
        for reading in plan.readings:
            sight = sight_of(reading.spectrum)
            bands = np.maximum(sight.bands_of(reading.spectrum.reflectance), 1e-4)
            seen = np.exp(_predicted(plan, reading.coats, state))
            slope = sight.matrix @ (seen[:, None] * _slopes(plan, reading.coats, state))
            weight = 1 / (0.003**2 + (0.01 * bands) ** 2)
            curvature += slope.T @ (weight[:, None] * slope)
            right += slope.T @ (weight * (bands - sight.matrix @ seen))
        state = state + np.clip(np.linalg.solve(curvature, right), -0.7, 0.7)
    return state, np.asarray(np.linalg.inv(curvature), dtype=np.float64)


def step_from_film(film_um_per_coat: float, film_um_of_one_unit: float = 18.0) -> float:
    """Hiding units a coat of this dry thickness lays down.

    ``film_um_of_one_unit``: dry film of a white paint whose S X is 1; common practice, no source.
    Learned in its place as soon as a coat is read.
    """
    if not (film_um_per_coat > 0 and film_um_of_one_unit > 0):
        raise BadInput(f"film: got {film_um_per_coat:g} um a coat, wanted more than 0; estimate it")
    return film_um_per_coat / film_um_of_one_unit


def said_after(plan: CoatPlan, tolerance_de00: float = 1.0) -> str:
    """One sentence after a coat was read: another coat, or the mix is off."""
    done = max((reading.coats for reading in plan.readings), default=0)
    following, end = plan.after(done + 1), plan.after(done + 12)
    if end.de00 > max(1.5 * tolerance_de00, tolerance_de00 + 0.5 * end.u95_de00):
        return (
            f"the mix is off, not the hiding: with any number of coats it stays about "
            f"{end.de00:.1f} CIEDE2000 from the target"
        )
    enough = next((n for n in range(max(done, 1), done + 9) if _there(plan, n, end)), None)
    if enough == done and done:
        now = plan.after(done).de00
        said = f"it hides: further coats change it by less than 0.5; now {now:.1f}"
        beyond = now > tolerance_de00
        return said + (f", outside the tolerance of {tolerance_de00:g}" if beyond else "")
    coat = "another coat" if done else "the first coat"
    return (
        f"{coat} brings you to {following.de00:.1f} CIEDE2000 (within "
        f"{following.u95_de00:.1f}, 95 times in 100)"
        + (f"; it settles after {enough} coats" if enough else "")
    )


def _there(plan: CoatPlan, coats: int, end: CoatOutlook) -> bool:
    return float(ciede2000(np.asarray(plan.after(coats).lab), np.asarray(end.lab))) < 0.5
