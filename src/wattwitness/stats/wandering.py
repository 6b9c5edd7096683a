"""Linear models along a ride whose error wanders: every plausible shape of the wander at once.

The error of block means is taken as a first-order (Ornstein-Uhlenbeck) wander plus white noise. Neither its size nor
its shape is known. Generalised least squares under each shape gives coefficients and the likelihood of that shape
(restricted, so that what the model takes up is not counted as noise); intervals average over shapes by their
probability, with Student's t for the size. The whitening is Kalman's filter, which is exact for such errors, knows gaps
between blocks and costs their number, for all shapes and all columns at once. Everything afterwards is algebra on inner
products, so that many models can be held against each other.

Harvey AC, Phillips GDA (1979) Biometrika 66:49-58, for likelihood by filtering; Harville DA (1974) Biometrika
61:383-385, for the restricted likelihood as a marginal one (both from memory).
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from wattwitness.model.arrays import FloatArray, frozen_floats
from wattwitness.stats.mixtures import mixture_quantiles

WHITE_SHARES = (0.0, 0.1, 0.3, 0.5, 0.7, 0.85, 0.95)
TAU_STEPS = 9
WHITE_ALONE = 0.5
"""Prior probability that there is no wander at all, as in ``stats.wander``."""

LEARNT = 14.0
"""Weights that are learnt from the same blocks make coefficients a little worse than each shape says they are, by a
part of order 1/n of their variance: Kackar RN, Harville DA (1984) J. Am. Stat. Assoc. 79:853-862 (from memory). The
size of that part was found on simulated rides with a wander of a minute."""

RIDGE = 1e-10
SHIFT_STEPS = 4

SMALLEST_ERROR = 1e-7
"""Errors this small are rounding: two copies of one power do not err."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class WanderingProducts:
    """Inner products of named columns under each of J shapes of the error, ``product`` (J, m, m).

    ``log_determinant`` and ``log_prior`` have shape (J,); ``count`` is the number of blocks, ``sums`` (m,) the plain
    sums of the columns.
    """

    names: tuple[str, ...]
    product: FloatArray
    log_determinant: FloatArray
    log_prior: FloatArray
    sums: FloatArray
    count: int

    def __post_init__(self) -> None:
        """Copy and freeze the arrays."""
        for name in ("product", "log_determinant", "log_prior", "sums"):
            object.__setattr__(self, name, frozen_floats(getattr(self, name)))

    def places(self, names: Sequence[str]) -> list[int]:
        """Where the columns ``names`` stand."""
        return [self.names.index(name) for name in names]


def wandering_products(
    at_s: FloatArray, columns: Mapping[str, FloatArray], noise: FloatArray, *, block_s: float
) -> WanderingProducts:
    """Whiten ``columns`` (each (n,), finite) under every shape and multiply them out.

    ``at_s`` (n,) are the blocks' times, increasing; ``noise`` (n,) the expected variance of each block's white noise,
    of which only the proportions count; ``block_s`` the length of a block.
    """
    values = np.column_stack(list(columns.values()))
    tau_s, white, log_prior = _shapes(float(at_s[-1] - at_s[0]) + block_s, block_s)
    white_variance = noise / np.mean(noise)
    whitened, log_determinant = _whiten(at_s, values, white_variance, tau_s, white)
    return WanderingProducts(
        names=tuple(columns),
        product=np.swapaxes(whitened, 1, 2) @ whitened,
        log_determinant=log_determinant,
        log_prior=log_prior,
        sums=values.sum(axis=0),
        count=at_s.size,
    )


