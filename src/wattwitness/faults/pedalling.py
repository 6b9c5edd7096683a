"""Seconds in which the rider surely pedalled."""

from __future__ import annotations

import numpy as np

from wattwitness.clock.kernels import response_kernel
from wattwitness.faults.ride import RideForFaults
from wattwitness.faults.running import near
from wattwitness.model.arrays import BoolArray, FloatArray
from wattwitness.model.recording import ChannelName

STOOD_RPM = 40.0
STOOD_W = 25.0
BESIDE_S = 3
TURNING_RPM = 60.0
KEPT_S, KEPT_SHARE = 10, 0.8
"""A unit's cadence alone is not believed where the reference's goes on and its power keeps to what it was."""


def pedalled_seconds(ride: RideForFaults) -> BoolArray:
    """Seconds (n,) in which no cadence says that the cranks all but stood, nor beside them; without any, by the power.

    Where the cranks stand a display may hold its last number and a flywheel runs on, and samples a second apart do not
    tell how long they stood, so that two sound meters differ.
    """
    reference = ride.pair.reference.get(ChannelName.CADENCE)
    unit = ride.pair.unit.get(ChannelName.CADENCE)
    with np.errstate(invalid="ignore"):
        if reference is None and unit is None:
            stood = ride.expected_w < STOOD_W
        else:
            stood = np.zeros(ride.time_s.size, dtype=bool)
            if reference is not None:
                stood |= reference < STOOD_RPM
            if unit is not None:
                alone = _kept(ride.expected_w) & (reference >= TURNING_RPM) if reference is not None else False
                stood |= (unit < STOOD_RPM) & ~np.asarray(alone)
    beside = near(stood, BESIDE_S)
    return ~beside & ~_carried(
        beside, response_kernel(ride.response.unit).size - 1 + max(round(ride.response.shift_s), 0)
    )


def _carried(marked: BoolArray, seconds: int) -> BoolArray:
    """Where a marked second is at most so many seconds ago: a display that averages shows it as long."""
    if seconds <= 0 or not marked.any():
        return marked
    return np.asarray(np.convolve(marked, np.ones(seconds + 1))[: marked.size] > 0.5)


def _kept(power_w: FloatArray) -> BoolArray:
    """Whether the power is still what it was some seconds before."""
    earlier = np.concatenate([np.full(min(KEPT_S, power_w.size), np.nan), power_w[:-KEPT_S]])[: power_w.size]
    with np.errstate(invalid="ignore"):
        return np.asarray(power_w >= KEPT_SHARE * earlier)
