"""What readings under hanging weights show beside their slope: zero, shape, hysteresis, and how well they repeat."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from wattwitness.model.arrays import FloatArray
from wattwitness.model.estimate import Estimate
from wattwitness.model.hanging_weights import LoadMean
from wattwitness.reference.weighing_series import Series
from wattwitness.stats.least_squares import straight_line
from wattwitness.stats.quantiles import chi_square_quantiles, fisher_quantile, student_quantile
from wattwitness.stats.variance_components import OneWay, one_way

LEAST_SERIES = 3


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SideLines:
    """Lines of all series of a side: slopes (s,), and every reading's departure from its own line (n,).

    ``rounding_nm`` is half of the display's last digit: no interval of a reading is narrower.
    """

    slopes: FloatArray
    torque_nm: FloatArray
    departure_nm: FloatArray
    residual_sd: float
    degrees: int
    slope_se: float
    rounding_nm: float


def lines_of(series: Sequence[Series], rounding_nm: float) -> SideLines:
    """Fit a line to each series of a side."""
    lines = [straight_line(item.torque_nm, item.corrected_nm) for item in series]
    departures = [
        item.corrected_nm - line.intercept - line.slope * item.torque_nm
        for item, line in zip(series, lines, strict=True)
    ]
    degrees = sum(line.degrees for line in lines)
    squares = sum(line.degrees * line.residual_sd**2 for line in lines)
    return SideLines(
        slopes=np.array([line.slope for line in lines]),
        torque_nm=np.concatenate([item.torque_nm for item in series]),
        departure_nm=np.concatenate(departures),
        residual_sd=math.sqrt(squares / degrees),
        degrees=degrees,
        slope_se=lines[0].slope_se,
        rounding_nm=rounding_nm,
    )


def zero_estimate(values: Sequence[float], fitted: SideLines, spread_factor: float, level: float) -> Estimate:
    """Mean of readings of the zero, with Student's t; of a single one by the scatter around the line."""
    known = np.array([value for value in values if not math.isnan(value)])
    if known.size == 0:
        return Estimate.missing("zero_not_read", "N·m", level)
    mean = float(known.mean())
    if known.size == 1:
        half = student_quantile(level, fitted.degrees) * spread_factor * fitted.residual_sd
    else:
        half = student_quantile(level, known.size - 1) * float(known.std(ddof=1)) / math.sqrt(known.size)
    half = math.hypot(half, spread_factor * fitted.rounding_nm)
    return Estimate(value=mean, low=mean - half, high=mean + half, unit="N·m", level=level)


def _groups_by_load(fitted: SideLines) -> list[tuple[float, FloatArray]]:
    rounded = np.round(fitted.torque_nm, 6)
    return [(float(load), fitted.departure_nm[rounded == load]) for load in np.unique(rounded)]


def load_means(fitted: SideLines) -> tuple[LoadMean, ...]:
    """Mean departure from the lines by load."""
    return tuple(
        LoadMean(torque_nm=load, readings=int(values.size), departure_nm=float(values.mean()))
        for load, values in _groups_by_load(fitted)
    )


def linearity(fitted: SideLines, largest_nm: float, level: float) -> Estimate:
    """The largest departure of a load's mean from the line, percent of the largest torque.

    Its interval allows for having been chosen as the largest (Bonferroni), with the scatter within loads.
    """
    loads = _groups_by_load(fitted)
    analysed = one_way([values for _, values in loads])
    if len(loads) < 3 or analysed.within_degrees < 1:
        return Estimate.missing("too_few_readings", "%", level)
    values = max((values for _, values in loads), key=lambda found: abs(float(found.mean())))
    worst = 100 * float(values.mean()) / largest_nm
    strict = 1 - (1 - level) / len(loads)
    scatter = math.sqrt(analysed.within_square / values.size)
    half_nm = math.hypot(student_quantile(strict, analysed.within_degrees) * scatter, fitted.rounding_nm)
    half = 100 * half_nm / largest_nm
    return Estimate(value=worst, low=worst - half, high=worst + half, unit="%", level=level)


