"""One meter weighed again and again over a study: does the reference itself move?"""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import date

import numpy as np

from wattwitness.model.estimate import Estimate
from wattwitness.model.hanging_weights import ReferenceDrift, Weighing
from wattwitness.reference.weighing_shape import spread_estimate
from wattwitness.stats.least_squares import straight_line
from wattwitness.stats.quantiles import student_quantile

DAYS = 30


def drifts_of(weighings: Sequence[Weighing], *, level: float = 0.95) -> tuple[ReferenceDrift, ...]:
    """The drift of every meter that stands on two worksheets or more, by its name."""
    names = dict.fromkeys(item.meter for item in weighings)
    groups = ([item for item in weighings if item.meter == name] for name in names)
    return tuple(reference_drift(group, level=level) for group in groups if len(group) > 1)


def reference_drift(weighings: Sequence[Weighing], *, level: float = 0.95) -> ReferenceDrift:
    """What two or more weighings of one meter, in the order of their dates, say of its drift.

    What was the same each time (masses, lever, gravity) moves all gains alike and is left out; the angle of the crank
    is taken as set anew each time. The slope with time needs three dated weighings on different days.
    """
    gains = np.array([100 * (_slope(item) - 1) for item in weighings])
    scatter = [_scatter(item) for item in weighings]
    first, last = scatter[0], scatter[-1]
    together = math.hypot(first[0], last[0])
    below = sum(size**4 / degrees for size, degrees in (first, last) if size > 0)
    half = student_quantile(level, together**4 / below if below > 0 else math.inf) * together
    change = float(gains[-1] - gains[0])
    return ReferenceDrift(
        meter=weighings[0].meter,
        weighings=len(weighings),
        first_date=weighings[0].date,
        last_date=weighings[-1].date,
        change_pct=Estimate(value=change, low=change - half, high=change + half, unit="%", level=level),
        per_30_days_pct=_per_30_days(weighings, gains.tolist(), level),
        between_pct=spread_estimate(float(gains.std(ddof=1)), gains.size - 1, "%", level),
    )


def _slope(weighing: Weighing) -> float:
    if weighing.gain_pct.value is None:
        raise ValueError("a weighing always has a gain")
    return 1 + weighing.gain_pct.value / 100


def _scatter(weighing: Weighing) -> tuple[float, float]:
    """Standard uncertainty of the gain that is not common to all weighings, percent, and its degrees of freedom."""
    parts = [part for part in weighing.budget.contributions if part.name in ("readings", "resolution", "angle")]
    total = sum(part.contribution_pct**2 for part in parts)
    below = sum(part.contribution_pct**4 / part.degrees for part in parts if part.contribution_pct > 0)
    return math.sqrt(total), total**2 / below if below > 0 else math.inf


def _per_30_days(weighings: Sequence[Weighing], gains: Sequence[float], level: float) -> Estimate:
    if any(not item.date for item in weighings):
        return Estimate.missing("undated", "%", level)
    days = np.array([date.fromisoformat(item.date).toordinal() for item in weighings], dtype=np.float64)
    if len(gains) < 3 or np.unique(days).size < 3:
        return Estimate.missing("too_few_days", "%", level)
    line = straight_line((days - days[0]) / DAYS, np.array(gains))
    half = student_quantile(level, line.degrees) * line.slope_se
    return Estimate(value=line.slope, low=line.slope - half, high=line.slope + half, unit="%", level=level)