def innovations(
    at_s: FloatArray,
    columns: Mapping[str, FloatArray],
    noise: FloatArray,
    *,
    block_s: float,
    response: str,
    prior_sd: Mapping[str, float],
) -> FloatArray:
    """What each block of ``response`` (n,) adds to what those before and all other ``columns`` tell, in SDs.

    Under the likeliest shape of the error.
    """
    products = wandering_products(at_s, columns, noise, block_s=block_s)
    names = [name for name in columns if name != response]
    fit = fit_wandering(products, response, names, prior_sd=prior_sd)
    likeliest = int(np.argmax(fit.log_evidence))
    tau_s, white, _ = _shapes(float(at_s[-1] - at_s[0]) + block_s, block_s)
    left = columns[response] - np.column_stack([columns[name] for name in names]) @ fit.coefficients[likeliest]
    one = slice(likeliest, likeliest + 1)
    whitened, _ = _whiten(at_s, left[:, None], noise / np.mean(noise), tau_s[one], white[one])
    return np.asarray(whitened[0, :, 0] / np.sqrt(fit.size[likeliest]), dtype=np.float64)


def functional_variance(
    at_s: FloatArray,
    weights: FloatArray,
    noise: FloatArray,
    *,
    block_s: float,
    probability: FloatArray,
    size: FloatArray,
) -> float:
    """Variance of the sum of block errors times ``weights`` (n,), averaged over shapes.

    ``probability`` and ``size`` (J,) are those of a fit to the same blocks; shapes below a thousandth are passed over.
    """
    tau_s, white, _ = _shapes(float(at_s[-1] - at_s[0]) + block_s, block_s)
    apart_s = np.abs(at_s[:, None] - at_s)
    own = float(weights**2 @ (noise / np.mean(noise)))
    total = 0.0
    for shape in np.flatnonzero(probability > 1e-3 * probability.max()):
        slow = float(weights @ np.exp(-apart_s / tau_s[shape]) @ weights) if white[shape] < 1 else 0.0
        total += probability[shape] * size[shape] * ((1 - white[shape]) * slow + white[shape] * own)
    return total / float(probability.sum())


def _shapes(span_s: float, block_s: float) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Correlation time, white share and log prior of each shape, (J,); the last one is white alone."""
    tau_s = np.geomspace(block_s / 2, max(span_s / 2, block_s), TAU_STEPS)
    tau, white = (grid.ravel() for grid in np.meshgrid(tau_s, WHITE_SHARES, indexing="ij"))
    prior = np.append(np.full(tau.size, (1 - WHITE_ALONE) / tau.size), WHITE_ALONE)
    return np.append(tau, block_s), np.append(white, 1.0), np.log(prior)


def _whiten(
    at_s: FloatArray, values: FloatArray, noise: FloatArray, tau_s: FloatArray, white: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Innovations of every column over their standard deviation, (J, n, m), and the log determinant (J,)."""
    shapes, (blocks, columns) = tau_s.size, values.shape
    slow = 1 - white
    variance = slow.copy()
    expected = np.zeros((shapes, columns))
    whitened = np.empty((shapes, blocks, columns))
    log_determinant = np.zeros(shapes)
    for block in range(blocks):
        total = variance + white * noise[block]
        off = values[block] - expected
        whitened[:, block] = off / np.sqrt(total)[:, None]
        log_determinant += np.log(total)
        if block + 1 == blocks:
            break
        gain = variance / total
        keep = np.exp(-(at_s[block + 1] - at_s[block]) / tau_s)
        expected = keep[:, None] * (expected + gain[:, None] * off)
        variance = keep**2 * variance * (1 - gain) + (1 - keep**2) * slow
    return whitened, log_determinant


