"""Why two meters differ: results of the error anatomy. Torque is the mean torque of a second at the crank, N·m."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

from wattwitness.model.arrays import FloatArray, frozen_floats
from wattwitness.model.estimate import Estimate


class MeterSide(StrEnum):
    """Which meter a story is about."""

    UNIT = "unit"
    REFERENCE = "reference"
    EITHER = "either"


class StoryStatus(StrEnum):
    """Whether the ride's data allow a story."""

    ALLOWED = "allowed"
    EXCLUDED = "excluded"


@dataclass(frozen=True, slots=True, kw_only=True)
class Story:
    """One account of why the meters differ.

    ``misfit`` is the probability of a disagreement at least this large if the story alone were true (``None`` where it
    is not judged by a number, or allowed only beside another, as its ``why`` says); ``detail`` names the particular
    form (``set to 175 mm, on record 172.5 mm``).
    ``told_apart_by`` names the ride or check that would separate it from the other allowed stories, empty where none is
    needed.
    """

    name: str
    which_meter: MeterSide
    status: StoryStatus
    why: str
    misfit: float | None = None
    detail: str = ""
    told_apart_by: str = ""

    @property
    def allowed(self) -> bool:
        """Whether the data allow it."""
        return self.status is StoryStatus.ALLOWED


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Anatomy:
    """The unit's torque against the reference's, the response taken out first: unit = zero + (1 + gain) · reference.

    Where the bias changes along the ride that change is fitted with them and ``zero_nm`` and ``gain_pct`` are those of
    the end of the ride (of the settled unit, if it settles). ``zero_gain_correlation`` is that of the two estimates
    (NaN where not assessed): near -1 the ride cannot tell one from the other. ``per_10_rpm_pct`` is the change of bias
    with cadence at equal torque, ``per_100_w_pct`` that with power at equal cadence, ``up_minus_down_pct`` the bias
    after the power rose less that after it fell, at equal torque; all in percentage points. ``left_share_pct`` is the
    mean recorded left share, ``per_left_point_pct`` the change of bias for each percentage point of it.
    ``median_zero_nm`` and ``median_gain_pct`` are those of a line that a few stray stretches do not move (NaN where not
    assessed), a second look beside the first. ``torque_nm`` (n, 2) holds the mean torques, reference and unit, of parts
    of the ride sorted by torque.
    """

    zero_nm: Estimate
    gain_pct: Estimate
    zero_gain_correlation: float
    per_10_rpm_pct: Estimate
    per_100_w_pct: Estimate
    up_minus_down_pct: Estimate
    left_share_pct: Estimate
    per_left_point_pct: Estimate
    torque_nm: FloatArray
    median_zero_nm: float = float("nan")
    median_gain_pct: float = float("nan")

    @property
    def strays(self) -> bool:
        """Whether the line that stray stretches do not move lies more than an interval's width off the fitted one."""
        pairs = ((self.zero_nm, self.median_zero_nm), (self.gain_pct, self.median_gain_pct))
        return any(
            estimate.value is not None
            and estimate.low is not None
            and estimate.high is not None
            and not math.isnan(median)
            and not (2 * estimate.low - estimate.value <= median <= 2 * estimate.high - estimate.value)
            for estimate, median in pairs
        )

    def __post_init__(self) -> None:
        """Copy and freeze the array."""
        object.__setattr__(self, "torque_nm", frozen_floats(self.torque_nm))


@dataclass(frozen=True, slots=True, kw_only=True)
class GainZeroLine:
    """The fitted relation of one ride, for use at another power and cadence: bias = gain + zero / torque.

    ``gain_pct`` and ``zero_nm`` with the (co)variances of their errors, in the units of both; where the ride tells gain
    and zero badly apart the covariance says so. Where the bias changes along the ride they are those of its end.
    ``cadence_known``: else a usual cadence stood for it. ``degrees`` of freedom of the covariance.
    """

    gain_pct: float
    zero_nm: float
    gain_variance: float
    covariance: float
    zero_variance: float
    degrees: float
    cadence_known: bool
