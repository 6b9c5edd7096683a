"""What one ride says of how its bias would move if something else were off: the sensitivities of a budget."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from wattwitness.model.arrays import FloatArray

USUAL_RPM = 85.0
BY_HAND_S = 0.5
"""Standard uncertainty of a clock offset given by hand, seconds (judgement: it was read off whole seconds)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RideFacts:
    """Numbers of one ride that a budget needs.

    ``ratio`` is unit over reference, ``mean_w`` the reference's mean power; ``mean_rpm`` the mean cadence, coasting
    included (``USUAL_RPM`` where ``cadence_known`` is false). ``clock_s`` is the standard uncertainty of the clock and
    ``clock_pct_per_s`` what a second of it does to the bias; ``response_pct`` what leaving the response out would do
    to it; ``rounding_pct`` the standard uncertainty from displays of whole watts.
    ``statistics_pct`` is the ride's own standard uncertainty, with ``statistics_degrees``. ``clock_by_hand``: nobody
    measured the clock.
    """

    ratio: float
    mean_w: float
    mean_rpm: float
    cadence_known: bool
    clock_s: float
    clock_pct_per_s: float
    response_pct: float
    rounding_pct: float
    statistics_pct: float
    statistics_degrees: float
    clock_by_hand: bool = False


def ride_facts(
    *,
    reference_w: FloatArray,
    expected_w: FloatArray,
    compared_w: FloatArray,
    cadence_rpm: FloatArray,
    clock_s: float,
    statistics_pct: float,
    statistics_degrees: float,
) -> RideFacts:
    """Read them off the ride.

    Shapes (n,), one value a second, NaN where missing: the reference as measured, through the unit's response, and the
    unit it is compared with. ``clock_s`` may be NaN (unknown: as by hand). Raises ValueError where the two have no
    power in common.
    """
    both = np.isfinite(expected_w) & np.isfinite(compared_w)
    if not both.any() or not float(expected_w[both].sum()) > 0:
        raise ValueError("the two have no power in common")
    mean_w = float(expected_w[both].mean())
    bias_pct = _bias_pct(expected_w, compared_w)
    later, earlier = (_bias_pct(np.roll(expected_w, shift)[1:-1], compared_w[1:-1]) for shift in (1, -1))
    turning = both & np.isfinite(cadence_rpm)
    mean_rpm = float(cadence_rpm[turning].mean()) if turning.any() else USUAL_RPM
    unsmoothed_pct = _bias_pct(reference_w, compared_w)
    return RideFacts(
        ratio=1 + bias_pct / 100,
        mean_w=mean_w,
        mean_rpm=mean_rpm,
        cadence_known=bool(turning.any()),
        clock_s=BY_HAND_S if math.isnan(clock_s) else clock_s,
        clock_pct_per_s=abs(later - earlier) / 2,
        response_pct=0.0 if math.isnan(unsmoothed_pct) else abs(unsmoothed_pct - bias_pct),
        rounding_pct=math.hypot(*(_rounding_w(power[both]) for power in (expected_w, compared_w))) / mean_w * 100,
        statistics_pct=statistics_pct,
        statistics_degrees=statistics_degrees,
        clock_by_hand=math.isnan(clock_s),
    )


def _bias_pct(expected_w: FloatArray, compared_w: FloatArray) -> float:
    both = np.isfinite(expected_w) & np.isfinite(compared_w)
    total = float(expected_w[both].sum())
    return 100 * (float(compared_w[both].sum()) / total - 1) if total > 0 else math.nan


def _rounding_w(power_w: FloatArray) -> float:
    """Standard uncertainty of the mean of a display of whole watts: every new value draws a new rounding error."""
    changes = int(np.count_nonzero(np.diff(power_w)))
    return 1 / math.sqrt(12 * (changes + 1))
