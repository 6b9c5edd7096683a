"""A linear fit that stretches far off it do not bend."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wattwitness.model.arrays import FloatArray, frozen_floats

BIWEIGHT = 4.685
"""Residuals beyond so many scatters carry no weight (95 % efficiency on normal errors)."""

LEAST_SCATTER = 0.006
"""Scatter of a block's bias that is taken as given, however quiet the ride."""

INFLATION = 4.0
"""Neighbouring blocks wander together: a column has to explain so many times what independent ones would ask."""

NORMAL = 1.4826
ROUNDS = 10
STARTS = (0.5, 0.3, 0.7)
"""Quantiles of the response from which the fit is begun: where two levels are as common, it may not end between."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BiweightFit:
    """``coefficients`` (p,), the penalised ``loss`` (smaller is better) and the ``scatter`` of what is left."""

    coefficients: FloatArray
    loss: float
    scatter: float

    def __post_init__(self) -> None:
        """Copy and freeze the array."""
        object.__setattr__(self, "coefficients", frozen_floats(self.coefficients))


def block_scatter(error: FloatArray) -> float:
    """Scatter of a series (n,) around whatever slow course it has, by its changes from one to the next."""
    changes = np.abs(np.diff(error))
    return max(float(np.median(changes)) * NORMAL / np.sqrt(2.0) * 1.3, LEAST_SCATTER) if changes.size else 0.02


def biweight_fit(
    response: FloatArray,
    columns: FloatArray,
    prior_sd: FloatArray,
    *,
    scatter: float,
    guess: FloatArray | None = None,
) -> BiweightFit:
    """Fit ``response`` (n,) by ``columns`` (n, p), the first of them constant, with coefficients around zero.

    It is begun from ``guess`` (n,), else from each of some constants, of which the best end is kept.
    The loss is that of Tukey's biweight at the given ``scatter``, plus what each coefficient's prior and the number of
    columns cost.
    """
    starts = [np.full(response.size, level) for level in np.quantile(response, STARTS)] if guess is None else [guess]
    fits = [_from(start, response, columns, prior_sd, scatter) for start in starts]
    return min(fits, key=lambda fit: fit.loss)


def _from(
    start: FloatArray, response: FloatArray, columns: FloatArray, prior_sd: FloatArray, scatter: float
) -> BiweightFit:
    limit = BIWEIGHT * scatter
    ridge = INFLATION * scatter**2 * np.diag(prior_sd**-2.0)
    coefficients = np.zeros(columns.shape[1])
    left = response - start
    for _ in range(ROUNDS):
        weight = np.maximum(1.0 - (left / limit) ** 2, 0.0) ** 2
        weighted = columns * weight[:, None]
        previous = coefficients
        coefficients = np.linalg.solve(weighted.T @ columns + ridge, weighted.T @ response)
        left = response - columns @ coefficients
        if np.max(np.abs(columns @ (coefficients - previous))) < 0.02 * scatter:
            break
    bounded = limit**2 / 6.0 * (1.0 - np.maximum(1.0 - (left / limit) ** 2, 0.0) ** 3)
    loss = float(bounded.sum()) / scatter**2 / INFLATION + 0.5 * float(np.sum((coefficients / prior_sd) ** 2))
    loss += 0.5 * columns.shape[1] * np.log(response.size)
    return BiweightFit(coefficients=coefficients, loss=loss, scatter=NORMAL * float(np.median(np.abs(left))))
