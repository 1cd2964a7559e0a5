"""K and S of every paint on the shelf at once, from whatever swatches there are.

A Bayesian least-squares fit (Gauss–Newton with damping) of ln K/S and ln S of all paints, band by
band but joined through the mixtures, through scattering that varies slowly along the spectrum and
through drops that scatter.  The size of a bottle's drop is a part of its S: K and S here are *per
drop as it was counted*, which is what a recipe in drops needs.  The covariance that comes out is
the uncertainty of everything predicted later.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from sprayout.colour.difference import ciede2000
from sprayout.errors import BadInput
from sprayout.mixing.axis import MODEL_NM, Axis, Sight, model_axis, sight_of, spline_matrix
from sprayout.mixing.kubelka_munk import Surface, opaque_reflectance
from sprayout.mixing.observation import FilmOver, Observation, Response, observe, respond
from sprayout.mixing.prior import (
    USUAL,
    Prior,
    expected_scatter,
    ratio_covariance,
    scatter_covariance,
)
from sprayout.mixing.values import Shelf, Swatch

Array = npt.NDArray[np.float64]

_ROUNDS = 30
_DARK = 0.03
_NOISIER = (0.001, 0.002)
FILM_START, FILM_SD, _FILM_EACH_SD = 1.2, 1.5, 0.2
CONTRADICTION_DE00 = 12.0


@dataclass(frozen=True, slots=True)
class ShelfModel:
    """What is known of the paints: means (paints, 16) on ``MODEL_NM`` and one covariance of all.

    The covariance is over the vector (ln K/S of all paints and bands, then ln S of all).
    ``films``: ln of the swatches' common film and of each film against it (empty without films);
    ``filters``: the filter bands the swatches were seen through, where they were.
    """

    names: tuple[str, ...]
    surface: Surface
    prior: Prior
    log_q: Array
    log_s: Array
    covariance: Array
    residual_de00: tuple[float, ...]
    films: Array
    log_evidence: float
    filters: Sight | None

    @property
    def axis(self) -> Axis:
        return model_axis()

    @property
    def k(self) -> Array:
        """K of each paint per drop, (paints, bands), in units of the white's S."""
        return np.asarray(np.exp(self.log_q + self.log_s))

    @property
    def s(self) -> Array:
        """S of each paint per drop, (paints, bands)."""
        return np.asarray(np.exp(self.log_s))

    def only(self, names: tuple[str, ...]) -> ShelfModel:
        """What is known of some of the paints, learned from the swatches of all."""
        chosen = np.array([self.names.index(name) for name in names], dtype=np.intp)
        bands, half = len(MODEL_NM), self.log_q.size
        at = (chosen[:, None] * bands + np.arange(bands)).ravel()
        at = np.concatenate([at, half + at])
        return replace(
            self,
            names=names,
            log_q=self.log_q[chosen],
            log_s=self.log_s[chosen],
            covariance=self.covariance[np.ix_(at, at)],
        )

    def reflectance(self, drops: Array) -> Array:
        """Measured reflectance (..., bands) of opaque mixtures of ``drops`` (..., paints)."""
        return self.surface.seen(opaque_reflectance((drops @ self.k) / (drops @ self.s)))

    def lab(self, drops: Array) -> Array:
        """Lab D65/10° (..., 3) of opaque mixtures of ``drops`` (..., paints)."""
        return self.axis.lab(self.reflectance(drops))


def fit_shelf(shelf: Shelf, prior: Prior = USUAL, surface: Surface | None = None) -> ShelfModel:
    """Fit all paints of the shelf; raises BadInput where swatches contradict each other."""
    swatches = shelf.swatches()
    _check_repeats(swatches)
    models: list[ShelfModel] = []
    for floor in _floors(swatches, prior):
        fit = _Fit(shelf, swatches, replace(prior, noise_floor=floor), surface or Surface())
        models.append(fit.run(models[-1] if models else None))
    model = max(models, key=lambda one: one.log_evidence)
    _check_residuals(model, swatches)
    return model


