"""Known weights on a crank: torque m·g·L·cos(angle) against what the meter shows."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from wattwitness.model.budget import Budget
from wattwitness.model.estimate import Estimate
from wattwitness.model.hanging_weights import HungReading, Side, SideResult, Weighing, Worksheet
from wattwitness.model.recording import Notice, Severity
from wattwitness.reference.combining import budget_of
from wattwitness.reference.gravity import (
    NORMAL_UNCERTAINTY_M_S2,
    SOMEWHERE_M_S2,
    SOMEWHERE_UNCERTAINTY_M_S2,
    normal_gravity,
)
from wattwitness.reference.weighing_copies import distinct_rows
from wattwitness.reference.weighing_doubts import doubts, stray_words
from wattwitness.reference.weighing_series import series_of
from wattwitness.reference.weighing_shape import lines_of
from wattwitness.reference.weighing_side import (
    ANGLE_DEG,
    LEAST_SLOPE,
    LEVER_MM,
    MASS_PCT,
    RESOLUTION_NM,
    HungWith,
    correction,
    side_result,
)
from wattwitness.reference.weighing_strays import strays_of
from wattwitness.stats.quantiles import student_quantile

LEAST_SIDES_DIFFERENCE_PCT = 0.5


def weigh(worksheet: Worksheet, *, level: float = 0.95) -> Weighing:
    """Evaluate one worksheet: slope, zero, linearity, hysteresis, repeatability of each side, with uncertainty.

    The slope of reading over torque is that of straight lines, one for each series (side, position, repeat), after
    the zero has been followed from before to after. Raises ValueError where a side has no series with three loads.
    """
    gravity, gravity_half, gravity_origin = _gravity(worksheet)
    hung = HungWith(
        gravity_m_s2=gravity,
        gravity_m_s2_half_width=gravity_half,
        gravity_origin=gravity_origin,
        mass_pct=worksheet.mass_uncertainty_pct,
        lever_mm=worksheet.lever_uncertainty_mm,
        angle_deg=worksheet.angle_uncertainty_deg,
        resolution_nm=worksheet.resolution_nm,
    )
    worksheet, copied = distinct_rows(worksheet)
    sides = tuple(
        side_result(side, series_of(worksheet.readings, side, gravity), hung, level=level)
        for side in Side
        if any(reading.side is side for reading in worksheet.readings)
    )
    gain, difference, budget = _whole(sides, level)
    doubtful = tuple(notice for result in sides for notice in _doubtful(result, worksheet, gravity, hung.rounding_nm))
    return Weighing(
        meter=worksheet.meter,
        date=worksheet.date,
        source=worksheet.source,
        gravity_m_s2=gravity,
        gravity_origin=gravity_origin,
        sides=sides,
        gain_pct=gain,
        correction_factor=correction(gain),
        side_difference_pct=difference,
        budget=budget,
        notices=(*doubtful, *copied, *_notices(worksheet, sides, difference)),
    )


def _gravity(worksheet: Worksheet) -> tuple[float, float, str]:
    """Gravity, the half-width of what it may be off, and where it is from."""
    if worksheet.gravity_m_s2 is not None:
        return worksheet.gravity_m_s2, 0.0, "given"
    if worksheet.latitude_deg is not None:
        height_m = worksheet.height_m or 0.0
        place = f"latitude {worksheet.latitude_deg:g}°, {height_m:g} m above the sea"
        return normal_gravity(worksheet.latitude_deg, height_m), NORMAL_UNCERTAINTY_M_S2, f"from {place} (GRS 80)"
    return SOMEWHERE_M_S2, SOMEWHERE_UNCERTAINTY_M_S2, "not stated: somewhere on Earth, at sea level"


def _whole(sides: Sequence[SideResult], level: float) -> tuple[Estimate, Estimate, Budget]:
    """Gain of the whole meter, left less right, and the budget of the gain.

    The mean of both sides where each was weighed: what masses, lever, angle, gravity, rounding and shape are off may be
    in both alike; what the readings scatter is not.
    """
    by_side = {result.side: result for result in sides}
    if Side.LEFT not in by_side or Side.RIGHT not in by_side:
        only = by_side.get(Side.BOTH) or sides[0]
        return only.gain_pct, Estimate.missing("one_side_weighed", "%", level), only.budget
    left, right = by_side[Side.LEFT], by_side[Side.RIGHT]
    scatter = math.hypot(left.statistical_pct, right.statistical_pct)
    below = left.statistical_pct**4 / left.degrees + right.statistical_pct**4 / right.degrees
    degrees = scatter**4 / below if below > 0 else math.inf
    difference = 100 * (left.slope - right.slope)
    half = student_quantile(level, degrees) * scatter
    apart = Estimate(value=difference, low=difference - half, high=difference + half, unit="%", level=level)
    slope = (left.slope + right.slope) / 2
    budget = budget_of(
        (
            replace(one, standard_uncertainty=scatter / 2 / max(abs(slope), LEAST_SLOPE), degrees=degrees)
            if one.name == "readings"
            else replace(one, standard_uncertainty=(one.standard_uncertainty + two.standard_uncertainty) / 2)
            for one, two in zip(left.budget.contributions, right.budget.contributions, strict=True)
        ),
        level=level,
    )
    middle, reach = 100 * (slope - 1), max(abs(slope), LEAST_SLOPE) * budget.expanded_pct
    return Estimate(value=middle, low=middle - reach, high=middle + reach, unit="%", level=level), apart, budget


def _notices(worksheet: Worksheet, sides: Sequence[SideResult], difference: Estimate) -> tuple[Notice, ...]:
    about = worksheet.source or worksheet.meter
    found: list[Notice] = []
    for stated, slug, words in (
        (worksheet.mass_uncertainty_pct, "mass_uncertainty", f"of the masses: ±{MASS_PCT:g} %, as of plates as marked"),
        (worksheet.lever_uncertainty_mm, "lever_uncertainty", f"of the lever: ±{LEVER_MM:g} mm"),
        (worksheet.angle_uncertainty_deg, "angle_uncertainty", f"of the angle: ±{ANGLE_DEG:g}°"),
        (worksheet.resolution_nm, "resolution", f"of the reading’s last digit: {RESOLUTION_NM:g} N·m"),
    ):
        if stated is None:
            message = f"The worksheet does not state the uncertainty {words} was taken."
            found.append(Notice(slug=f"{slug}_assumed", message=message, severity=Severity.NOTE, about=about))
    if worksheet.gravity_m_s2 is None and worksheet.latitude_deg is None:
        message = "Neither gravity nor latitude is stated: gravity may be off by 0.27 %."
        found.append(Notice(slug="gravity_assumed", message=message, about=about))
    for result in sides:
        found += _side_notices(result, about)
    if difference.low is not None and difference.high is not None and not difference.low <= 0 <= difference.high:
        message = (
            f"Left and right differ by {abs(difference.value or 0):.1f} %: the meter’s gain then depends on how the "
            "rider shares the work between the legs."
        )
        severity = Severity.WARNING if abs(difference.value or 0) >= LEAST_SIDES_DIFFERENCE_PCT else Severity.NOTE
        found.append(Notice(slug="sides_differ", message=message, severity=severity, about=about))
    return tuple(found)


def _doubtful(result: SideResult, worksheet: Worksheet, gravity_m_s2: float, rounding_nm: float) -> list[Notice]:
    """What has to be checked before the slope of a side is believed."""
    about = worksheet.source or worksheet.meter
    readings = [item for item in worksheet.readings if item.side is result.side]
    found = [Notice(slug=slug, message=message, about=about) for slug, message in doubts(result, readings)]
    strays = strays_of(readings, result.side, gravity_m_s2, rounding_nm)
    if strays:
        without = _gain_without(result.side, readings, [stray.reading for stray in strays], gravity_m_s2, rounding_nm)
        message = stray_words(strays, 100 * (result.slope - 1), without)
        found.append(Notice(slug="readings_off_the_line", message=message, samples=len(strays), about=about))
    return [_of_side(result.side, item) for item in found]


def _gain_without(
    side: Side,
    readings: Sequence[HungReading],
    left_out: Sequence[HungReading],
    gravity_m_s2: float,
    rounding_nm: float,
) -> float | None:
    """Gain of a side without some of its readings, percent; ``None`` where too few are left for it."""
    kept = [item for item in readings if not any(item is one for one in left_out)]
    try:
        lines = lines_of(series_of(kept, side, gravity_m_s2), rounding_nm)
    except ValueError:
        return None
    return 100 * (float(lines.slopes.mean()) - 1)


def _of_side(side: Side, notice: Notice) -> Notice:
    words = {Side.LEFT: "Left side: ", Side.RIGHT: "Right side: ", Side.BOTH: ""}[side] + notice.message
    return replace(notice, message=words[0].upper() + words[1:])


def _side_notices(result: SideResult, about: str) -> list[Notice]:
    found: list[Notice] = []
    if result.series == 1:
        message = (
            "one series only: what changes from one hanging to the next, and from one position to another, is not "
            "in the interval. Repeat it in four positions."
        )
        found.append(Notice(slug="one_series_only", message=message, about=about))
    shift = result.zero_shift_nm
    if not shift.assessed:
        message = (
            "the unloaded meter was not read both before and after the weights: whether its zero moved meanwhile is "
            "not known, and is in no interval."
        )
        found.append(Notice(slug="zero_not_followed", message=message, about=about))
    if shift.value is not None and abs(shift.value) > 0.01 * result.largest_nm:
        message = (
            f"the zero moved by {shift.value:+.2f} N·m between before and after, over 1 % of the largest torque: "
            "let the meter come to the room’s temperature, seat it, and repeat. When it moved is not known; the "
            "interval allows for any moment."
        )
        found.append(Notice(slug="zero_moved", message=message, about=about))
    return [_of_side(result.side, item) for item in found]
