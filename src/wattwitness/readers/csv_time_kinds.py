"""What a time column can count, what is known of it before its cells are read, and what comes out."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum

from wattwitness.model.arrays import FloatArray
from wattwitness.model.recording import Notice
from wattwitness.readers.csv_stamps import DAY_S


class TimeKind(StrEnum):
    """What a time column counts; the values are what a saved mapping says."""

    DATE_TIME = "date_time"
    CLOCK = "clock"
    ELAPSED = "elapsed"
    ELAPSED_H_MM = "elapsed_h_mm"
    SECONDS = "seconds"
    MILLISECONDS = "milliseconds"
    MICROSECONDS = "microseconds"
    MINUTES = "minutes"
    HOURS = "hours"
    DAYS = "days"
    EPOCH_S = "epoch_s"
    EPOCH_MS = "epoch_ms"
    EPOCH_US = "epoch_us"
    EPOCH_NS = "epoch_ns"
    SERIAL_DAYS = "serial_days"
    ROW_NUMBER = "row_number"


class DateOrder(StrEnum):
    """Which of two numbers is the day."""

    DAY_FIRST = "day_first"
    MONTH_FIRST = "month_first"


UNIT_S: dict[TimeKind, float] = {
    TimeKind.SECONDS: 1.0,
    TimeKind.MILLISECONDS: 1e-3,
    TimeKind.MICROSECONDS: 1e-6,
    TimeKind.MINUTES: 60.0,
    TimeKind.HOURS: 3600.0,
    TimeKind.DAYS: DAY_S,
    TimeKind.EPOCH_S: 1.0,
    TimeKind.EPOCH_MS: 1e-3,
    TimeKind.EPOCH_US: 1e-6,
    TimeKind.EPOCH_NS: 1e-9,
}
"""Seconds in one unit of each kind that is a plain number."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TimeAsked:
    """What is known of the time before its cells are read: from the heading, or from a saved mapping.

    ``kind`` given by a mapping is final; ``hint`` comes from the heading and is checked against the cells.
    ``utc_offset_s`` is what local times are ahead of UTC; ``step_s`` the spacing for ``row_number``.
    """

    kind: TimeKind | None = None
    hint: TimeKind | None = None
    date_order: DateOrder | None = None
    utc_offset_s: float | None = None
    step_s: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class TimeAxis:
    """Seconds of each row, shape (n,), NaN where the row has no time; since 1970-01-01 UTC where ``dated``."""

    time_s: FloatArray
    dated: bool
    kind: TimeKind
    notices: tuple[Notice, ...] = ()


@dataclass(slots=True)
class TimeUnclear(Exception):
    """The time column can be read in more than one way, or in none: what is wrong, and the kinds to choose from."""

    what: str
    kinds: tuple[TimeKind, ...] = field(default=())
