"""Weights hung from a crank: what was hung and read, and what that says of the meter.

Plain data on both sides, so that a worksheet may come from a table, a form or a program.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from wattwitness.model.budget import Budget
from wattwitness.model.estimate import Estimate
from wattwitness.model.recording import Notice


class Side(StrEnum):
    """The crank that the weights hung from; ``both`` for a meter that reads the two together (a spider, a hub)."""

    LEFT = "left"
    RIGHT = "right"
    BOTH = "both"


class LoadStep(StrEnum):
    """Where in the series a reading was taken: unloaded before, weights being added, taken off, unloaded after."""

    ZERO_BEFORE = "zero_before"
    UP = "up"
    DOWN = "down"
    ZERO_AFTER = "zero_after"


@dataclass(frozen=True, slots=True, kw_only=True)
class HungReading:
    """One reading. ``mass_kg`` hangs at ``lever_mm`` from the crank's axis, the crank ``angle_deg`` from horizontal.

    ``position`` names how the weight hung (crank forward, crank back, second mounting); ``repeat`` counts the times
    that this was done. ``reading_nm`` is the torque that the meter showed, with its sign. ``line`` is where it stands
    on its worksheet, 0 where it is from none.
    """

    side: Side
    position: str
    repeat: int
    step: LoadStep
    mass_kg: float
    lever_mm: float
    angle_deg: float
    reading_nm: float
    line: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Worksheet:
    """Everything that was written down on one day; readings in the order they were taken.

    Uncertainties are half-widths: the true value is taken to be within them, anywhere alike. ``None`` is not stated,
    and a default is taken that says so. ``date`` is ISO 8601, or empty. Gravity is given, or follows from latitude and
    height, or is not known. ``sha256`` is that of the file it was read from, empty where it is from none.
    """

    meter: str
    readings: tuple[HungReading, ...]
    date: str = ""
    source: str = ""
    gravity_m_s2: float | None = None
    latitude_deg: float | None = None
    height_m: float | None = None
    mass_uncertainty_pct: float | None = None
    lever_uncertainty_mm: float | None = None
    angle_uncertainty_deg: float | None = None
    resolution_nm: float | None = None
    temperature_c: float | None = None
    sha256: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadMean:
    """The mean departure from the line of all readings at one load: ``torque_nm`` hung, ``departure_nm`` from it."""

    torque_nm: float
    readings: int
    departure_nm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class SideResult:
    """What the weights say of one side.

    ``gain_pct`` is the slope of reading over torque less one, in percent, with everything in its interval;
    ``statistical_pct`` and ``degrees`` are the standard uncertainty of it that the readings themselves show, and its
    degrees of freedom. ``correction_factor`` multiplies this side's power. ``zero_nm`` is what the unloaded meter
    showed before loading; ``zero_shift_nm`` how far it had moved after. ``linearity_pct`` is the largest departure of
    a load's mean from the line, and ``hysteresis_pct`` the mean of unloading less loading, both in percent of the
    largest torque. ``repeatability_nm`` is the standard deviation of a reading, its zero taken off, repeated at one
    position, load and direction;
    ``position_pct`` the standard deviation of the slope from position to position beyond what repeats explain.
    ``budget`` holds what makes up the gain's uncertainty.
    """

    side: Side
    series: int
    readings: int
    largest_nm: float
    slope: float
    gain_pct: Estimate
    statistical_pct: float
    degrees: float
    correction_factor: Estimate
    zero_nm: Estimate
    zero_shift_nm: Estimate
    linearity_pct: Estimate
    hysteresis_pct: Estimate
    repeatability_nm: Estimate
    position_pct: Estimate
    loads: tuple[LoadMean, ...]
    budget: Budget


@dataclass(frozen=True, slots=True, kw_only=True)
class Weighing:
    """The result of one worksheet.

    ``gain_pct`` and ``correction_factor`` are of the whole meter: the mean of both sides where each was weighed, of
    the one there is otherwise. ``side_difference_pct`` is left less right, ``budget`` what makes the
    whole's gain uncertain.
    """

    meter: str
    date: str
    source: str
    gravity_m_s2: float
    gravity_origin: str
    sides: tuple[SideResult, ...]
    gain_pct: Estimate
    correction_factor: Estimate
    side_difference_pct: Estimate
    budget: Budget
    notices: tuple[Notice, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ReferenceDrift:
    """What repeated weighings of one meter say of its own drift.

    ``change_pct`` is the gain of the last weighing less that of the first, and ``per_30_days_pct`` the slope of a line
    through all of them, in percentage points; what is common to all weighings (the same masses, lever, place) is
    not in their intervals. ``between_pct`` is the standard deviation of the gain between weighings.
    """

    meter: str
    weighings: int
    first_date: str
    last_date: str
    change_pct: Estimate
    per_30_days_pct: Estimate
    between_pct: Estimate


@dataclass(frozen=True, slots=True, kw_only=True)
class WeighingReport:
    """One or more weighings, in order of date, and the drift of each meter that was weighed more than once."""

    weighings: tuple[Weighing, ...]
    drifts: tuple[ReferenceDrift, ...]
    level: float
    version: str
