"""Spectra of several meters' own errors, in bands of frequency, from their differences alone."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wattwitness.model.arrays import FloatArray, IntArray
from wattwitness.stats.cosine_transform import cosine_coefficients

SLOWEST = 6
"""Cosines in the slowest band, over which a spectrum is taken as flat."""

GROWTH = 1.5
DRAWS = 1000

JOINING = 1.0
"""Neighbouring bands are joined if that costs less likelihood than this for each number a matrix holds, doubled: half
of what Akaike's criterion would allow. Chosen by trial: with more, intervals of errors that wander are too narrow, with
less those of white errors lean upward."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DifferenceSpectra:
    """Spectra of several meters' differences from the first, by cosine coefficient and in bands.

    ``products`` (m - 1, m - 1, n) are products of coefficients, whose expectation at coefficient k is the covariance
    spectrum at k / 2n per sample. ``starts`` (B,) are the first coefficients of the bands; the first is 1, since
    coefficient 0 is that of the mean.
    """

    products: FloatArray
    starts: IntArray

    def __post_init__(self) -> None:
        """Freeze the products; a copy would cost more than all else."""
        self.products.setflags(write=False)

    @property
    def coefficients(self) -> int:
        """How many coefficients there are, the mean's included."""
        return int(self.products.shape[-1])


def difference_products(deviations: FloatArray) -> FloatArray:
    """Products of cosine coefficients (m - 1, m - 1, n) of meters (m, n) less the first; what all share cancels."""
    coefficients = cosine_coefficients(deviations[1:] - deviations[0])
    return np.asarray(coefficients[:, None, :] * coefficients[None, :, :], dtype=np.float64)


def bands_for(products: FloatArray) -> IntArray:
    """Starts of bands of coefficients over which the differences' spectra are flat as far as the ride can tell.

    From bands each ``GROWTH`` as wide as the one before, those neighbours are joined that cost least likelihood, for
    as long as it costs little enough (``JOINING``; matrices by their Wishart likelihood).
    """
    size, count = products.shape[0], products.shape[-1]
    starts = _growing(count, max(SLOWEST, size + 3))
    counts = list(np.diff([*starts, count]))
    sums = np.add.reduceat(products, starts, axis=2)
    matrices = [sums[..., place] / counts[place] for place in range(len(starts))]
    gain = 2 * JOINING * size * (size + 1) / 2
    costs = [_joining_cost(matrices, counts, place) for place in range(len(counts) - 1)]
    while costs and min(costs) < gain:
        place = int(np.argmin(costs))
        together = counts[place] + counts[place + 1]
        matrices[place] = (counts[place] * matrices[place] + counts[place + 1] * matrices[place + 1]) / together
        counts[place] = together
        del matrices[place + 1], counts[place + 1], starts[place + 1], costs[place]
        for beside in (place - 1, place):
            if 0 <= beside < len(costs):
                costs[beside] = _joining_cost(matrices, counts, beside)
    return np.array(starts, dtype=np.int64)


def own_variances(spectra: DifferenceSpectra, weights: FloatArray, generator: np.random.Generator) -> FloatArray:
    """Own variance of every meter with its spectrum weighted by ``weights`` (n,): (1 + DRAWS, m).

    The first row is as computed, and free of any bias from spectra that are not flat within a band; the others are
    drawn: by band a covariance matrix that agrees with the one seen (inverse Wishart, with the degrees of freedom the
    weights leave). The coefficient of the mean is not seen; its weight goes to the slowest band.
    """
    starts = spectra.starts
    weighted = weights.copy()
    weighted[0] = 0.0
    sums = np.add.reduceat(spectra.products * weighted, starts, axis=2)
    total = np.add.reduceat(weighted, starts)
    squares = np.add.reduceat(weighted**2, starts)
    used = total > 0
    if used[0]:
        sums[..., 0] *= 1 + weights[0] / total[0]
    matrices = np.moveaxis(sums[..., used], 2, 0)
    size = matrices.shape[-1]
    degrees = np.maximum(total[used] ** 2 / squares[used], size)
    covariance = _drawn_sums(_cholesky(matrices), degrees, generator)
    return grubbs_variances(np.concatenate([matrices.sum(axis=0)[None], covariance]))