def _floors(swatches: tuple[Swatch, ...], prior: Prior) -> tuple[float, ...]:
    """Noise floors worth trying: dark swatches show by their jaggedness how good the sensor is."""
    dark = sum(min(swatch.spectrum.reflectance) < _DARK for swatch in swatches)
    return (prior.noise_floor, *_NOISIER) if dark >= 2 else (prior.noise_floor,)


class _Fit:
    """One run: the vector is (ln K/S, ln S of each paint and band; common film; each film)."""

    def __init__(
        self,
        shelf: Shelf,
        swatches: tuple[Swatch, ...],
        prior: Prior,
        surface: Surface,
    ) -> None:
        self.shelf, self.prior, self.surface = shelf, prior, surface
        films = {swatch.parts: 0 for swatch in swatches if swatch.over is not None}
        self.films = {parts: number for number, parts in enumerate(films)}
        self.seen = [
            observe(s, shelf.names, surface, prior, self.films.get(s.parts, -1)) for s in swatches
        ]
        self.paints, self.bands = len(shelf.names), len(MODEL_NM)
        self.half = self.paints * self.bands
        self.size = 2 * self.half + (1 + len(self.films) if self.films else 0)
        self.start, self.precision, self.prior_determinant = self._prior()

    def _guess(self, paint: int) -> Array:
        """ln K/S to start a paint from: its masstone, or its strongest mixture made stronger."""
        mine = [o for o in self.seen if paint in o.paints]
        best = max(mine, key=lambda o: float(o.shares[list(o.paints).index(paint)]))
        share = float(best.shares[list(best.paints).index(paint)])
        between = spline_matrix(best.sight.band_nm, MODEL_NM) @ best.log_ratio
        return np.asarray(between - np.log(share))

    def _prior(self) -> tuple[Array, Array, float]:
        start, precision = np.zeros(self.size), np.zeros((self.size, self.size))
        free_q = np.linalg.inv(ratio_covariance(self.prior))
        determinant = 0.0
        for paint, name in enumerate(self.shelf.names):
            q, s = self._block(paint), self._block(paint) + self.half
            start[q] = self._guess(paint)
            spread = scatter_covariance(self.prior)
            if name == self.shelf.white:
                start[s] = 0.0
                spread = spread - self.prior.scatter_level**2 + 0.1**2
            else:
                start[s] = expected_scatter(np.exp(start[q]))
            precision[np.ix_(q, q)] = free_q
            precision[np.ix_(s, s)] = np.linalg.inv(spread)
            determinant -= float(np.linalg.slogdet(spread)[1])
        if self.films:
            at = 2 * self.half
            start[at] = FILM_START
            precision[at, at] = FILM_SD**-2
            each = np.arange(at + 1, self.size)
            precision[each, each] = _FILM_EACH_SD**-2
        return start, precision, determinant

    def _block(self, paint: int) -> npt.NDArray[np.intp]:
        return np.arange(paint * self.bands, (paint + 1) * self.bands)

    def _respond(self, vector: Array, seen: Observation) -> Response:
        log_q = vector[: self.half].reshape(self.paints, self.bands)[seen.paints]
        log_s = vector[self.half : 2 * self.half].reshape(self.paints, self.bands)[seen.paints]
        film = None
        if seen.card is not None:
            at = 2 * self.half
            film = FilmOver(float(vector[at] + vector[at + 1 + seen.film]), seen.card, self.surface)
        return respond(seen.parts, log_q, log_s, seen.sight, self.surface, self.prior, film)

    def _normal(self, vector: Array, slopes: bool = True) -> tuple[float, Array, Array]:
        """Cost, gradient and curvature at the vector."""
        away = vector - self.start
        gradient = self.precision @ away
        cost = float(away @ gradient)
        curvature = self.precision.copy() if slopes else self.precision
        for seen in self.seen:
            response = self._respond(vector, seen)
            error = response.error + seen.noise
            weight = np.asarray(np.linalg.inv(error), dtype=np.float64)
            miss = response.value - seen.log_ratio
            cost += float(miss @ weight @ miss + np.linalg.slogdet(error)[1])
            if slopes:
                self._add(seen, response, weight, miss, gradient, curvature)
        return cost, gradient, curvature

    def _add(
        self,
        seen: Observation,
        response: Response,
        weight: Array,
        miss: Array,
        gradient: Array,
        curvature: Array,
    ) -> None:
        blocks = [self._block(p) for p in seen.paints]
        at = np.concatenate(blocks + [block + self.half for block in blocks])
        gain = response.gain
        slope = np.concatenate([gain * row for row in (*response.to_q, *response.to_s)], axis=1)
        if seen.card is not None:
            common = 2 * self.half
            at = np.append(at, [common, common + 1 + seen.film])
            film = gain @ response.to_film
            slope = np.column_stack([slope, film, film])
        weighted = weight @ slope
        gradient[at] += weighted.T @ miss
        curvature[np.ix_(at, at)] += slope.T @ weighted

    def run(self, like: ShelfModel | None = None) -> ShelfModel:
        """Fit, from the start the prior gives or from a fit that is like this one."""
        vector, damping = self.start.copy(), 0.0
        if like is not None:
            vector[: 2 * self.half] = np.concatenate([like.log_q, like.log_s]).ravel()
            vector[2 * self.half :] = like.films
        cost, gradient, curvature = self._normal(vector)
        for _ in range(_ROUNDS):
            damped = curvature + damping * np.diag(np.diag(curvature))
            step = -np.linalg.solve(damped, gradient)
            # More than a factor of e^1.5 at once leaves the region where the slopes hold.
            step *= min(1.0, 1.5 / max(float(np.abs(step).max()), 1e-12))
            trial, gradient_new, curvature_new = self._normal(vector + step)
            if trial > cost + 1e-6:
                damping = max(4 * damping, 0.03)
                if damping > 1e4:
                    break
                continue
            gain = cost - trial
            vector, cost, gradient, curvature = vector + step, trial, gradient_new, curvature_new
            damping = damping / 4 if damping > 0.01 else 0.0
            if gain < 0.02:
                break
        return self._model(vector, cost, curvature)

    def _model(self, vector: Array, cost: float, curvature: Array) -> ShelfModel:
        half, shape = self.half, (self.paints, self.bands)
        evidence = -0.5 * (cost - self.prior_determinant + float(np.linalg.slogdet(curvature)[1]))
        return ShelfModel(
            names=self.shelf.names,
            surface=self.surface,
            prior=self.prior,
            log_q=vector[:half].reshape(shape),
            log_s=vector[half : 2 * half].reshape(shape),
            covariance=np.asarray(
                np.linalg.inv(curvature)[: 2 * half, : 2 * half], dtype=np.float64
            ),
            residual_de00=tuple(self._residual(vector, seen) for seen in self.seen),
            films=vector[2 * half :],
            log_evidence=evidence,
            filters=next((seen.sight for seen in self.seen if seen.sight.coarse), None),
        )

    def _residual(self, vector: Array, seen: Observation) -> float:
        fitted = opaque_reflectance(np.exp(self._respond(vector, seen).value))
        lab = seen.sight.axis.lab(np.stack([self.surface.seen(fitted), seen.reflectance]))
        return float(ciede2000(lab[0], lab[1]))


def _check_repeats(swatches: tuple[Swatch, ...]) -> None:
    """Two measurements of one mixture on one card must be one colour."""
    known: dict[tuple[tuple[tuple[str, float], ...], str | None], Array] = {}
    for swatch in swatches:
        sight = sight_of(swatch.spectrum)
        lab = sight.axis.lab(sight.bands_of(swatch.spectrum.reflectance))
        first = known.setdefault((swatch.parts, swatch.over), lab)
        apart = float(ciede2000(first, lab))
        if apart > CONTRADICTION_DE00:
            raise BadInput(
                f"swatches of {swatch.title()}: two of the same mixture are {apart:.0f} CIEDE2000 "
                "apart, wanted the same colour; measure both again and keep the right one"
            )


def _check_residuals(model: ShelfModel, swatches: tuple[Swatch, ...]) -> None:
    worst = int(np.argmax(model.residual_de00))
    if model.residual_de00[worst] > CONTRADICTION_DE00:
        raise BadInput(
            f"swatch of {swatches[worst].title()}: it is {model.residual_de00[worst]:.0f} "
            "CIEDE2000 from what the other swatches of these paints say, wanted about the same; "
            "check its parts, or make it again"
        )
