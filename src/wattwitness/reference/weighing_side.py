"""One side of a meter under hanging weights: the line through its readings, and what makes that uncertain."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from wattwitness.model.arrays import FloatArray
from wattwitness.model.budget import Contribution, Distribution, Origin
from wattwitness.model.estimate import Estimate
from wattwitness.model.hanging_weights import LoadMean, Side, SideResult
from wattwitness.reference.combining import budget_of
from wattwitness.reference.weighing_series import Series
from wattwitness.stats.least_squares import straight_line
from wattwitness.stats.quantiles import chi_square_quantiles, student_quantile
from wattwitness.stats.variance_components import OneWay, one_way

MASS_PCT = 2.0
LEVER_MM = 0.5
ANGLE_DEG = 2.0
RESOLUTION_NM = 0.1
"""Half-widths taken where the worksheet states none (judgement: plates of a gym as marked, a crank's stamped length,
an angle by eye; 0.5 mm is 0.29 % of a crank) and the least step of the display. Weighed masses and a level are far
better."""


@dataclass(frozen=True, slots=True, kw_only=True)
class HungWith:
    """What the weights hung with: half-widths of what may be off; ``None`` is not stated."""

    gravity_m_s2: float
    gravity_m_s2_half_width: float
    gravity_origin: str
    mass_pct: float | None
    lever_mm: float | None
    angle_deg: float | None
    resolution_nm: float | None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Fitted:
    """Lines of all series of a side: slopes (s,), and every reading's departure from its own line (n,)."""

    slopes: FloatArray
    torque_nm: FloatArray
    departure_nm: FloatArray
    residual_sd: float
    degrees: int
    slope_se: float


def side_result(side: Side, series: Sequence[Series], hung: HungWith, *, level: float) -> SideResult:
    """Slope, zero, linearity, hysteresis and repeatability of one side; ``series`` holds at least one."""
    fitted = _fit(series)
    slope = float(fitted.slopes.mean())
    largest = max(float(np.max(np.abs(item.torque_nm))) for item in series)
    statistical, degrees, by_position = _slope_scatter(series, fitted)
    contributions = _contributions(series, hung, largest, abs(slope), statistical, degrees)
    budget = budget_of(contributions, level=level)
    gain, half = 100 * (slope - 1), abs(slope) * budget.expanded_pct
    gain_pct = Estimate(value=gain, low=gain - half, high=gain + half, unit="%", level=level)
    return SideResult(
        side=side,
        series=len(series),
        readings=int(fitted.torque_nm.size),
        largest_nm=largest,
        slope=slope,
        gain_pct=gain_pct,
        statistical_pct=100 * statistical,
        degrees=degrees,
        correction_factor=correction(gain_pct),
        zero_nm=_mean_estimate([item.zero_nm for item in series], fitted, 1.0, level),
        zero_shift_nm=_mean_estimate([item.zero_shift_nm for item in series], fitted, math.sqrt(2), level),
        linearity_pct=_linearity(fitted, largest, level),
        hysteresis_pct=_hysteresis(series, largest, level),
        repeatability_nm=_repeatability(series, level),
        position_pct=_position_spread(by_position, level),
        loads=_load_means(fitted),
        budget=budget,
    )


def correction(gain_pct: Estimate) -> Estimate:
    """What a power is to be multiplied by to take a gain out of it: 1 / (1 + gain)."""
    if gain_pct.value is None or gain_pct.low is None or gain_pct.high is None:
        return Estimate.missing(gain_pct.not_assessed or "gain_not_assessed", "1", gain_pct.level)
    low, value, high = (1 + end / 100 for end in (gain_pct.low, gain_pct.value, gain_pct.high))
    if low <= 0:
        return Estimate.missing("gain_not_positive", "1", gain_pct.level)
    return Estimate(value=1 / value, low=1 / high, high=1 / low, unit="1", level=gain_pct.level)


