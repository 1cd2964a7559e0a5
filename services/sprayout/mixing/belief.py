"""What the readings of a cup teach: drop strengths, K and S, and where the model is off.

One Gaussian update over all readings of the cup together (an iterated extended Kalman update).
Unknown are ln K/S and ln S of every paint as the fit left them, the error of each addition that was
dropped in, and the model's own error, which is alike for cups of like composition.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from sprayout.colour.tristimulus import Spectrum
from sprayout.mixing.axis import MODEL_NM, sight_of
from sprayout.mixing.fit import ShelfModel
from sprayout.mixing.observation import log_ratio, mixedness, noise_covariance, through
from sprayout.mixing.prior import Prior, smooth_across

Array = npt.NDArray[np.float64]
Indices = npt.NDArray[np.intp]

_ROUNDS = 4
_BANDS = len(MODEL_NM)


@dataclass(frozen=True, slots=True)
class Pour:
    """One paint of one dose: its number on the shelf, drops, and the dose it belongs to."""

    paint: int
    drops: float
    dose: int


@dataclass(frozen=True, slots=True)
class CupHistory:
    """What was counted into the cup, and what was read after which dose.

    ``readings`` are (dose number, what was measured after it).
    """

    pours: tuple[Pour, ...] = ()
    readings: tuple[tuple[int, Spectrum], ...] = ()

    def drops(self, paints: int) -> Array:
        """Drops of each paint, as counted, (paints,)."""
        return self.drops_at(paints, len(self.pours))

    def drops_at(self, paints: int, dose: int) -> Array:
        """Drops of each paint after this dose, (paints,)."""
        total = np.zeros(paints)
        for pour in self.pours:
            if pour.dose <= dose:
                total[pour.paint] += pour.drops
        return total

    @property
    def doses(self) -> int:
        return 1 + max((pour.dose for pour in self.pours), default=-1)


@dataclass(frozen=True, slots=True)
class _Row:
    """One composition: ln K/S on the model's axis (16,), slopes to each paint and pour, shares.

    ``reported`` (bands,) and ``gain`` (bands, 16) are what its reading's sight makes of it.
    """

    value: Array
    reported: Array
    gain: Array
    paints: Indices
    to_q: Array
    to_s: Array
    to_pours: Array
    shares: Array


@dataclass(frozen=True, slots=True)
class Belief:
    """The state of knowledge after the readings; see :func:`learn`."""

    model: ShelfModel
    history: CupHistory
    log_q: Array
    log_s: Array
    pour_error: Array
    rows: tuple[_Row, ...]
    inverse: Array
    weights: Array

    @property
    def k(self) -> Array:
        return np.asarray(np.exp(self.log_q + self.log_s))

    @property
    def s(self) -> Array:
        return np.asarray(np.exp(self.log_s))

    @property
    def volumes(self) -> Array:
        """Drops of each paint in the cup, (paints,), as far as the readings tell."""
        total = np.zeros(len(self.model.names))
        for pour, error in zip(self.history.pours, self.pour_error, strict=True):
            total[pour.paint] += pour.drops * np.exp(error)
        return total

    def shift(self, shares: Array) -> Array:
        """The model's error in ln K/S, (..., bands), at compositions (..., paints)."""
        if not self.rows:
            return np.zeros((*shares.shape[:-1], _BANDS))
        alike = np.stack([_alike(shares, row.shares, self.model.prior) for row in self.rows], -1)
        return np.asarray(alike @ self.weights)

    def log_ratio(self, added: Array) -> Array:
        """ln K/S (..., bands) expected after adding drops (..., paints) to the cup."""
        amounts = added + self.volumes
        counted = added + self.history.drops(len(self.model.names))
        ratio = np.log((amounts @ self.k) / (amounts @ self.s))
        shares = counted / np.maximum(counted.sum(axis=-1, keepdims=True), 1e-9)
        return np.asarray(ratio + self.shift(shares))

    def covariance(self, added: Array) -> Array:
        """Covariance (16, 16) of ln K/S after adding drops (paints,), their scatter included."""
        dose = self.history.doses
        pours = tuple(Pour(int(p), float(added[p]), dose) for p in np.flatnonzero(added > 0))
        history = CupHistory(self.history.pours + pours, self.history.readings)
        error = np.concatenate([self.pour_error, np.zeros(len(pours))])
        row = _row(self, history, error, dose, None)
        joint = _joint(self.model, history, (*self.rows, row))
        own = joint[-_BANDS:, -_BANDS:]
        if not self.rows:
            return own
        cross = joint[-_BANDS:, :-_BANDS]
        return np.asarray(own - cross @ self.inverse @ cross.T)


