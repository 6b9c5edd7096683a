"""How much the bias changed from one stretch of a ride to another."""

from __future__ import annotations

import math

from wattwitness.model.agreement import PeriodBias
from wattwitness.model.estimate import Estimate


def change_of_bias(first: PeriodBias, second: PeriodBias) -> Estimate:
    """The second bias minus the first, in percentage points.

    The two intervals are taken as independent and each side of the difference as the root of the sum of squares of the
    sides that move it there: low² = (b₂ − low₂)² + (high₁ − b₁)², and the same for high (recovery of variance estimates
    from confidence limits: Zou & Donner 2008, Stat. Med. 27:1693; from memory). Stretches that touch share a
    wander at their border, which this leaves out. Not assessed where either bias is not, or has an open end.
    """
    level = second.bias_pct.level
    one, two = first.bias_pct, second.bias_pct
    if one.value is None or one.low is None or one.high is None:
        return Estimate.missing(one.not_assessed or "unknown", "percentage points", level)
    if two.value is None or two.low is None or two.high is None:
        return Estimate.missing(two.not_assessed or "unknown", "percentage points", level)
    down = math.hypot(two.value - two.low, one.high - one.value)
    up = math.hypot(two.high - two.value, one.value - one.low)
    if not (math.isfinite(down) and math.isfinite(up)):
        return Estimate.missing("open_interval", "percentage points", level)
    change = two.value - one.value
    return Estimate(value=change, low=change - down, high=change + up, unit="percentage points", level=level)
