"""A measured swatch as the fit sees it: ln K/S per band, with everything that makes it uncertain.

ln(K/S) is the scale on which noise, drop errors and the model's own errors are about additive, and
on which an opaque mixture is a difference of two log-sums.  A film over a card is put on the same
scale through the K/S an opaque layer of its reflectance would have.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from sprayout.mixing.axis import Sight, sight_of
from sprayout.mixing.kubelka_munk import Surface, film_reflectance, k_over_s, opaque_reflectance
from sprayout.mixing.prior import CARD, CARD_SD, Prior, smooth_across
from sprayout.mixing.values import Swatch

Array = npt.NDArray[np.float64]
Indices = npt.NDArray[np.intp]

_LOWEST, _HIGHEST = 3e-4, 0.9985
_STEP = 1e-4


@dataclass(frozen=True, slots=True)
class Observation:
    """One swatch: which paints, how much, ln K/S (bands,), its covariance, the card under it."""

    sight: Sight

    paints: Indices
    parts: Array
    log_ratio: Array
    noise: Array
    card: float | None
    film: int
    reflectance: Array

    @property
    def shares(self) -> Array:
        return np.asarray(self.parts / self.parts.sum())


@dataclass(frozen=True, slots=True)
class Response:
    """Predicted ln K/S of an observation and its slopes.

    ``value`` (bands,) is what the sight reports, ``gain`` (bands, 16) how it follows ln K/S on the
    model's axis.  There, ``to_q`` and ``to_s`` (paints, 16) are slopes with respect to ln K/S and
    ln S of each paint, ``to_film`` (16,) to ln of the film; ``error`` (bands, bands) is the
    covariance of drops, card and model.
    """

    value: Array
    gain: Array
    to_q: Array
    to_s: Array
    to_film: Array
    error: Array


def log_ratio(reflectance: Array, surface: Surface) -> Array:
    """ln K/S of an opaque layer of this measured reflectance, kept off the two ends."""
    inside = np.clip(surface.below(np.maximum(reflectance, 0.0)), _LOWEST, _HIGHEST)
    return np.asarray(np.log(k_over_s(inside)))


def noise_covariance(
    reflectance: Array, surface: Surface, prior: Prior, sd: Array | None = None
) -> Array:
    """Diagonal covariance of ln K/S that sensor noise causes, shape (bands, bands)."""
    if sd is None:
        sd = np.hypot(prior.noise_relative * reflectance, prior.noise_floor)
    inside = np.clip(surface.below(reflectance), _LOWEST, _HIGHEST)
    steep = (1 + inside) / ((1 - inside) * inside) / surface.slope(inside)
    # Where the slope runs away (nearly no light, nearly no loss) the curve itself bounds the error.
    return np.diag(np.minimum(steep * np.maximum(sd, 1e-5), 1.0) ** 2)


def observe(
    swatch: Swatch, names: tuple[str, ...], surface: Surface, prior: Prior, film: int
) -> Observation:
    """The swatch as its sight gives it."""
    sight = sight_of(swatch.spectrum)
    seen = sight.bands_of(swatch.spectrum.reflectance)
    sd = None if swatch.sd is None else np.abs(sight.bands_of(swatch.sd))
    return Observation(
        sight=sight,
        paints=np.array([names.index(name) for name, _ in swatch.parts]),
        parts=np.array([n for _, n in swatch.parts]),
        log_ratio=log_ratio(seen, surface),
        noise=noise_covariance(seen, surface, prior, sd),
        card=None if swatch.over is None else CARD[swatch.over],
        film=film,
        reflectance=seen,
    )


def mixedness(shares: Array) -> Array:
    """0 for a single paint, 1 for two halves: how far a mixture is from what was measured pure."""
    return np.asarray(np.minimum(2 * (1 - np.sum(shares**2, axis=-1)), 1.0))


def respond(
    parts: Array,
    log_q: Array,
    log_s: Array,
    sight: Sight,
    surface: Surface,
    prior: Prior,
    film: FilmOver | None = None,
) -> Response:
    """What the model expects of ``parts`` (paints,) of paints with these ln K/S and ln S."""
    share = parts / parts.sum()
    log_k = log_q + log_s
    top_k, top_s = log_k.max(axis=0), log_s.max(axis=0)
    part_k = share[:, None] * np.exp(log_k - top_k)
    part_s = share[:, None] * np.exp(log_s - top_s)
    sum_k, sum_s = part_k.sum(axis=0), part_s.sum(axis=0)
    mix_k, mix_s = np.log(sum_k) + top_k, np.log(sum_s) + top_s
    by_k, by_s = part_k / sum_k, part_s / sum_s
    if film is None:
        value, slope_k, slope_s = mix_k - mix_s, np.ones_like(mix_k), -np.ones_like(mix_k)
        error = np.zeros((mix_k.size, mix_k.size))
    else:
        value, slope_k, slope_s, card = film.response(mix_k, mix_s)
        error = CARD_SD**2 * np.outer(card, card)
    to_film = slope_k + slope_s
    to_s = slope_k * by_k + slope_s * by_s
    error = error + drop_error(to_s - share[:, None] * to_film, parts, prior)
    error += prior.interaction**2 * mixedness(share) * smooth_across()
    reported, gain = through(sight, value, surface)
    return Response(reported, gain, slope_k * by_k, to_s, to_film, gain @ error @ gain.T)


def through(sight: Sight, ratio: Array, surface: Surface) -> tuple[Array, Array]:
    """ln K/S as a sight reports it, (bands,), of ln K/S on the model's axis, and the slope.

    A filter averages reflectance, not K and S: hence the way through reflectance and back.
    """
    if not sight.coarse:
        return sight.matrix @ ratio, sight.matrix
    inside = opaque_reflectance(np.exp(ratio))
    down = -surface.slope(inside) * inside * (1 - inside) / (1 + inside)
    seen = sight.matrix @ surface.seen(inside)
    back = np.clip(surface.below(seen), _LOWEST, _HIGHEST)
    up = -(1 + back) / ((1 - back) * back) / surface.slope(back)
    return np.log(k_over_s(back)), up[:, None] * sight.matrix * down


def drop_error(by_amount: Array, drops: Array, prior: Prior) -> Array:
    """Covariance from drops that scatter: slopes (paints, bands) to ln amount, drops (paints,)."""
    spread = prior.drop**2 / np.maximum(drops, 1.0)
    return np.asarray((by_amount * spread[:, None]).T @ by_amount)


@dataclass(frozen=True, slots=True)
class FilmOver:
    """A film of thickness exp(log_film) over a card of this internal reflectance."""

    log_film: float
    card: float
    surface: Surface

    def _apparent(self, log_k: Array, log_s: Array, card: float) -> Array:
        base = np.full_like(log_k, card)
        seen = film_reflectance(np.exp(log_k), np.exp(log_s), float(np.exp(self.log_film)), base)
        return np.asarray(np.log(k_over_s(np.clip(seen, _LOWEST, _HIGHEST))))

    def response(self, log_k: Array, log_s: Array) -> tuple[Array, Array, Array, Array]:
        """ln of the apparent K/S, and its slopes to ln K, ln S and the card's reflectance."""
        value = self._apparent(log_k, log_s, self.card)
        slope_k = (self._apparent(log_k + _STEP, log_s, self.card) - value) / _STEP
        slope_s = (self._apparent(log_k, log_s + _STEP, self.card) - value) / _STEP
        card = (self._apparent(log_k, log_s, self.card + _STEP) - value) / _STEP
        return value, slope_k, slope_s, card
