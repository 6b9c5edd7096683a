"""The simulator's time line and the few filters on it.

The true ride is known at ``RATE_HZ`` values a second; value i holds from ``time - STEP_S`` to ``time``, where
``time = -LEAD_S + (i + 1) * STEP_S`` is in seconds after the start. The ``LEAD_S`` before the start are ridden too, so
that a display that averages has something to average. Only ufuncs that IEEE 754 rounds exactly and running sums are
used: no BLAS, no FFT, no numpy exp, no fused multiply-add, so that the last bits agree on every machine.
"""

from __future__ import annotations

import math

import numpy as np

from wattwitness.model.arrays import FloatArray
from wattwitness.simulate.draws import Draws

RATE_HZ = 4
STEP_S = 1.0 / RATE_HZ
LEAD_S = 60


def grid_size(duration_s: float) -> int:
    """How many values the time line has for a ride of ``duration_s`` seconds, lead included."""
    return (LEAD_S + math.ceil(duration_s) + 2) * RATE_HZ


def grid_times(size: int) -> FloatArray:
    """The end of each value's stretch, seconds after the start, shape (size,)."""
    return (np.arange(size, dtype=np.float64) + 1.0) * STEP_S - LEAD_S


def decay(tau_s: float, step_s: float = STEP_S) -> float:
    """exp(-step/tau), rounded to 12 decimals so that the machine's own exp leaves no trace; 0 for tau 0."""
    return round(math.exp(-step_s / tau_s), 12) if tau_s > 0 else 0.0


def decay_line(size: int, tau_s: float) -> FloatArray:
    """exp(-t/tau) from the start on, 1 before it, shape (size,)."""
    line = np.full(size, decay(tau_s))
    line[: LEAD_S * RATE_HZ] = 1.0
    return np.asarray(np.multiply.accumulate(line), dtype=np.float64)


def recursion(drive: FloatArray, factor: float, stride: int = 1) -> FloatArray:
    """y[i] = drive[i] + factor * y[i - stride] (zero before the first), shape of ``drive``, by doubling."""
    line = drive.copy()
    while stride < line.size and abs(factor) > 1e-17:
        line[stride:] = line[stride:] + factor * line[:-stride]
        factor *= factor
        stride *= 2
    return line


def lagged(values: FloatArray, tau_s: float) -> FloatArray:
    """``values`` followed with a first-order lag of ``tau_s``, starting settled at the first value."""
    factor = decay(tau_s)
    return np.asarray(values[0] + recursion((1.0 - factor) * (values - values[0]), factor))


def box_mean(values: FloatArray, count: int) -> FloatArray:
    """Trailing mean over ``count`` values; the first value stands for all before it."""
    total = np.concatenate((values[0] * np.arange(-count + 1.0, 1.0), np.add.accumulate(values)))
    return np.asarray((total[count:] - total[:-count]) / count)


def wander(draws: Draws, size: int, sd: float, tau_s: float) -> FloatArray:
    """A stationary first-order random wander (Ornstein-Uhlenbeck) with standard deviation ``sd`` and time ``tau_s``."""
    if sd == 0.0:
        return np.zeros(size)
    factor = decay(tau_s)
    drive = draws.normal(size) * (sd * math.sqrt(1.0 - factor * factor))
    drive[0] = drive[0] / math.sqrt(1.0 - factor * factor)
    return recursion(drive, factor)


def at_times(values: FloatArray, time_s: FloatArray) -> FloatArray:
    """``values`` on the time line, read at ``time_s`` (shape (m,), seconds after the start) along straight lines."""
    place = (time_s + LEAD_S) * RATE_HZ - 1.0
    place = np.minimum(np.maximum(place, 0.0), values.size - 1.000001)
    below = np.floor(place).astype(np.int64)
    share = place - below
    return values[below] * (1.0 - share) + values[below + 1] * share
