"""Whether two recordings are two exports of one: then their difference says nothing about a meter."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from wattwitness.clock.segments import Stretch
from wattwitness.model.arrays import BoolArray, FloatArray
from wattwitness.model.recording import ChannelName, Recording

LEAST_SAMPLES = 60
"""Changing samples that have to be compared before two recordings are called one."""

EQUAL_POWER = 0.9
"""Share of equal power samples: two meters agree to the watt on about one in ten."""

EQUAL_WITHOUT_POWER = 0.97
"""Share of equal samples of cadence and of heart rate, which two recorders may share without being one."""

TRIED_S = (0.0, -1.0, 1.0)


def same_source(
    reference: Recording, unit: Recording, stretches: Sequence[Stretch], reference_start_s: float, unit_start_s: float
) -> bool:
    """Whether samples that fall together are equal as far as they are rounded.

    Decided on power where both have it. Two recorders that share a cadence sensor and a heart strap are no copies of
    each other, so without power both channels have to agree nearly always. ``stretches`` are lags between grids that
    begin at ``reference_start_s`` and ``unit_start_s``.
    """
    together = _nearest(reference, unit, stretches, reference_start_s, unit_start_s)
    if reference.has(ChannelName.POWER) and unit.has(ChannelName.POWER):
        return _equal_share(reference, unit, ChannelName.POWER, together) >= EQUAL_POWER
    shared = [name for name in (ChannelName.CADENCE, ChannelName.HEART_RATE) if reference.has(name) and unit.has(name)]
    if len(shared) < 2:
        return False
    return all(_equal_share(reference, unit, name, together) >= EQUAL_WITHOUT_POWER for name in shared)


def _nearest(
    reference: Recording, unit: Recording, stretches: Sequence[Stretch], reference_start_s: float, unit_start_s: float
) -> list[tuple[FloatArray, FloatArray]]:
    """For each stretch and each second tried, samples that fall together: indices of reference and unit.

    Both are matched on their own stamps, so that nothing interpolated is compared.
    """
    answer = []
    for one in stretches:
        lag_s = float(np.median(one.lag_at)) + reference_start_s - unit_start_s
        low, high = reference_start_s + one.start, reference_start_s + one.stop
        for extra_s in TRIED_S:
            mapped = unit.time_s + lag_s + extra_s
            j = np.flatnonzero((mapped >= low) & (mapped < high))
            if j.size == 0 or reference.time_s.size < 2:
                continue
            i = np.clip(np.searchsorted(reference.time_s, mapped[j]), 1, reference.time_s.size - 1)
            before = mapped[j] - reference.time_s[i - 1] < reference.time_s[i] - mapped[j]
            i = i - before
            near = np.abs(reference.time_s[i] - mapped[j]) <= 0.51
            answer.append((i[near].astype(np.float64), j[near].astype(np.float64)))
    return answer


def _equal_share(
    reference: Recording, unit: Recording, name: ChannelName, together: Sequence[tuple[FloatArray, FloatArray]]
) -> float:
    """Share of equal samples among those that change, at the best second tried of each stretch; 0 with too few."""
    tolerance = 0.5 * max(_resolution(reference.channels[name]), _resolution(unit.channels[name])) + 1e-6
    equal = compared = 0
    for k in range(0, len(together), len(TRIED_S)):
        counts = [_equal(reference, unit, name, i, j, tolerance) for i, j in together[k : k + len(TRIED_S)]]
        best = max(counts, key=lambda one: (one[0] / one[1] if one[1] else 0.0, one[1]))
        equal += best[0]
        compared += best[1]
    return equal / compared if compared >= LEAST_SAMPLES else 0.0


def _equal(
    reference: Recording, unit: Recording, name: ChannelName, i: FloatArray, j: FloatArray, tolerance: float
) -> tuple[int, int]:
    """Equal and compared samples, of those that differ from the one before on either side."""
    a = reference.channels[name][i.astype(np.int64)]
    b = unit.channels[name][j.astype(np.int64)]
    both = np.isfinite(a) & np.isfinite(b)
    a, b = a[both], b[both]
    changing = _changes(a) | _changes(b)
    close = np.abs(a - b) <= tolerance
    return int((close & changing).sum()), int(changing.sum())


def _changes(values: FloatArray) -> BoolArray:
    return np.concatenate([[False], np.diff(values) != 0])[: values.size]


def _resolution(values: FloatArray) -> float:
    """The step to which values are rounded: 1, 0.1, or finer as 0."""
    present = values[np.isfinite(values)]
    for step in (1.0, 0.1):
        if np.all(np.abs(present / step - np.round(present / step)) < 1e-6):
            return step
    return 0.0
