"""Depth with its interval, certainty, and the energy that an episode took from the unit's record."""

from __future__ import annotations

import math

import numpy as np

from wattwitness.faults.excursions import Excursion
from wattwitness.faults.residual import Residual
from wattwitness.model.arrays import FloatArray
from wattwitness.model.estimate import Estimate
from wattwitness.stats.quantiles import normal_quantile

CORE_S = 6
SLOPE_S = 2
"""Seconds beside an edge, beyond the display's blur, left out of a depth: the fault itself may take some to come."""

LEVEL_SD = 0.002
"""Standard deviation of the foretold level itself."""

LOOKS_PER_HOUR = 2000
"""How many independent stretches of all lengths an hour offers to chance."""

TAIL = 1.25
"""Chance strays further than the normal distribution has it: standard deviations are taken so many times as large when
a certainty is told."""


def depth_of(residual: Residual, found: Excursion, blur_s: int, level: float) -> Estimate:
    """Depth in percent, from the seconds that the response's blur of the edges leaves whole where there are enough."""
    length = found.last - found.first
    aside = min(blur_s + SLOPE_S, max((length - CORE_S) // 2, 0), length // 3)
    first, last = found.first + aside, found.last - aside
    mean, sd = residual.mean_and_sd(np.array([first]), np.array([last]), cautious=False)
    if not np.isfinite(sd[0]):
        mean, sd = np.array([found.depth]), np.array([found.sd])
    value, half = 100.0 * float(mean[0]), 100.0 * normal_quantile(level) * math.hypot(float(sd[0]), LEVEL_SD)
    return Estimate(value=value, low=value - half, high=value + half, unit="%", level=level)


def certainty_of(depth: float, sd: float, hours: float) -> float:
    """Probability that no chance stretch of so long a ride stands so far out."""
    one = math.erfc(abs(depth) / (sd * TAIL) / math.sqrt(2.0))
    return max(0.0, 1.0 - min(1.0, one * LOOKS_PER_HOUR * max(hours, 0.1)))


def energy_kj(foretold_w: FloatArray, shown_w: FloatArray, first: int, last: int, sd: float, level: float) -> Estimate:
    """What the unit's record lost over seconds ``first`` to ``last``, kJ; a second it does not show is lost whole.

    ``foretold_w`` (n,) NaN where the reference shows nothing: such a second counts as the mean of the others.
    ``sd`` is the relative standard deviation of what is foretold over the stretch.
    """
    foretold, shown = foretold_w[first:last], shown_w[first:last]
    known = np.isfinite(foretold)
    if not known.any():
        return Estimate.missing("no_reference", "kJ", level)
    lost = float(np.sum(foretold[known] - np.where(np.isfinite(shown[known]), shown[known], 0.0)))
    scale = foretold.size / float(known.sum()) / 1000.0
    half = normal_quantile(level) * (sd if np.isfinite(sd) else 0.05) * float(foretold[known].sum()) * scale
    value = lost * scale
    return Estimate(value=value, low=value - half, high=value + half, unit="kJ", level=level)


def exact_pct(value: float, level: float) -> Estimate:
    """A percentage that is read off the samples and has no chance in it."""
    return Estimate(value=value, low=value, high=value, unit="%", level=level)
