"""How much of the lag between two channels is the smoothing of one of them, and what that leaves for the clock."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from wattwitness.clock.refine import Line
from wattwitness.clock.smoothing import FEWER_KERNELS, FIRST_KERNELS, KERNELS, PROMPT, Hypothesis, Kernel, hypotheses
from wattwitness.clock.spectra import spectra, summed_cross, undifferenced, unfolded
from wattwitness.clock.windows import Windows
from wattwitness.model.arrays import FloatArray

LOWEST_HZ = 0.0125
HIGHEST_HZ = 0.365

MOST_SECONDS = 4500
"""More seconds than these count no more: beyond, small flaws of the model would decide, not the data."""

TEMPER = 0.35
"""Log likelihoods are taken at this part of their size: efforts are neither Gaussian nor stationary, nor noise white.
Chosen so that the interval of a smoothed cadence covers in 95 % of simulated hours."""

SMALL_LAG_S = 1.1
PROMPT_PRIOR, SMALL_PRIOR, LARGE_PRIOR, BOTH_PRIOR = 1.0, 0.04, 0.02, 0.001
"""How likely each kernel is before the ride is seen: none, one of up to ``SMALL_LAG_S`` or more on one side, two."""

ONE_SIDED_FROM = 3.0
BOTH_SIDES_FROM = 6.0
"""Log likelihood by which a smoothed side has to beat none before all kernels, and kernels on both sides, are tried."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Explained:
    """A hypothesis with its share of belief."""

    hypothesis: Hypothesis
    share: float


def explanations(
    windows: Windows,
    line: Line,
    sampling: Sampling,
    *,
    among: Sequence[Explained] = (),
    roughly: bool = False,
) -> tuple[Explained, ...]:
    """Every kernel of the family on either side, most believed first, with shares that sum to 1.

    ``windows`` are of differences from second to second. ``among``: only the likeliest of these are tried again;
    ``roughly``: only enough of the family to take the phase of a smoothed side out.
    """
    delay_s = line.delay_s(windows)
    seen = unfolded(spectra(windows, HIGHEST_HZ), delay_s, differenced=True, share=max(line.folded, 0.7), strength=True)
    seen, cross = undifferenced(seen, summed_cross(seen, delay_s), LOWEST_HZ)
    seen = replace(seen, freedom=min(seen.freedom, MOST_SECONDS / (2 * windows.reach)))
    floor = windows.scale * sampling.step**2 / 12

    def tried(pairs: Sequence[tuple[Kernel, Kernel]]) -> list[Hypothesis]:
        return hypotheses(
            seen,
            cross,
            pairs,
            share_a=np.interp(seen.hz, sampling.hz, sampling.share_a),
            share_b=np.interp(seen.hz, sampling.hz, sampling.share_b),
            floor_a=floor,
            floor_b=floor,
        )

    nothing = (PROMPT, PROMPT)
    if among:
        likely = dict.fromkeys((one.hypothesis.reference, one.hypothesis.unit) for one in among[:TRIED_AGAIN])
        return _believed(tried([nothing, *(pair for pair in likely if pair != nothing)]))
    found = tried([nothing, *_one_sided(FIRST_KERNELS)])
    if not roughly and _gained(found) > ONE_SIDED_FROM:
        found += tried(_one_sided([one for one in KERNELS if one not in FIRST_KERNELS]))
        if _gained(found) > BOTH_SIDES_FROM:
            found += tried(_both_sides(found))
    return _believed(found)


TRIED_AGAIN = 16


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sampling:
    """How both sides were sampled: mean response of each side's bridging at ``hz``, and the ``step`` of rounding."""

    hz: FloatArray
    share_a: FloatArray
    share_b: FloatArray
    step: float


def _one_sided(kernels: Sequence[Kernel]) -> list[tuple[Kernel, Kernel]]:
    return [*((PROMPT, one) for one in kernels), *((one, PROMPT) for one in kernels)]


def _gained(found: Sequence[Hypothesis]) -> float:
    """Log likelihood by which the best beats neither side being smoothed."""
    return max(one.log_likelihood for one in found) - found[0].log_likelihood