def _fit(series: Sequence[Series]) -> _Fitted:
    lines = [straight_line(item.torque_nm, item.corrected_nm) for item in series]
    departures = [
        item.corrected_nm - line.intercept - line.slope * item.torque_nm
        for item, line in zip(series, lines, strict=True)
    ]
    degrees = sum(line.degrees for line in lines)
    squares = sum(line.degrees * line.residual_sd**2 for line in lines)
    return _Fitted(
        slopes=np.array([line.slope for line in lines]),
        torque_nm=np.concatenate([item.torque_nm for item in series]),
        departure_nm=np.concatenate(departures),
        residual_sd=math.sqrt(squares / degrees),
        degrees=degrees,
        slope_se=lines[0].slope_se,
    )


def _slope_scatter(series: Sequence[Series], fitted: _Fitted) -> tuple[float, float, OneWay | None]:
    """Standard uncertainty of the mean slope that the readings show, its degrees of freedom, slopes by position."""
    if len(series) == 1:
        return fitted.slope_se, float(fitted.degrees), None
    positions = dict.fromkeys(item.position for item in series)
    groups = [
        np.array([slope for item, slope in zip(series, fitted.slopes, strict=True) if item.position == position])
        for position in positions
    ]
    analysed = one_way(groups)
    uncertainty, degrees = analysed.mean_uncertainty
    return uncertainty, degrees, analysed


def _contributions(
    series: Sequence[Series], hung: HungWith, largest_nm: float, slope: float, statistical: float, degrees: float
) -> tuple[Contribution, ...]:
    """What makes the slope uncertain, each in percent of it."""
    lever_mm = float(np.mean([item.lever_mm for item in series]))
    angle_deg = float(np.mean([item.angle_deg for item in series]))
    angle_half = ANGLE_DEG if hung.angle_deg is None else hung.angle_deg
    rows = (
        ("mass", "masses", "%", hung.mass_pct, MASS_PCT, 1.0),
        ("lever", "lever", "mm", hung.lever_mm, LEVER_MM, 100 / lever_mm),
        ("angle", "angle", "°", hung.angle_deg, ANGLE_DEG, _angle_sensitivity(angle_deg, angle_half)),
        ("resolution", "last digit", "N·m", hung.resolution_nm, RESOLUTION_NM, 50 / (max(slope, 1e-9) * largest_nm)),
    )
    stated = [
        Contribution(
            name=name,
            title=title,
            unit=unit,
            standard_uncertainty=(default if half is None else half) / math.sqrt(3),
            sensitivity=sensitivity,
            distribution=Distribution.RECTANGULAR,
            origin=Origin.ASSUMED if half is None else Origin.CLAIMED,
            source="default: not stated on the worksheet" if half is None else "worksheet",
            common=name != "resolution",
            is_default=half is None,
        )
        for name, title, unit, half, default, sensitivity in rows
    ]
    readings = Contribution(
        name="readings",
        title="scatter of the readings",
        unit="%",
        standard_uncertainty=100 * statistical / max(slope, 1e-9),
        sensitivity=1.0,
        distribution=Distribution.NORMAL,
        origin=Origin.MEASURED,
        source="slopes of the series" if len(series) > 1 else "scatter around the line",
        degrees=degrees,
    )
    gravity = Contribution(
        name="gravity",
        title="gravity",
        unit="m/s²",
        standard_uncertainty=hung.gravity_m_s2_half_width / math.sqrt(3),
        sensitivity=100 / hung.gravity_m_s2,
        distribution=Distribution.RECTANGULAR,
        origin=Origin.CLAIMED if hung.gravity_origin == "given" else Origin.ASSUMED,
        source=hung.gravity_origin,
        common=True,
        is_default=hung.gravity_origin.startswith("not stated"),
    )
    return (readings, *stated, gravity)


