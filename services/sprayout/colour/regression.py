"""Root-polynomial ridge: channel ratios -> XYZ and reflectance.

Features: the k ratios and the square roots of their products by pairs, so that twice the light
gives twice the answer (Finlayson, Mackiewicz and Hurlbert, IEEE Trans. Image Process. 24 (2015)
1460-1470).  Each output is fitted with rows weighted by the slope of the cube root, so that the
residuals count as they do in Lab.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sprayout.colour.tables import FloatArray

LEAST_RATIO = 1e-4
_RIDGE = 1e-6


def features(ratio: FloatArray) -> FloatArray:
    """Features (..., k + k(k-1)/2) of channel ratios (..., k); ratios below 1e-4 count as that."""
    first, second = np.triu_indices(ratio.shape[-1], 1)
    root = np.sqrt(np.maximum(ratio, LEAST_RATIO))
    return np.concatenate([root * root, root[..., first] * root[..., second]], axis=-1)


@dataclass(frozen=True, slots=True)
class RatioMap:
    """Coefficients (features, outputs) of one fitted unit."""

    coefficients: FloatArray

    def apply(self, ratio: FloatArray) -> FloatArray:
        """Outputs (..., outputs) of channel ratios (..., k)."""
        value: FloatArray = features(ratio) @ self.coefficients
        return value


def fit(ratio: FloatArray, wanted: FloatArray) -> RatioMap:
    """Fit outputs ``wanted`` (rows, outputs), about 0..1, on ``ratio`` (rows, k).

    The first six outputs (tristimulus values) are weighted each by itself, all further ones
    (bands of the reflectance) alike by the second, which is Y.
    """
    design = features(ratio)
    weights: FloatArray = np.maximum(wanted[:, :6], 0.01) ** (-2.0 / 3.0)
    columns = [_solve(design, wanted[:, [i]], weights[:, [i]]) for i in range(weights.shape[1])]
    if wanted.shape[1] > 6:
        columns.append(_solve(design, wanted[:, 6:], weights[:, [1]]))
    return RatioMap(np.concatenate(columns, axis=1))


def _solve(design: FloatArray, goal: FloatArray, weight: FloatArray) -> FloatArray:
    weighted: FloatArray = design * weight
    normal = weighted.T @ weighted + (_RIDGE * len(goal)) * np.eye(design.shape[1])
    return np.asarray(np.linalg.solve(normal, weighted.T @ (goal * weight)), dtype=np.float64)