def learn(model: ShelfModel, history: CupHistory, rounds: int = _ROUNDS) -> Belief:
    """Update the shelf's model by every reading of this cup."""
    empty = np.zeros((0, 0))
    belief = Belief(
        model, history, model.log_q, model.log_s, np.zeros(len(history.pours)), (), empty, empty
    )
    if not history.readings:
        return belief
    bands = [sight_of(seen).bands_of(seen.reflectance) for _, seen in history.readings]
    measured = [log_ratio(seen, model.surface) for seen in bands]
    noise = [noise_covariance(seen, model.surface, model.prior) for seen in bands]
    for _ in range(rounds):
        belief = _update(belief, measured, noise)
    return belief


def _update(belief: Belief, measured: list[Array], noise: list[Array]) -> Belief:
    model, history = belief.model, belief.history
    rows = tuple(
        _row(belief, history, belief.pour_error, dose, seen) for dose, seen in history.readings
    )
    joint = _joint(model, history, rows)
    ends = np.cumsum([len(seen) for seen in measured])
    for own, end in zip(noise, ends, strict=True):
        at = slice(end - len(own), end)
        joint[at, at] += own
    inverse = np.asarray(np.linalg.inv(joint), dtype=np.float64)
    surprise = [_surprise(belief, row, seen) for row, seen in zip(rows, measured, strict=True)]
    pulls = np.split(inverse @ np.concatenate(surprise), ends[:-1])
    # What each reading pulls at on the model's axis, (readings, 16).
    pull = np.stack([row.gain.T @ part for row, part in zip(rows, pulls, strict=True)])
    spread = _spread(model)
    step = np.sum(
        [_slope_columns(model, spread, row) @ p for row, p in zip(rows, pull, strict=True)], axis=0
    )
    to_pours = np.sum(
        [_padded(row, len(history.pours)) @ p for row, p in zip(rows, pull, strict=True)], axis=0
    )
    half = model.log_q.size
    return Belief(
        model=model,
        history=history,
        log_q=model.log_q + step[:half].reshape(model.log_q.shape),
        log_s=model.log_s + step[half:].reshape(model.log_s.shape),
        pour_error=_pour_spread(history, model.prior) * to_pours,
        rows=rows,
        inverse=inverse,
        weights=pull @ smooth_across() * model.prior.interaction**2,
    )


def _surprise(belief: Belief, row: _Row, measured: Array) -> Array:
    """Measured minus what the linearised model would say with nothing learned."""
    model = belief.model
    moved = np.sum(row.to_q * (belief.log_q - model.log_q)[row.paints], axis=0)
    moved = moved + np.sum(row.to_s * (belief.log_s - model.log_s)[row.paints], axis=0)
    moved = moved + belief.pour_error @ row.to_pours + belief.shift(row.shares)
    return np.asarray(measured - row.reported + row.gain @ moved)