def _angle_sensitivity(angle_deg: float, half_width_deg: float) -> float:
    """Percent of torque for each degree of standard uncertainty of the angle.

    Near horizontal the first derivative is nothing and yet an angle that is off can only make the torque smaller: the
    root mean square of the change over the whole half-width is taken (JCGM 100:2008, 5.1.2, note, by the exact
    function).
    """
    if half_width_deg <= 0:
        return 0.0
    within = np.radians(angle_deg + half_width_deg * np.linspace(-1, 1, 201))
    change = np.cos(within) / math.cos(math.radians(angle_deg)) - 1
    return float(100 * np.sqrt(np.mean(change**2)) / (half_width_deg / math.sqrt(3)))


def _mean_estimate(values: Sequence[float], fitted: _Fitted, spread_factor: float, level: float) -> Estimate:
    """Mean of readings of the zero, with Student's t; of a single one by the scatter around the line."""
    known = np.array([value for value in values if not math.isnan(value)])
    if known.size == 0:
        return Estimate.missing("zero_not_read", "N·m", level)
    mean = float(known.mean())
    if known.size == 1:
        half = student_quantile(level, fitted.degrees) * spread_factor * fitted.residual_sd
    else:
        half = student_quantile(level, known.size - 1) * float(known.std(ddof=1)) / math.sqrt(known.size)
    return Estimate(value=mean, low=mean - half, high=mean + half, unit="N·m", level=level)


def _groups_by_load(fitted: _Fitted) -> list[tuple[float, FloatArray]]:
    rounded = np.round(fitted.torque_nm, 6)
    return [(float(load), fitted.departure_nm[rounded == load]) for load in np.unique(rounded)]


def _load_means(fitted: _Fitted) -> tuple[LoadMean, ...]:
    return tuple(
        LoadMean(torque_nm=load, readings=int(values.size), departure_nm=float(values.mean()))
        for load, values in _groups_by_load(fitted)
    )


def _linearity(fitted: _Fitted, largest_nm: float, level: float) -> Estimate:
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
    half = 100 * student_quantile(strict, analysed.within_degrees) * scatter / largest_nm
    return Estimate(value=worst, low=worst - half, high=worst + half, unit="%", level=level)


def _hysteresis(series: Sequence[Series], largest_nm: float, level: float) -> Estimate:
    """Mean reading while unloading less that while loading, at the same loads, percent of the largest torque."""
    differences = []
    for item in series:
        for load in np.unique(np.round(item.torque_nm, 6)):
            at = np.round(item.torque_nm, 6) == load
            up, down = at & (item.going_up > 0), at & (item.going_up < 0)
            if up.any() and down.any():
                differences.append(float(item.corrected_nm[down].mean() - item.corrected_nm[up].mean()))
    if len(differences) < 2:
        return Estimate.missing("not_loaded_and_unloaded", "%", level)
    found = 100 * np.array(differences) / largest_nm
    mean = float(found.mean())
    half = student_quantile(level, found.size - 1) * float(found.std(ddof=1)) / math.sqrt(found.size)
    return Estimate(value=mean, low=mean - half, high=mean + half, unit="%", level=level)


def _repeatability(series: Sequence[Series], level: float) -> Estimate:
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


def _position_spread(analysed: OneWay | None, level: float) -> Estimate:
    """Standard deviation of the slope between positions beyond what repeats explain, percent.

    The component of variance; its interval moves the mean square between positions over its chi-squared interval and
    keeps the one within.
    """
    if analysed is None or analysed.between_degrees < 1:
        return Estimate.missing("one_position", "%", level)
    if analysed.within_degrees < 1:
        return Estimate.missing("no_repeats", "%", level)
    per_group = analysed.values / analysed.groups
    low, high = chi_square_quantiles(level, analysed.between_degrees)

    def spread(between_square: float) -> float:
        return 100 * math.sqrt(max(between_square - analysed.within_square, 0.0) / per_group)

    ends = [spread(analysed.between_square * analysed.between_degrees / end) for end in (high, low)]
    return Estimate(value=spread(analysed.between_square), low=ends[0], high=ends[1], unit="%", level=level)