def _growing(count: int, first: int) -> list[int]:
    """Starts of bands from 1 to ``count``, the first of ``first`` coefficients, each ``GROWTH`` as wide as before."""
    starts = [1]
    width = float(first)
    while starts[-1] + width < count:
        starts.append(int(starts[-1] + width))
        width *= GROWTH
    if len(starts) > 1 and count - starts[-1] < starts[-1] - starts[-2]:
        starts.pop()
    return starts


def _joining_cost(matrices: list[FloatArray], counts: list[int], place: int) -> float:
    """Twice the log likelihood that is lost if two neighbouring bands share one matrix."""
    one, two = counts[place], counts[place + 1]
    joined = (one * matrices[place] + two * matrices[place + 1]) / (one + two)
    return (
        (one + two) * _log_determinant(joined)
        - one * _log_determinant(matrices[place])
        - two * _log_determinant(matrices[place + 1])
    )


def _log_determinant(matrix: FloatArray) -> float:
    return float(2 * np.sum(np.log(np.diagonal(_cholesky(matrix)))))


def _drawn_sums(root: FloatArray, degrees: FloatArray, generator: np.random.Generator) -> FloatArray:
    """Sum over the bands of matrices drawn to agree with those seen, (DRAWS, p, p).

    ``root`` (B, p, p) are lower roots of the matrices seen, each with ``degrees`` (B,) of freedom. The draws are
    inverse Wishart by Bartlett's factors. Half of the freedom that a matrix of this size takes is given back: with all
    of it a single variance would come out too wide, with none of it too narrow for the least of the meters.
    """
    size = root.shape[-1]
    inverse = _inverse_of_lower(_bartlett(degrees + (size - 1) / 2, size, generator)) * np.sqrt(degrees)
    factors = np.zeros((DRAWS, size, degrees.size, size))
    for row in range(size):
        for column in range(size):
            for shared in range(min(row, column) + 1):
                factors[:, row, :, column] += root[:, row, shared] * inverse[column, shared]
    flat = factors.reshape(DRAWS, size, -1)
    return np.asarray(flat @ np.swapaxes(flat, 1, 2), dtype=np.float64)


def _bartlett(freedom: FloatArray, size: int, generator: np.random.Generator) -> FloatArray:
    """Lower factors of standard Wishart matrices, (p, p, DRAWS, B), with ``freedom`` (B,)."""
    shape = (DRAWS, freedom.size)
    lower = np.zeros((size, size, *shape))
    for row in range(size):
        lower[row, row] = np.sqrt(generator.chisquare(np.broadcast_to(freedom - row, shape)))
        for column in range(row):
            lower[row, column] = generator.standard_normal(shape)
    return lower


def grubbs_variances(covariance: FloatArray) -> FloatArray:
    """Each meter's own error variance, (..., m), from the covariance of the others less the first, (..., m-1, m-1).

    Grubbs (1948), for m instruments: (sum_j V_ij - S / (m - 1)) / (m - 2) with V_ij the variance of i less j and S the
    sum of V over all pairs; for three it is (V_12 + V_13 - V_23) / 2. Not limited to zero.
    """
    meters = covariance.shape[-1] + 1
    padded = np.zeros((*covariance.shape[:-2], meters, meters))
    padded[..., 1:, 1:] = covariance
    own = np.diagonal(padded, axis1=-2, axis2=-1)
    differences = own[..., :, None] + own[..., None, :] - 2 * padded
    each = differences.sum(axis=-1)
    everything = each.sum(axis=-1, keepdims=True) / 2
    return np.asarray((each - everything / (meters - 1)) / (meters - 2), dtype=np.float64)


def _inverse_of_lower(lower: FloatArray) -> FloatArray:
    """Inverse of lower triangular matrices (p, p, ...), by forward substitution over all of them at once."""
    size = lower.shape[0]
    inverse = np.zeros_like(lower)
    for column in range(size):
        inverse[column, column] = 1 / lower[column, column]
        for row in range(column + 1, size):
            gathered = np.sum(lower[row, column:row] * inverse[column:row, column], axis=0)
            inverse[row, column] = -gathered / lower[row, row]
    return inverse


def _cholesky(matrices: FloatArray) -> FloatArray:
    """Lower roots of positive semidefinite matrices (..., p, p); two meters that agree exactly make one singular."""
    size = matrices.shape[-1]
    scale = np.maximum(np.trace(matrices, axis1=-2, axis2=-1), np.finfo(float).tiny)
    nudge = (1e-12 * scale)[..., None, None] * np.eye(size)
    return np.asarray(np.linalg.cholesky(matrices + nudge), dtype=np.float64)
