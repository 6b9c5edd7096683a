"""Seconds in zone on both meters, and how often the zone displayed is not the true one.

Zones are entered on means of 30 s: by the reference's for the true one, by the unit's for what is shown. A perfect unit
is the reference through the unit's response: what it shows in another zone is the price of its averaging, no error.
"""

from __future__ import annotations

import math

import numpy as np

from wattwitness.model.arrays import BoolArray, FloatArray, IntArray
from wattwitness.model.rider import ZoneSet, ZoneShown, ZonesRidden
from wattwitness.stats.moving import centred_mean, sample_density

MEAN_S = 30


def zones_ridden(
    reference_w: FloatArray,
    expected_w: FloatArray,
    unit_w: FloatArray,
    zones: ZoneSet,
    threshold_w: float,
    *,
    threshold_from: str,
) -> ZonesRidden:
    """Table of true against displayed zone, one value a second, shape (n,) each, NaN where missing.

    Only seconds count in which all three are known. Raises ValueError for a threshold that is not above 0.
    """
    if not threshold_w > 0:
        raise ValueError("a threshold power is above 0 W")
    present = np.isfinite(reference_w) & np.isfinite(expected_w) & np.isfinite(unit_w)
    true, perfect, shown = (_entered(power, present, zones, threshold_w) for power in (reference_w, expected_w, unit_w))
    return ZonesRidden(
        zones=zones,
        threshold_w=threshold_w,
        threshold_from=threshold_from,
        shown=_table(true[present], shown[present], len(zones.names)),
        perfect=_table(true[present], perfect[present], len(zones.names)),
    )


def zone_shown(
    zones: ZoneSet, threshold_w: float, *, bias_pct: float, between_pct: float, within_pct: float
) -> tuple[ZoneShown, ...]:
    """For the middle of each zone with two ends: how often a rider who holds it is shown another.

    Rides differ by ``between_pct`` and the 30 s means of one ride by ``within_pct`` (standard deviations) about the
    mean ``bias_pct``; both normal. ``other_shown``: the ride's mean error alone moves the zone. ``seconds_share``: both
    together, over all seconds of all rides.
    """
    answer = []
    for name, low, high in zip(zones.names[1:], zones.upper, zones.upper[1:], strict=False):
        middle = (low + high) / 2
        ends = tuple(100 * (end / middle - 1) for end in (low, high))
        answer.append(
            ZoneShown(
                zone=name,
                held_w=middle * threshold_w,
                other_shown=1 - _chance_between(ends, bias_pct, between_pct),
                seconds_share=1 - _chance_between(ends, bias_pct, math.hypot(between_pct, within_pct)),
            )
        )
    return tuple(answer)


def _entered(power_w: FloatArray, present: BoolArray, zones: ZoneSet, threshold_w: float) -> IntArray:
    """Zone by the 30 s mean; a power on a boundary belongs to the zone below it."""
    mean = centred_mean(np.where(present, power_w, np.nan), MEAN_S, density=sample_density(present))
    return np.searchsorted(np.array(zones.upper) * threshold_w, np.where(np.isfinite(mean), mean, 0.0), side="left")


def _table(true: IntArray, shown: IntArray, size: int) -> tuple[tuple[int, ...], ...]:
    counts = np.bincount(true * size + shown, minlength=size * size).reshape(size, size)
    return tuple(tuple(int(seconds) for seconds in row) for row in counts)


def _chance_between(ends: tuple[float, ...], mean: float, sd: float) -> float:
    from scipy.special import ndtr

    if sd <= 0:
        return float(ends[0] < mean <= ends[1])
    return float(ndtr((ends[1] - mean) / sd) - ndtr((ends[0] - mean) / sd))