def hysteresis(series: Sequence[Series], largest_nm: float, rounding_nm: float, level: float) -> Estimate:
    """Mean reading while unloading less that while loading, at the same loads, percent of the largest torque.

    With three series or more each counts as one: within a series the differences share its zeros.
    """
    by_series = [found for item in series if (found := _down_less_up(item))]
    if len(by_series) >= LEAST_SERIES:
        differences = [float(np.mean(one)) for one in by_series]
    else:
        differences = [one for several in by_series for one in several]
    if len(differences) < 2:
        slug = "one_load_both_ways" if differences else "not_loaded_and_unloaded"
        return Estimate.missing(slug, "%", level)
    values = np.array(differences)
    mean = 100 * float(values.mean()) / largest_nm
    scatter_nm = student_quantile(level, values.size - 1) * float(values.std(ddof=1)) / math.sqrt(values.size)
    half = 100 * math.hypot(scatter_nm, math.sqrt(2) * rounding_nm) / largest_nm
    return Estimate(value=mean, low=mean - half, high=mean + half, unit="%", level=level)


def _down_less_up(item: Series) -> list[float]:
    """Reading on the way down less that on the way up, N·m, at each load that has both."""
    found = []
    rounded = np.round(item.torque_nm, 6)
    for load in np.unique(rounded):
        up, down = ((rounded == load) & (sign * item.going_up > 0) for sign in (1, -1))
        if up.any() and down.any():
            found.append(float(item.corrected_nm[down].mean() - item.corrected_nm[up].mean()))
    return found


def repeatability(series: Sequence[Series], level: float) -> Estimate:
    """Standard deviation of readings repeated at one position, load and direction, N·m."""
    cells: dict[tuple[str, float, float], list[float]] = {}
    for item in series:
        loaded = item.going_up != 0
        for load, up, reading in zip(
            item.torque_nm[loaded], item.going_up[loaded], item.corrected_nm[loaded], strict=True
        ):
            cells.setdefault((item.position, round(float(load), 6), float(up)), []).append(float(reading))
    if not cells or max(len(cell) for cell in cells.values()) < 2:
        return Estimate.missing("no_repeats", "N·m", level)
    analysed = one_way([np.array(cell) for cell in cells.values()])
    return spread_estimate(math.sqrt(analysed.within_square), analysed.within_degrees, "N·m", level)


def spread_estimate(spread: float, degrees: float, unit: str, level: float) -> Estimate:
    """A standard deviation with its interval by chi-squared."""
    low, high = chi_square_quantiles(level, degrees)
    return Estimate(
        value=spread,
        low=spread * math.sqrt(degrees / high),
        high=spread * math.sqrt(degrees / low),
        unit=unit,
        level=level,
    )


def position_spread(analysed: OneWay | None, level: float) -> Estimate:
    """Standard deviation of the slope between positions beyond what repeats explain, percent.

    The component of variance between positions. Its low end divides the ratio of the mean squares by Fisher's F, so
    that it is zero as often as it says where there is nothing; its high end moves the mean square between positions
    over its chi-squared interval.
    """
    if analysed is None or analysed.between_degrees < 1:
        return Estimate.missing("one_position", "%", level)
    if analysed.within_degrees < 1:
        return Estimate.missing("no_repeats", "%", level)
    per_group = analysed.values / analysed.groups
    low = fisher_quantile(level, analysed.between_degrees, analysed.within_degrees)
    high = chi_square_quantiles(level, analysed.between_degrees)[0] / analysed.between_degrees

    def spread(between_square: float) -> float:
        return 100 * math.sqrt(max(between_square - analysed.within_square, 0.0) / per_group)

    ends = [spread(analysed.between_square / end) for end in (low, high)]
    return Estimate(value=spread(analysed.between_square), low=ends[0], high=ends[1], unit="%", level=level)
