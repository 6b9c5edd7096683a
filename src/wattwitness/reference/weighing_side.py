"""One side of a meter under hanging weights: the line through its readings, and what makes that uncertain."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from wattwitness.model.budget import Contribution, Distribution, Origin
from wattwitness.model.estimate import Estimate
from wattwitness.model.hanging_weights import Side, SideResult
from wattwitness.reference.combining import budget_of
from wattwitness.reference.weighing_series import Series
from wattwitness.reference.weighing_shape import (
    SideLines,
    hysteresis,
    linearity,
    lines_of,
    load_means,
    position_spread,
    repeatability,
    zero_estimate,
)
from wattwitness.stats.variance_components import OneWay, one_way

MASS_PCT = 2.0
LEVER_MM = 0.5
ANGLE_DEG = 2.0
RESOLUTION_NM = 0.1
LEAST_SLOPE = 1e-3
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

    @property
    def rounding_nm(self) -> float:
        """Half of the display's last digit."""
        return (RESOLUTION_NM if self.resolution_nm is None else self.resolution_nm) / 2


def side_result(side: Side, series: Sequence[Series], hung: HungWith, *, level: float) -> SideResult:
    """Slope, zero, linearity, hysteresis and repeatability of one side; ``series`` holds at least one."""
    rounding_nm = hung.rounding_nm
    fitted = lines_of(series, rounding_nm)
    slope = float(fitted.slopes.mean())
    largest = max(float(np.max(np.abs(item.torque_nm))) for item in series)
    statistical, degrees, by_position = _slope_scatter(series, fitted)
    loads = load_means(fitted)
    departure = max(abs(load.departure_nm) for load in loads) / largest
    contributions = _contributions(series, hung, abs(slope), (statistical, degrees), departure)
    budget = budget_of(contributions, level=level)
    gain, half = 100 * (slope - 1), max(abs(slope), LEAST_SLOPE) * budget.expanded_pct
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
        zero_nm=zero_estimate([item.zero_nm for item in series], fitted, 1.0, level),
        zero_shift_nm=zero_estimate([item.zero_shift_nm for item in series], fitted, math.sqrt(2), level),
        linearity_pct=linearity(fitted, largest, level),
        hysteresis_pct=hysteresis(series, largest, rounding_nm, level),
        repeatability_nm=repeatability(series, level),
        position_pct=position_spread(by_position, level),
        loads=loads,
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


def _slope_scatter(series: Sequence[Series], fitted: SideLines) -> tuple[float, float, OneWay | None]:
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
    series: Sequence[Series], hung: HungWith, slope: float, scatter: tuple[float, float], departure: float
) -> tuple[Contribution, ...]:
    """What makes the slope uncertain, each in percent of it.

    ``scatter`` is its standard uncertainty that the readings show, with degrees of freedom; ``departure`` the largest
    departure from the line, over the largest torque.
    """
    statistical, degrees = scatter
    lever_mm = float(np.mean([item.lever_mm for item in series]))
    angle_deg = float(np.mean([item.angle_deg for item in series]))
    angle_half = ANGLE_DEG if hung.angle_deg is None else hung.angle_deg
    resolution_nm = None if hung.resolution_nm is None else hung.rounding_nm
    slope = max(slope, LEAST_SLOPE)
    rows = (
        ("mass", "masses", "%", hung.mass_pct, MASS_PCT, 1.0),
        ("lever", "lever", "mm", hung.lever_mm, LEVER_MM, 100 / lever_mm),
        ("angle", "angle", "°", hung.angle_deg, ANGLE_DEG, _angle_sensitivity(angle_deg, angle_half)),
        ("resolution", "last digit", "N·m", resolution_nm, RESOLUTION_NM / 2, 100 / (slope * _leverage_nm(series))),
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
        standard_uncertainty=100 * statistical / slope,
        sensitivity=1.0,
        distribution=Distribution.NORMAL,
        origin=Origin.MEASURED,
        source="slopes of the series" if len(series) > 1 else "scatter around the line",
        degrees=degrees,
    )
    linearity = Contribution(
        name="linearity",
        title="departure from a line",
        unit="%",
        standard_uncertainty=100 * departure / slope / math.sqrt(3),
        sensitivity=1.0,
        distribution=Distribution.RECTANGULAR,
        origin=Origin.MEASURED,
        source="largest of the loads’ means",
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
    return (readings, linearity, _zero_path(series, slope), *stated, gravity)


def _zero_path(series: Sequence[Series], slope: float) -> Contribution:
    """The zero was followed along a straight line, and may have moved at one moment: what that does to the slope.

    What a shift does that is not the same in every series is in the scatter of their slopes; of three series or more
    the mean counts, of fewer every one.
    """
    effects = [item.zero_path_effect for item in series if not math.isnan(item.zero_path_effect)]
    half = 0.0
    if effects:
        share = len(effects) / len(series)
        half = share * (abs(float(np.mean(effects))) if len(effects) > 2 else float(np.mean(np.abs(effects))))
    return Contribution(
        name="zero_path",
        title="when the zero moved",
        unit="%",
        standard_uncertainty=100 * half / slope / math.sqrt(3),
        sensitivity=1.0,
        distribution=Distribution.RECTANGULAR,
        origin=Origin.MEASURED,
        source="zero before and after; any moment between",
    )


def _leverage_nm(series: Sequence[Series]) -> float:
    """Root of the sum of squared distances of the different loads from their mean, N·m.

    A display that rounds errs the same each time the same load hangs, so that repeats do not help against it.
    """
    loads = np.unique(np.round(np.concatenate([item.torque_nm for item in series]), 3))
    return float(np.sqrt(np.sum((loads - loads.mean()) ** 2)))


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
