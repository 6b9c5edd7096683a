"""How likely chance alone makes so much of a pattern: exact where there is a formula, else by drawing."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from wattwitness.model.arrays import FloatArray

DRAWS = 4000
SEED = 20_260_115
MOST_EXACT = 20


def mean_of_uniforms(values: Sequence[float]) -> float:
    """Two-sided probability that the mean of so many independent uniform numbers lies as far from a half as here.

    Irwin (1927) and Hall (1927), Biometrika 19:225 and 240 (from memory); above 20 by the normal distribution.
    """
    count = len(values)
    below = min(sum(values), count - sum(values))
    if count > MOST_EXACT:
        return math.erfc((count / 2 - below) / math.sqrt(count / 12.0) / math.sqrt(2.0))
    terms = ((-1) ** j * math.comb(count, j) * (below - j) ** count for j in range(math.floor(below) + 1))
    return min(1.0, 2.0 * math.fsum(terms) / math.factorial(count))


def slope_by_chance(x: FloatArray, y: FloatArray) -> float:
    """Two-sided probability of so large a covariance between ``x`` and ``y`` (k,) when the pairing is random.

    Permutations drawn with a fixed seed; the one seen counts among them, so that it is never zero.
    """
    generator = np.random.default_rng(SEED)
    x, y = x - x.mean(), y - y.mean()
    seen = abs(float(x @ y))
    shuffled = generator.permuted(np.broadcast_to(y, (DRAWS, y.size)), axis=1)
    return float(1 + np.sum(np.abs(shuffled @ x) >= seen * (1 - 1e-9))) / (DRAWS + 1)


def narrowest_window(sorted_values: FloatArray, share: float = 0.75) -> FloatArray:
    """Width of the narrowest window that holds ``share`` of the values; rows (m, k) sorted, result (m,)."""
    count = sorted_values.shape[-1]
    held = max(math.ceil(share * count), 2)
    return np.asarray((sorted_values[..., held - 1 :] - sorted_values[..., : count - held + 1]).min(axis=-1))


def crowding_by_chance(minutes: FloatArray, lengths_min: FloatArray) -> float:
    """Probability that onsets spread at random over their rides crowd into as narrow a window of minutes.

    ``minutes`` (k,) since the start of each one's ride, ``lengths_min`` (k,) how long that ride was.
    """
    generator = np.random.default_rng(SEED)
    drawn = np.sort(generator.random((DRAWS, minutes.size)) * lengths_min, axis=1)
    seen = float(narrowest_window(np.sort(minutes)))
    return float(1 + np.sum(narrowest_window(drawn) <= seen + 1e-9)) / (DRAWS + 1)


def evenness_by_chance(starts: Sequence[FloatArray], lengths: Sequence[float]) -> float:
    """Probability that onsets at random are as evenly spaced: the mean squared relative deviation of the gaps.

    ``starts``: sorted onsets of each ride, three or more; ``lengths`` how long each ride was.
    """
    generator = np.random.default_rng(SEED)
    seen = sum(float(_unevenness(onsets)) for onsets in starts)
    drawn = np.zeros(DRAWS)
    for onsets, length in zip(starts, lengths, strict=True):
        drawn += _unevenness(np.sort(generator.random((DRAWS, onsets.size)) * length, axis=1))
    return float(1 + np.sum(drawn <= seen + 1e-12)) / (DRAWS + 1)


def _unevenness(onsets: FloatArray) -> FloatArray:
    gaps = np.diff(onsets, axis=-1)
    mean = np.maximum(gaps.mean(axis=-1, keepdims=True), 1e-9)
    return np.asarray(((gaps / mean - 1.0) ** 2).mean(axis=-1))
