"""Rides for the truth runs of the agreement room: a reference and a unit, already on one clock, one value a second.

Made apart from the package's own simulator, so that neither can flatter the other.
"""

from __future__ import annotations

from typing import Literal

import numpy as np
from scipy.signal import lfilter

from wattwitness.model.arrays import FloatArray

Effort = Literal["flat", "steady", "intervals", "short_intervals", "group", "ramp", "steps"]
BIAS_PCT = 5.0


def wander(generator: np.random.Generator, seconds: int, tau_s: float) -> FloatArray:
    """First-order (Ornstein-Uhlenbeck) wander of unit variance, time constant ``tau_s``, stationary throughout."""
    decay = np.exp(-1 / tau_s)
    shocks = generator.standard_normal(seconds)
    shocks[1:] *= np.sqrt(1 - decay**2)
    return np.asarray(lfilter([1.0], [1.0, -decay], shocks), dtype=np.float64)


def effort_w(generator: np.random.Generator, seconds: int, effort: Effort) -> FloatArray:
    """True power: what the rider was asked for, times their own scatter of 7 % (none where ``flat``)."""
    time_s = np.arange(seconds)
    if effort == "flat":
        return np.full(seconds, 220.0)
    if effort == "steady":
        power_w = np.full(seconds, 217.0)
    elif effort == "intervals":
        power_w = np.where((time_s // 150) % 2 == 0, 323.0, 136.0)
    elif effort == "short_intervals":
        power_w = np.where((time_s // 30) % 2 == 0, 347.0, 121.0)
    elif effort == "ramp":
        power_w = 90 + 240 * time_s / seconds
    elif effort == "steps":
        power_w = 110.0 + 45 * (6 * time_s // seconds)
    else:
        surges = 70 * wander(generator, seconds, 60) + 70 * wander(generator, seconds, 10)
        power_w = np.where(wander(generator, seconds, 30) > 1.2, 0.0, np.maximum(205 + surges, 0.0))
    return np.asarray(power_w * (1 + 0.07 * wander(generator, seconds, 2)), dtype=np.float64)


def trailing_mean(power_w: FloatArray, width_s: int) -> FloatArray:
    """Mean of the last ``width_s`` seconds, as a display shows it; NaN before there are as many."""
    sums = np.concatenate([[0.0], np.cumsum(power_w)])
    means = np.full(power_w.size, np.nan)
    means[width_s - 1 :] = (sums[width_s:] - sums[:-width_s]) / width_s
    return means
