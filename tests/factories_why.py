"""Made-up anatomies, stories and courses of the bias, for tests of what is shown. Nothing here is measured."""

from __future__ import annotations

import numpy as np

from wattwitness.model.anatomy import Anatomy, MeterSide, Story, StoryStatus
from wattwitness.model.estimate import Estimate
from wattwitness.model.settling import Settling, TimeModel

POINTS = "percentage points"


def around(value: float, half_width: float, unit: str) -> Estimate:
    """An estimate with a symmetrical interval in ``unit``."""
    return Estimate(value=value, low=value - half_width, high=value + half_width, unit=unit)


def anatomy(gain_pct: float = -4.3) -> Anatomy:
    """A gain and no zero; no side recorded."""
    torque = np.linspace(11.0, 33.0, 8)
    return Anatomy(
        zero_nm=around(0.02, 0.06, "N·m"),
        gain_pct=around(gain_pct, 0.4, "%"),
        zero_gain_correlation=-0.91,
        per_10_rpm_pct=around(0.1, 0.2, POINTS),
        per_100_w_pct=around(-0.2, 0.3, POINTS),
        up_minus_down_pct=Estimate.missing("no_steps", POINTS),
        left_share_pct=Estimate.missing("no_left_share", "%"),
        per_left_point_pct=Estimate.missing("no_left_share", POINTS),
        torque_nm=np.column_stack([torque, 0.02 + (1 + gain_pct / 100) * torque]),
    )


def stories() -> tuple[Story, ...]:
    """Two that the ride cannot tell apart, and one excluded."""
    apart = "Look the length up in the meter's setting and on the crank."
    return (
        Story(
            name="crank_length",
            which_meter=MeterSide.UNIT,
            status=StoryStatus.ALLOWED,
            why="A length of 165 mm set in the unit where 172.5 mm is true would make \u22124.35 %.",
            misfit=0.87,
            detail="set to 165 mm where 172.5 mm is true",
            told_apart_by=apart,
        ),
        Story(
            name="scale_error",
            which_meter=MeterSide.EITHER,
            status=StoryStatus.ALLOWED,
            why="The unit is off by the same share, \u22124.3 %, at any torque.",
            misfit=0.52,
            detail="\u22124.3 %",
            told_apart_by=apart,
        ),
        Story(
            name="zero_not_taken",
            which_meter=MeterSide.EITHER,
            status=StoryStatus.EXCLUDED,
            why="The ride shows no zero beyond chance.",
            misfit=0.0001,
        ),
        Story(
            name="smoothing",
            which_meter=MeterSide.UNIT,
            status=StoryStatus.EXCLUDED,
            why="Neither meter averages more than the other beyond a second.",
        ),
    )


def settling(model: TimeModel | None = TimeModel.SETTLING, *, seconds: int = 3600, bias_pct: float = -4.3) -> Settling:
    """A bias that dies away over ten minutes; for another model the same numbers under its name."""
    at = np.arange(10.0, seconds, 20.0)
    curve = bias_pct - 3.0 * np.exp(-at / 600) * (model is TimeModel.SETTLING)
    fitted = np.full(at.size, np.nan) if model in (None, TimeModel.CONFOUNDED) else curve
    found = model is TimeModel.SETTLING
    none = Estimate.missing("confounded" if model is TimeModel.CONFOUNDED else "no_settling", "min")
    return Settling(
        model=model,
        why="The bias settles: from \u22127.3 % at the start to \u22124.3 %." if found else "The bias stays the same.",
        tau_min=around(10.0, 1.5, "min") if found else none,
        settled_at_min=around(30.0, 4.5, "min") if found else none,
        start_bias_pct=around(bias_pct - 3.0 * found, 0.6, "%"),
        settled_bias_pct=around(bias_pct, 0.3, "%"),
        end_bias_pct=around(bias_pct, 0.3, "%"),
        halves_change_pct=around(1.4, 0.4, POINTS),
        halves_sentence="At equal power the second half reads +1.4 percentage points against the first.",
        per_10_c_pct=Estimate.missing("no_temperature", POINTS),
        temperature_sentence="",
        probabilities=((TimeModel.CONSTANT, 0.01), (TimeModel.SETTLING, 0.99)),
        at_s=at,
        bias_pct=curve + 0.4 * np.sin(at / 47),
        fitted_pct=fitted,
    )
