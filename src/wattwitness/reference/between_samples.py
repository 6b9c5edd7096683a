"""What an effort faster than the samples leaves in the differences of meters sampled at other parts of a second.

A sample a second shows nothing faster than one in two seconds as what it is: it turns up as something slower, with a
phase that depends on when the sample was taken. Two meters a third of a second apart so see different traces of one
effort, which no shifting brings together, and which would pass for errors of their own. How large they are follows
from the effort's spectrum, carried on beyond what is seen: folding of a spectrum about half the rate of sampling is
textbook matter (Oppenheim & Schafer, Discrete-Time Signal Processing, chapter 4; from memory).
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from wattwitness.model.arrays import FloatArray
from wattwitness.reference.difference_bands import DifferenceSpectra, grubbs_variances
from wattwitness.stats.cosine_transform import cosine_coefficients

SAME_MOMENT_S = 0.02
"""Samples this close count as taken at one moment."""

SEEN = (0.1, 0.7)
"""The part of the frequencies from none to one in two seconds from which the effort's spectrum is carried on."""

BANDS = 12
STEEPNESS = np.arange(0.0, 6.01, 0.1)
LEAST_PASSED = 0.2

CUTS = (0.7, 0.5, 0.35, 0.25, 0.18, 0.12, 0.08)
MOST_TRACES = 0.1
"""Frequencies are believed as far as traces make up no more than this part of a meter's own error."""


def one_moment(late_s: Sequence[float]) -> bool:
    """Whether all meters were sampled at the same part of a second, as far as it matters; ``late_s`` in seconds."""
    apart = np.subtract.outer(late_s, late_s) % 1
    return bool(np.all(np.minimum(apart, 1 - apart) <= SAME_MOMENT_S))


def traces_of_effort(power_w: FloatArray, passed: FloatArray, late_s: Sequence[float]) -> FloatArray:
    """Expected part (m, n) of each meter's own variance that is the effort's, per cosine coefficient.

    ``power_w`` (m, n) are all meters at one scale, ``passed`` (n,) the power gain of what was done to them, ``late_s``
    (m,) at which part of a second each was sampled. As a share of the mean power, squared; zero where the meters show
    nothing in common.
    """
    count = power_w.shape[1]
    coefficients = cosine_coefficients(power_w / power_w.mean() - 1)
    pairs = power_w.shape[0] * (power_w.shape[0] - 1)
    common = (coefficients.sum(axis=0) ** 2 - (coefficients**2).sum(axis=0)) / pairs
    beyond = _carried_on(common, passed, count) * passed
    turned = 4 * np.sin(np.pi * np.subtract.outer(late_s, late_s)) ** 2
    differences = (turned[1:, :1] + turned[1:, :1].T - turned[1:, 1:]) / 2
    return np.asarray(grubbs_variances(differences)[:, None] * beyond, dtype=np.float64)


def believed_cuts(spectra: DifferenceSpectra, traces: FloatArray, passed: FloatArray) -> tuple[int, ...]:
    """For each meter the coefficient up to which its own error stands out of the ``traces`` (m, n) of the effort.

    ``spectra`` and ``traces`` in the same units; ``passed`` (m, n).
    """
    seen = grubbs_variances(np.moveaxis(spectra.products, 2, 0)).T
    weight = 1 / np.maximum(passed, LEAST_PASSED)
    own, effort = np.cumsum((seen - traces) * weight, axis=1), np.cumsum(np.abs(traces) * weight, axis=1)
    places = [max(int(share * traces.shape[1]), 2) for share in CUTS]
    return tuple(
        next((cut for cut in places if effort[meter, cut - 1] <= MOST_TRACES * own[meter, cut - 1]), places[-1])
        for meter in range(traces.shape[0])
    )


def _carried_on(common: FloatArray, passed: FloatArray, count: int) -> FloatArray:
    """Power (n,) of the effort at as far above half the sampling rate as each coefficient is below.

    What is seen at f is what the effort has at f and at 1 - f together; it has a power law's, as means over a second
    leave it: meters show no moment but the mean of a revolution or a second.
    """
    edges = np.geomspace(SEEN[0] * count, SEEN[1] * count, BANDS + 1).astype(int)
    totals = np.add.reduceat(common, edges)[:-1] / np.maximum(np.add.reduceat(passed, edges)[:-1], 1e-12)
    frequency = (edges[1:] + edges[:-1]) / (4 * count)
    used = (totals > 0) & (passed[edges[:-1]] > LEAST_PASSED)
    if used.sum() < BANDS / 3:
        return np.zeros(count)
    shapes = np.log(_falling(frequency[used], STEEPNESS[:, None]) + _falling(1 - frequency[used], STEEPNESS[:, None]))
    off = np.log(totals[used]) - shapes
    best = int(np.argmin(off.std(axis=1)))
    size = float(np.exp(off[best].mean()))
    return size * _falling(1 - np.arange(count) / (2 * count), STEEPNESS[best])


def _falling(frequency: FloatArray, steepness: FloatArray) -> FloatArray:
    """Power law of ``frequency`` (Hz), averaged over a second."""
    return np.asarray(frequency**-steepness * np.sinc(frequency) ** 2, dtype=np.float64)
