"""What the bias goes with from ride to ride: date, temperature, mean power, firmware, rider."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from datetime import date

import numpy as np

from wattwitness.model.arrays import FloatArray
from wattwitness.model.estimate import Estimate
from wattwitness.model.study import Moderator, RideFigures
from wattwitness.stats.quantiles import student_quantile
from wattwitness.study.effects import Between, between_variance
from wattwitness.study.equivalence import MeanKnown, change

LEAST_RIDES = 4
FEW_RIDES = 10
"""With fewer rides a slope may be anything's; the usual advice is ten for each. Common practice, with no source."""

Number = Callable[[RideFigures], float]


def moderators(rides: Sequence[RideFigures], *, level: float = 0.95) -> tuple[Moderator, ...]:
    """Each by itself, on the standardised bias of the rides that count; none where it does not vary."""
    used = [ride for ride in rides if ride.counts and ride.standardised_pct.value is not None]
    slopes = (_slope(used, name, unit, of, level) for name, unit, of in NUMBERS)
    contrasts = (_contrast(used, name, of, level) for name, of in WORDS)
    return tuple(found for found in (*slopes, *contrasts) if found is not None)


def _day(ride: RideFigures) -> float:
    try:
        return date.fromisoformat(ride.day).toordinal() / 30.4375
    except ValueError:
        return math.nan


NUMBERS: tuple[tuple[str, str, Number], ...] = (
    ("date", "month", _day),
    ("temperature", "°C", lambda ride: ride.temperature_c),
    ("mean power", "100 W", lambda ride: ride.mean_w / 100),
)
WORDS: tuple[tuple[str, Callable[[RideFigures], str]], ...] = (
    ("firmware", lambda ride: ride.firmware),
    ("rider", lambda ride: ride.rider),
)


def _slope(rides: Sequence[RideFigures], name: str, unit: str, of: Number, level: float) -> Moderator | None:
    """Weighted line through the rides, its error scaled by what is left over (Knapp and Hartung's)."""
    known = [ride for ride in rides if math.isfinite(of(ride))]
    x = np.array([of(ride) for ride in known])
    if len(known) < LEAST_RIDES or np.ptp(x) <= 1e-9:
        return None
    bias, variance = _figures(known)
    design = np.column_stack([np.ones(x.size), x - x.mean()])
    start = np.linalg.lstsq(design, bias, rcond=None)[0]
    apart = between_variance(bias - design @ start, variance, Between.PAULE_MANDEL)
    weight = 1 / (variance + apart)
    normal = np.linalg.inv(design.T @ (weight[:, None] * design))
    fit = normal @ (design.T @ (weight * bias))
    scale = max(float((weight * (bias - design @ fit) ** 2).sum()) / (x.size - 2), 1.0)
    half = student_quantile(level, x.size - 2) * math.sqrt(scale * normal[1, 1])
    slope = float(fit[1])
    found = Estimate(value=slope, low=slope - half, high=slope + half, unit=f"% per {unit}", level=level)
    return _told(name, unit, found, len(known))


def _contrast(
    rides: Sequence[RideFigures], name: str, of: Callable[[RideFigures], str], level: float
) -> Moderator | None:
    """The two values with the most rides, the later one less the earlier."""
    values = list(dict.fromkeys(of(ride) for ride in rides if of(ride)))
    often = sorted(values, key=lambda value: -sum(of(ride) == value for ride in rides))[:2]
    pair = [value for value in values if value in often]
    groups = [[ride for ride in rides if of(ride) == value] for value in pair]
    if len(pair) < 2 or min(map(len, groups)) < 2:
        return None
    moved = change(*(_mean(group) for group in groups))
    low, high = moved.interval(level)
    found = Estimate(value=moved.value, low=low, high=high, unit="%", level=level)
    return _told(f"{name} {pair[1]} against {pair[0]}", "", found, sum(map(len, groups)))


def _mean(rides: Sequence[RideFigures]) -> MeanKnown:
    bias, variance = _figures(rides)
    error = math.sqrt(max(float(bias.var(ddof=1)), float(variance.mean())) / bias.size)
    return MeanKnown(mean=float(bias.mean()), standard_error=error, degrees=bias.size - 1.0)


def _figures(rides: Sequence[RideFigures]) -> tuple[FloatArray, FloatArray]:
    bias = np.array([ride.standardised_pct.value for ride in rides], dtype=np.float64)
    return bias, np.array([ride.standardised_se_pct**2 for ride in rides])


def _told(name: str, unit: str, found: Estimate, rides: int) -> Moderator:
    low, high = found.low or 0.0, found.high or 0.0
    if low <= 0 <= high:
        says = "no dependence is shown"
        few = f", and with {rides} rides one is easily missed"
    else:
        says = "the bias goes with it, which does not make it the cause: other things may have changed along with it"
        few = f", and {rides} rides are few to tell by"
    return Moderator(name=name, unit=unit, per_unit=found, rides=rides, says=says + (few if rides < FEW_RIDES else ""))