def _row(
    belief: Belief, history: CupHistory, error: Array, dose: int, seen: Spectrum | None
) -> _Row:
    """The composition after ``dose``, linearised at the belief, through the reading's sight."""
    count = len(belief.model.names)
    here = np.array([pour.dose <= dose for pour in history.pours])
    poured = np.array([pour.drops for pour in history.pours]) * np.exp(error) * here
    paint_of = np.array([pour.paint for pour in history.pours], dtype=np.intp)
    amounts = np.bincount(paint_of, poured, count)
    paints = np.flatnonzero(amounts > 0)
    part_k = amounts[paints, None] * np.exp(belief.log_q[paints] + belief.log_s[paints])
    part_s = amounts[paints, None] * np.exp(belief.log_s[paints])
    sum_k, sum_s = part_k.sum(axis=0), part_s.sum(axis=0)
    by_k, to_s = part_k / sum_k, part_k / sum_k - part_s / sum_s
    whole = np.zeros((count, _BANDS))
    whole[paints] = to_s
    to_pours = whole[paint_of] * (poured / np.maximum(amounts[paint_of], 1e-12))[:, None]
    counted = history.drops_at(count, dose)
    shares = counted / counted.sum()
    value = np.log(sum_k / sum_s)
    reported, gain = value, np.eye(_BANDS)
    if seen is not None:
        expected = value + belief.shift(shares)
        reported, gain = through(sight_of(seen), expected, belief.model.surface)
    return _Row(value, reported, gain, paints, by_k, to_s, to_pours, shares)


def _spread(model: ShelfModel) -> Array:
    """Covariance of the fit, widened by the bottle's drops of today."""
    half, bands = model.log_q.size, _BANDS
    wide = model.covariance.copy()
    for paint in range(len(model.names)):
        at = slice(half + paint * bands, half + (paint + 1) * bands)
        wide[at, at] += model.prior.bottle**2
    return wide


def _slope_columns(model: ShelfModel, spread: Array, row: _Row) -> Array:
    """spread @ slopes of one row, (2 paints bands, bands), using that slopes are band by band."""
    half, bands = model.log_q.size, _BANDS
    at = (row.paints[:, None] * bands + np.arange(bands)).ravel()
    by_q = spread[:, at].reshape(len(spread), len(row.paints), bands)
    by_s = spread[:, half + at].reshape(len(spread), len(row.paints), bands)
    return np.asarray((by_q * row.to_q).sum(axis=1) + (by_s * row.to_s).sum(axis=1))


def _pour_spread(history: CupHistory, prior: Prior) -> Array:
    drops = np.array([pour.drops for pour in history.pours])
    return np.asarray(prior.drop**2 / np.maximum(drops, 1.0))


def _joint(model: ShelfModel, history: CupHistory, rows: tuple[_Row, ...]) -> Array:
    """Covariance of ln K/S as reported of all rows, one after the other, without sensor noise."""
    half = model.log_q.size
    spread, pour = _spread(model), _pour_spread(history, model.prior)
    smooth = smooth_across() * model.prior.interaction**2
    blocks = []
    slopes = [_slope_columns(model, spread, row) for row in rows]
    for first in rows:
        at = first.paints[:, None] * _BANDS + np.arange(_BANDS)
        line = []
        for second, columns in zip(rows, slopes, strict=True):
            block = np.einsum("pb,pbc->bc", first.to_q, columns[at])
            block = block + np.einsum("pb,pbc->bc", first.to_s, columns[half + at])
            drops = _padded(first, len(pour)).T * pour @ _padded(second, len(pour))
            alike = _alike(first.shares, second.shares, model.prior)
            line.append(first.gain @ (block + drops + alike * smooth) @ second.gain.T)
        blocks.append(line)
    return np.asarray(np.block(blocks))


def _padded(row: _Row, pours: int) -> Array:
    """Slopes to every pour, those after the row's own time being zero."""
    full = np.zeros((pours, _BANDS))
    full[: len(row.to_pours)] = row.to_pours
    return full


def _alike(shares: Array, other: Array, prior: Prior) -> Array:
    """How far two compositions (..., paints), (paints,) share the model's error, 0 to 1."""
    apart = np.abs(shares - other).sum(axis=-1) / prior.interaction_reach
    return np.asarray(np.sqrt(mixedness(shares) * mixedness(other)) * np.exp(-0.5 * apart**2))
