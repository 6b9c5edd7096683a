"""What a recording holds, in a few numbers, for the head of a report."""

from __future__ import annotations

from datetime import UTC, datetime

import numpy as np

from wattwitness.clock.one_number import one_power_w
from wattwitness.model.comparison import RecordingSummary
from wattwitness.model.recording import ChannelName, Recording


def display_label(recording: Recording) -> str:
    """The tester's own name for the meter, else the file's name, with what tells its parts apart."""
    if recording.label:
        return recording.label
    part = f" ({recording.source.part_label})" if recording.source.part_label else ""
    return recording.source.file_name + part


def summarise(recording: Recording) -> RecordingSummary:
    """Summarise a recording; ``first_sample_utc`` is empty where the file has no date."""
    counts = tuple(
        (name, int(np.isfinite(recording.channels[name]).sum())) for name in ChannelName if recording.has(name)
    )
    return RecordingSummary(
        label=display_label(recording),
        source=recording.source,
        meter=recording.meter,
        first_sample_utc=_iso(recording),
        duration_s=recording.duration_s,
        samples=int(recording.time_s.size),
        step_s=recording.step_s,
        event_driven=recording.event_driven,
        channels=counts,
        notices=recording.notices,
        spot=recording.spot,
        one_power_w=one_power_w(recording),
    )


def _iso(recording: Recording) -> str:
    if not recording.dated or recording.time_s.size == 0:
        return ""
    return datetime.fromtimestamp(float(recording.time_s[0]), tz=UTC).isoformat(timespec="milliseconds")
