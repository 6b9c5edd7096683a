"""Falls from a held level and back, where nothing logged foretells the power.

With cadence, what is looked at is power freed of it: a rider on one resistance who pedals more slowly stays on the
level. Without, it is power itself. Only falls that stand out are given: the rests of an interval session are the plan.
"""

from __future__ import annotations

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view

from wattwitness.faults.alone.ride import AloneRide
from wattwitness.faults.detectors.easing import Fall, odd_falls
from wattwitness.model.arrays import BoolArray, FloatArray

BLOCK_S = 5
LEAST_RPM, LEAST_W = 40.0, 20.0
LEAST_TURN = 0.03
"""Smaller changes of log cadence between blocks say nothing of the slope."""

USUAL_SLOPE, MOST_SLOPE = 1.5, 3.0
LEAST_CHANGES = 60
OVERLAP = 0.3
AROUND_BLOCKS = 30
KEPT_WITHIN, KEPT_SHARE = 0.10, 0.85
"""A ride keeps to levels where so many of its blocks lie within so much of the middle of five minutes around."""


def plateau_falls(ride: AloneRide, taken: BoolArray) -> list[Fall]:
    """Falls of power freed of cadence, over the seconds not ``taken`` (n,); none in a ride that keeps to no level."""
    freed = freed_w(ride, taken)
    return odd_falls(freed, _hours(ride)) if kept_share(freed) >= KEPT_SHARE else []


def rider_falls(ride: AloneRide, taken: BoolArray, others: list[tuple[int, int]]) -> list[Fall]:
    """Falls of power that are none of ``others`` (first and last second of each): the effort itself fell."""
    falls = odd_falls(np.where(taken, np.nan, ride.power_w), _hours(ride))
    return [fall for fall in falls if not any(_shared(fall, other) > OVERLAP for other in others)]


def kept_share(power_w: FloatArray) -> float:
    """Share of blocks that lie near the middle of the minutes around them."""
    count = power_w.size // BLOCK_S
    blocks = power_w[: count * BLOCK_S].reshape(count, BLOCK_S)
    present = np.isfinite(blocks).all(axis=1)
    means = np.where(present, np.where(np.isfinite(blocks), blocks, 0.0).mean(axis=1), 0.0)[present]
    if means.size < 2 * AROUND_BLOCKS:
        return 0.0
    middle = np.median(sliding_window_view(np.pad(means, AROUND_BLOCKS, mode="edge"), 2 * AROUND_BLOCKS + 1), axis=1)
    return float(np.mean(np.abs(means - middle) <= KEPT_WITHIN * middle))


def freed_w(ride: AloneRide, taken: BoolArray) -> FloatArray:
    """Power at the ride's middle cadence, (n,): along the slope of log power over log cadence at held resistance."""
    power = np.where(taken, np.nan, ride.power_w)
    if ride.cadence_rpm is None:
        return power
    with np.errstate(invalid="ignore"):
        pedalled: BoolArray = np.asarray((ride.cadence_rpm >= LEAST_RPM) & (power >= LEAST_W), dtype=np.bool_)
    if pedalled.sum() < 300:
        return power
    log_cadence = np.log(np.where(pedalled, ride.cadence_rpm, 1.0))
    middle = float(np.median(log_cadence[pedalled]))
    freed = power * np.exp(-_slope(log_cadence, power, pedalled) * (log_cadence - middle))
    return np.where(pedalled, freed, np.nan)


def _slope(log_cadence: FloatArray, power_w: FloatArray, pedalled: BoolArray) -> float:
    """Weighted median of the ratio of changes from block to block: changes of resistance are outliers in it."""
    count = pedalled.size // BLOCK_S
    whole: BoolArray = np.all(pedalled[: count * BLOCK_S].reshape(count, BLOCK_S), axis=1)
    cadence = log_cadence[: count * BLOCK_S].reshape(count, BLOCK_S).mean(axis=1)
    power = np.where(pedalled, power_w, 1.0)[: count * BLOCK_S].reshape(count, BLOCK_S).mean(axis=1)
    turn, change = np.diff(cadence), np.diff(np.log(np.maximum(power, 1.0)))
    tells = np.logical_and(whole[1:], whole[:-1]) & (np.abs(turn) >= LEAST_TURN)
    if tells.sum() < LEAST_CHANGES:
        return USUAL_SLOPE
    ratio, weight = change[tells] / turn[tells], np.abs(turn[tells])
    order = np.argsort(ratio)
    heaped = np.cumsum(weight[order])
    return float(np.clip(ratio[order][np.searchsorted(heaped, heaped[-1] / 2)], 0.0, MOST_SLOPE))


def _shared(fall: Fall, other: tuple[int, int]) -> float:
    """Overlap of two stretches as a share of the shorter."""
    both = min(fall.last, other[1]) - max(fall.first, other[0])
    return both / max(min(fall.last - fall.first, other[1] - other[0]), 1)


def _hours(ride: AloneRide) -> float:
    return float(np.isfinite(ride.power_w).sum()) / 3600.0