@dataclass(frozen=True, kw_only=True, eq=False)
class WanderingFit:
    """Coefficients of a linear model under each shape, and how likely each shape is.

    ``log_evidence`` (J,) is the log of prior times marginal likelihood, comparable between models of the same products
    whose columns with a flat prior are the same. ``coefficients`` (J, p); ``covariance`` (J, p, p) with the size of
    the error in it, ``doubt`` (J, p) a standard uncertainty common to all blocks; ``degrees`` of freedom of the size.
    """

    names: tuple[str, ...]
    log_evidence: FloatArray
    coefficients: FloatArray
    covariance: FloatArray
    doubt: FloatArray
    size: FloatArray
    degrees: int

    @cached_property
    def probability(self) -> FloatArray:
        """Of each shape, (J,)."""
        weight = np.exp(self.log_evidence - self.log_evidence.max())
        return np.asarray(weight / weight.sum(), dtype=np.float64)

    @property
    def learnt(self) -> float:
        """By how much the variance of coefficients is more than under each shape for itself."""
        return 1 + LEARNT / self.degrees

    @cached_property
    def evidence(self) -> float:
        """Log of the model's marginal likelihood, averaged over shapes."""
        top = float(self.log_evidence.max())
        return top + math.log(float(np.exp(self.log_evidence - top).sum()))

    def interval(self, contrast: FloatArray, level: float) -> tuple[float, float, float]:
        """Value, low and high of the coefficients times ``contrast`` (p,): the median, and as much on either side."""
        centre = self.coefficients @ contrast
        variance = np.einsum("i,jik,k->j", contrast, self.covariance, contrast) * self.learnt
        variance += (self.doubt @ contrast) ** 2
        shares = np.array([0.5, 0.5 - level / 2, 0.5 + level / 2])
        value, low, high = mixture_quantiles(
            self.probability, centre, np.sqrt(np.maximum(variance, 0.0)), self.degrees, shares
        )
        return float(value), min(float(low), float(value)), max(float(high), float(value))

    def interval_of(self, name: str, level: float) -> tuple[float, float, float]:
        """Value, low and high of one coefficient."""
        return self.interval(np.array([float(name == own) for own in self.names]), level)

    def only(self, names: Sequence[str]) -> WanderingFit:
        """The same fit, of which only the coefficients ``names`` are looked at."""
        at = [self.names.index(name) for name in names]
        return replace(
            self,
            names=tuple(names),
            coefficients=self.coefficients[:, at],
            covariance=self.covariance[:, at][:, :, at],
            doubt=self.doubt[:, at],
        )

    def mean_covariance(self) -> tuple[FloatArray, FloatArray]:
        """Mean (p,) and covariance (p, p) of the coefficients over all shapes."""
        mean = self.probability @ self.coefficients
        apart = self.coefficients - mean
        within = self.covariance * self.learnt + self.doubt[:, :, None] * self.doubt[:, None, :]
        covariance = np.einsum("j,jik->ik", self.probability, within + apart[:, :, None] * apart[:, None, :])
        return np.asarray(mean, dtype=np.float64), np.asarray(covariance, dtype=np.float64)

    def misfit(self, mean: FloatArray, covariance: FloatArray, free: FloatArray) -> float:
        """Probability of coefficients at least this far off if an account of them were true.

        The account expects ``mean`` (p,) with ``covariance`` (p, p) of its own, and says nothing of the directions
        marked in ``free`` (p,). Directions the ride does not show count neither for nor against. F-test under each
        shape, averaged.
        """
        from scipy.special import fdtrc

        apart = self.coefficients - mean
        scale = np.sqrt(np.maximum(np.einsum("jii->ji", self.covariance), 1e-300)).mean(axis=0)
        wide = covariance + np.diag(np.where(free, (1e4 * scale + 1e3 * np.abs(apart).max(axis=0)) ** 2, 0.0))
        total = self.covariance * self.learnt + self.doubt[:, :, None] * self.doubt[:, None, :] + wide
        unit = 1 / np.sqrt(np.einsum("jii->ji", total))
        correlation = total * unit[:, :, None] * unit[:, None, :] + RIDGE * np.eye(mean.size)
        scaled = apart * unit
        distance = np.einsum("ji,ji->j", scaled, np.linalg.solve(correlation, scaled[..., None])[..., 0])
        tested = max(int(np.sum(~free.astype(bool))), 1)
        return min(float(self.probability @ fdtrc(tested, self.degrees, distance / tested)), 1.0)


