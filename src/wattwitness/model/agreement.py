"""How far the unit is from the reference: results of the agreement room. Times are seconds after the reference's
first sample; power is in W, bias in percent of the reference's power through the unit's response.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from wattwitness.model.arrays import FloatArray, frozen_floats
from wattwitness.model.estimate import Estimate


@dataclass(frozen=True, slots=True, kw_only=True)
class OverallBias:
    """The bias of the whole ride, by three intervals around one value.

    ``bias_pct`` respects slow wander (cosines); ``bootstrap_pct`` is the stationary bootstrap's; ``naive_pct`` takes
    seconds as independent, is too narrow, and is shown to say so. ``bias_with_reference_pct`` adds the reference's own
    standard uncertainty ``reference_uncertainty_pct``, whose origin is said in ``reference_uncertainty_origin``.
    ``wander_time_s`` is the integral correlation time of the error (NaN where it could not be estimated) and
    ``wander_pct`` its standard deviation over 30 s means; ``short_for_wander`` says that the ride holds too few
    independent stretches for the interval to keep its word.
    """

    bias_pct: Estimate
    bootstrap_pct: Estimate
    naive_pct: Estimate
    bias_with_reference_pct: Estimate
    reference_uncertainty_pct: float
    reference_uncertainty_origin: str
    wander_time_s: float
    wander_pct: float
    short_for_wander: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class PeriodBias:
    """Bias from ``start_s`` to ``end_s`` with the seconds both were present and both mean powers (NaN if none)."""

    start_s: float
    end_s: float
    seconds: int
    reference_w: float
    unit_w: float
    bias_pct: Estimate


@dataclass(frozen=True, slots=True, kw_only=True)
class PowerBand:
    """Bias while the 30 s mean power was from ``low_w`` to below ``high_w``."""

    low_w: float
    high_w: float
    seconds: int
    reference_w: float
    unit_w: float
    bias_pct: Estimate


@dataclass(frozen=True, slots=True, kw_only=True)
class CadenceBand:
    """Bias while the 30 s mean cadence was from ``low_rpm`` to below ``high_rpm``."""

    low_rpm: float
    high_rpm: float
    seconds: int
    reference_w: float
    unit_w: float
    bias_pct: Estimate


class EffortKind(StrEnum):
    """Whether the effort held or changed around a second."""

    STEADY = "steady"
    SURGING = "surging"


@dataclass(frozen=True, slots=True, kw_only=True)
class EffortBias:
    """Bias while the effort was ``kind``."""

    kind: EffortKind
    seconds: int
    reference_w: float
    unit_w: float
    bias_pct: Estimate


@dataclass(frozen=True, slots=True, kw_only=True)
class BandTrend:
    """What the bias does with power, cadence and time when the three are fitted together.

    Each slope is a change of bias in percentage points: per 100 W, per 10 rpm, per hour; not assessed where the ride
    does not vary it. ``alone`` holds the slopes fitted one at a time. ``mixed`` says that a trend seen in a table of
    bands could come from the rider's mix of efforts, and ``why`` says so in a sentence.
    """

    per_100_w: Estimate
    per_10_rpm: Estimate
    per_hour: Estimate
    alone_per_100_w: Estimate
    alone_per_10_rpm: Estimate
    alone_per_hour: Estimate
    mixed: bool
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PowerLine:
    """The line through the unit's power over the reference's, both with error: unit = zero_w + (1 + gain) * reference.

    ``gain_pct`` is the slope less one in percent; ``low_w`` to ``high_w`` is the range of 30 s means it was fitted on
    (NaN where it was not) and should not be carried beyond.
    """

    gain_pct: Estimate
    zero_w: Estimate
    low_w: float
    high_w: float


@dataclass(frozen=True, slots=True, kw_only=True)
class AgreementLimits:
    """Limits within which 95 % of the differences fall, on windows of ``window_s`` that do not overlap.

    ``mean_w``/``mean_pct`` is the mean difference; the limits carry intervals of their own. Percent is of the ride's
    mean reference power.
    """

    window_s: int
    windows: int
    mean_w: Estimate
    low_w: Estimate
    high_w: Estimate
    mean_pct: Estimate
    low_pct: Estimate
    high_pct: Estimate


@dataclass(frozen=True, slots=True, kw_only=True)
class BestMean:
    """Best mean power over ``duration_s``: each meter's own best, and the unit in the reference's best window.

    ``reference_w`` is the reference as measured; ``reference_through_response_w`` the same window seen through the
    unit's response. A power that a gap hides is ``None``. Starts are seconds after the reference's first sample.
    """

    duration_s: int
    reference_w: float | None
    unit_w: float | None
    same_window_unit_w: float | None
    reference_through_response_w: float | None
    reference_start_s: float | None
    unit_start_s: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class TotalWork:
    """Work over the common seconds, kJ."""

    reference_kj: float
    unit_kj: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PairSeries:
    """What the panels draw, one value a second, shape (n,), NaN where missing.

    ``reference_w`` as measured, ``expected_w`` the reference through the unit's response, ``unit_w`` as shown,
    ``difference_pct`` the 30 s mean difference in percent of the 30 s mean expected power. Resistance is on
    the bike's own scale.
    """

    time_s: FloatArray
    reference_w: FloatArray
    expected_w: FloatArray
    unit_w: FloatArray
    difference_pct: FloatArray
    reference_rpm: FloatArray
    unit_rpm: FloatArray
    reference_bpm: FloatArray
    unit_bpm: FloatArray
    reference_resistance: FloatArray
    unit_resistance: FloatArray

    def __post_init__(self) -> None:
        """Copy and freeze the arrays."""
        for name in self.__slots__:
            object.__setattr__(self, name, frozen_floats(getattr(self, name)))
