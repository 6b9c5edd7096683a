"""Repeatability within a ride and intermediate precision between rides: ISO 5725-2 and -3 by analysis of variance."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from wattwitness.model.arrays import FloatArray
from wattwitness.model.estimate import Estimate
from wattwitness.stats.variance_components import one_way


@dataclass(frozen=True, slots=True, kw_only=True)
class Precision:
    """Standard deviations: of one block of a ride about that ride, and of one block of any ride about all."""

    repeatability: Estimate
    intermediate: Estimate


def precision(groups: Sequence[FloatArray], *, unit: str = "%", level: float = 0.95) -> Precision:
    """From the values of each group (n_j,): blocks of rides, or replicates of laboratories.

    A component between groups that comes out negative counts as none, so that the intermediate one is never the
    smaller. Intervals by chi-squared, the intermediate's with Satterthwaite's degrees of freedom.
    """
    filled = [group for group in groups if group.size]
    if len(filled) < 2 or all(group.size < 2 for group in filled):
        missing = Estimate.missing("too_few_rides", unit, level)
        return Precision(repeatability=missing, intermediate=missing)
    found = one_way(filled)
    within, between = found.within_square, max(found.between_variance, 0.0)
    total = within + between
    size = (found.between_square - found.within_square) / found.between_variance if found.between_variance else 1.0
    parts = ((found.between_square / size, found.between_degrees), (within * (1 - 1 / size), found.within_degrees))
    spare = sum(part**2 / degrees for part, degrees in parts)
    degrees = total**2 / spare if between > 0 and spare > 0 else float(found.within_degrees + found.between_degrees)
    return Precision(
        repeatability=_deviation(within, float(found.within_degrees), unit, level),
        intermediate=_deviation(total, degrees, unit, level),
    )


def _deviation(variance: float, degrees: float, unit: str, level: float) -> Estimate:
    from scipy.special import chdtri

    value = math.sqrt(variance)
    low, high = (value * math.sqrt(degrees / float(chdtri(degrees, 0.5 - side * level / 2))) for side in (1, -1))
    return Estimate(value=value, low=min(low, value), high=max(high, value), unit=unit, level=level)