def _both_sides(found: Sequence[Hypothesis]) -> list[tuple[Kernel, Kernel]]:
    """The likeliest kernels of the smoother side, each with small ones on the other."""
    ranked = sorted(found, key=lambda one: -one.log_likelihood)
    smooth_unit = ranked[0].unit is not PROMPT
    likely: list[Kernel] = []
    for one in ranked:
        kernel = one.unit if smooth_unit else one.reference
        if kernel is not PROMPT and kernel not in likely:
            likely.append(kernel)
    pairs = [(other, kernel) for kernel in likely[:5] for other in FEWER_KERNELS if other.lag_s < kernel.lag_s]
    return pairs if smooth_unit else [(kernel, other) for other, kernel in pairs]


def _believed(found: Sequence[Hypothesis]) -> tuple[Explained, ...]:
    prior = np.array([_prior(one) for one in found])
    likelihood = np.array([one.log_likelihood for one in found])
    belief = np.log(prior) + TEMPER * (likelihood - likelihood.max())
    share = np.exp(belief - belief.max())
    share /= share.sum()
    order = np.argsort(-share)
    return tuple(Explained(hypothesis=found[k], share=float(share[k])) for k in order)


def _prior(one: Hypothesis) -> float:
    if one.reference is PROMPT and one.unit is PROMPT:
        return PROMPT_PRIOR
    # Noise before and after the kernel are two halves of one hypothesis.
    if one.reference is not PROMPT and one.unit is not PROMPT:
        return BOTH_PRIOR / 2
    return (SMALL_PRIOR if max(one.reference.lag_s, one.unit.lag_s) <= SMALL_LAG_S else LARGE_PRIOR) / 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Lag:
    """The lag in seconds beyond what the spectra were aligned by: ``value``, ``low`` to ``high``; ``prompt`` is the
    belief that neither side is smoother than the other.
    """

    value: float
    low: float
    high: float
    prompt: float


DISCRETE_S = 0.5
"""A mean over w seconds lags by (w - 1)/2 s where it is made of samples once a second and by w/2 where it is not."""

SIZE_SHARE = 0.08
"""Uncertainty of a kernel's mean lag, as a share of it: shapes outside the family."""


def combined(found: Sequence[Explained], error_s: float, quantile: float, level: float) -> Lag:
    """The lag and its interval over all hypotheses: quantiles of their mixture, each spread by ``error_s``
    (``quantile`` standard errors wide) and, where one side is smoothed, by what a kernel's size leaves open.
    """
    low: list[float] = []
    high: list[float] = []
    share: list[float] = []
    for one in found:
        if one.share < 1e-4:
            continue
        extra = one.hypothesis.extra_s
        lag = one.hypothesis.unit.lag_s - one.hypothesis.reference.lag_s
        spread = abs(lag) * SIZE_SHARE
        later = float(np.clip(lag, -DISCRETE_S, DISCRETE_S))
        if one.hypothesis.unit is not PROMPT and one.hypothesis.reference is not PROMPT:
            spread += DISCRETE_S
        wide = quantile * np.hypot(error_s, spread)
        low.append(extra - wide + min(later, 0.0))
        high.append(extra + wide + max(later, 0.0))
        share.append(one.share)
    outside = (1 - level) / 2
    unsmoothed = [
        k for k, one in enumerate(found) if one.hypothesis.unit is PROMPT and one.hypothesis.reference is PROMPT
    ]
    prompt = sum(found[k].share for k in unsmoothed)
    value = found[unsmoothed[0] if prompt >= STAYS_PROMPT else 0].hypothesis.extra_s
    return Lag(
        value=value,
        low=min(_quantile(low, share, outside), value),
        high=max(_quantile(high, share, 1 - outside), value),
        prompt=float(prompt),
    )


STAYS_PROMPT = 0.05
"""With at least this much belief that nothing is smoothed the value is that of no smoothing, whatever fits better."""


def _quantile(values: Sequence[float], weights: Sequence[float], at: float) -> float:
    """The value up to which the weights sum to the share ``at``."""
    order = np.argsort(values)
    total = np.cumsum(np.array(weights)[order])
    return float(np.array(values)[order][min(int(np.searchsorted(total, at * total[-1])), order.size - 1)])
