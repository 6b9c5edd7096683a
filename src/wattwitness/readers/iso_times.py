"""Time stamps written as ISO 8601 text."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime

import numpy as np

from wattwitness.model.arrays import FloatArray
from wattwitness.model.recording import Notice, Severity
from wattwitness.readers.words import count_of


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class IsoTimes:
    """Seconds since 1970 UTC, shape (n,), NaN where a text is no time; how many were without a time zone."""

    time_s: FloatArray
    unreadable: int
    without_zone: int


def parse_iso_times(texts: Sequence[str]) -> IsoTimes:
    """Parse ISO 8601 dates with times: fractions of a second, ``Z`` or an offset; without one, UTC is taken.

    An empty text is a missing time, not an unreadable one.
    """
    time_s = np.full(len(texts), np.nan)
    unreadable = without_zone = 0
    for index, text in enumerate(texts):
        if not text:
            continue
        try:
            moment = datetime.fromisoformat(text)
            if moment.tzinfo is None:
                without_zone += 1
                moment = moment.replace(tzinfo=UTC)
            time_s[index] = moment.timestamp()
        except (ValueError, OverflowError):
            unreadable += 1
    return IsoTimes(time_s=time_s, unreadable=unreadable, without_zone=without_zone)


def time_notices(times: IsoTimes) -> tuple[Notice, ...]:
    """What a tester should know of the texts."""
    notices = []
    if times.unreadable:
        message = f"{count_of(times.unreadable, 'time stamp')} could not be read; those samples were left out."
        notices.append(Notice(slug="time_unreadable", message=message, samples=times.unreadable))
    if times.without_zone:
        message = "The time stamps name no time zone; they were taken as UTC."
        notices.append(
            Notice(slug="time_zone_missing", message=message, severity=Severity.NOTE, samples=times.without_zone)
        )
    return tuple(notices)