def fit_wandering(
    products: WanderingProducts,
    response: str,
    columns: Sequence[str],
    *,
    prior_sd: Mapping[str, float] | None = None,
    reference_noise: Mapping[str, float] | None = None,
    size_for_priors: FloatArray | None = None,
) -> WanderingFit:
    """Fit ``response`` as a linear combination of ``columns``.

    ``prior_sd``: coefficients expected around zero with this standard deviation; the others are free.
    ``reference_noise``: for a column made of the reference's reading, the plain sum over blocks of its change for a
    relative error of one in that reading. Where the reference errs, response (unit over reference) and column err
    together; half of the error's variance is taken as the reference's and allowed for, and that it could be any part
    of it is carried as ``doubt`` (uniform, so 1/sqrt(12) of the whole). Score corrected for its mean at the truth:
    Carroll, Ruppert, Stefanski & Crainiceanu (2006) Measurement error in nonlinear models, chapter 7 (from memory).
    ``size_for_priors`` (J,): the error's variance against which priors are weighed, where something that is not among
    the columns is known to be in the response; else it is what these columns leave.
    """
    prior_sd, reference_noise = prior_sd or {}, reference_noise or {}
    at, (own,) = products.places(columns), products.places([response])
    inner = products.product[:, at][:, :, at]
    cross, total = products.product[:, at, own], products.product[:, own, own]
    is_free = np.array([name not in prior_sd for name in columns])
    degrees = max(products.count - int(is_free.sum()), 1)
    inverse_prior = np.array([prior_sd[name] ** -2 if name in prior_sd else 0.0 for name in columns])
    if size_for_priors is None:
        size = _size(inner[:, is_free][:, :, is_free], cross[:, is_free], total, degrees)
    else:
        size = size_for_priors
    for _ in range(2 if prior_sd and size_for_priors is None else 1):
        weighed = size
        normal = inner + weighed[:, None, None] * np.diag(inverse_prior)
        inverse, log_normal = _inverse(normal)
        plain = np.einsum("jik,jk->ji", inverse, cross)
        left = np.maximum(total - np.einsum("ji,ji->j", plain, cross), products.count * SMALLEST_ERROR**2)
        size = left / degrees
    pull = inverse @ np.array([reference_noise.get(name, 0.0) for name in columns])
    shift = size[:, None] * pull
    for _ in range(SHIFT_STEPS if reference_noise else 0):
        # The spurious part of the coefficients has taken some of the error's size with it: size at the mended ones.
        at_mended = left + np.einsum("ji,jik,jk->j", shift / 2, normal, shift / 2)
        shift = at_mended[:, None] / degrees * pull
    ridged = inverse_prior[~is_free]
    log_ratio = 0.5 * np.sum(np.log(weighed[:, None] * ridged), axis=1) if ridged.size else np.zeros_like(size)
    evidence = -0.5 * products.log_determinant - 0.5 * log_normal + log_ratio - degrees / 2 * np.log(left)
    return WanderingFit(
        names=tuple(columns),
        log_evidence=products.log_prior + evidence,
        coefficients=plain + shift / 2,
        covariance=size[:, None, None] * inverse,
        doubt=shift / math.sqrt(12),
        size=size,
        degrees=degrees,
    )


def _size(inner: FloatArray, cross: FloatArray, total: FloatArray, degrees: int) -> FloatArray:
    """Variance of the error under each shape, left over by the columns without a prior."""
    left = total - np.einsum("ji,jik,jk->j", cross, _inverse(inner)[0], cross) if inner.shape[1] else total
    return np.asarray(np.maximum(left / degrees, SMALLEST_ERROR**2), dtype=np.float64)


def _inverse(matrix: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Inverse of symmetric positive matrices (J, p, p) and the log of their determinants (J,).

    Scaled to a unit diagonal first, with a hair of ridge where columns coincide.
    """
    unit = 1 / np.sqrt(np.maximum(np.einsum("jii->ji", matrix), 1e-300))
    scaled = matrix * unit[:, :, None] * unit[:, None, :] + RIDGE * np.eye(matrix.shape[1])
    _, log_scaled = np.linalg.slogdet(scaled)
    log_determinant = log_scaled - 2 * np.sum(np.log(unit), axis=1)
    return np.linalg.inv(scaled) * unit[:, :, None] * unit[:, None, :], np.asarray(log_determinant, dtype=np.float64)
