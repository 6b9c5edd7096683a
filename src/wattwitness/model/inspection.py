"""What a file holds and what is wrong with it, without its samples."""

from __future__ import annotations

from dataclasses import dataclass

from wattwitness.model.recording import ChannelName, MeterRecord, Notice, Source


@dataclass(frozen=True, slots=True, kw_only=True)
class ChannelInspection:
    """One channel: how many samples it has, and the least, mean and greatest of them, in the unit its name says."""

    name: ChannelName
    samples: int
    minimum: float
    mean: float
    maximum: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """A gap or a pause: ``at_s`` seconds after the first sample, ``length_s`` seconds long."""

    at_s: float
    length_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordingInspection:
    """One recording in a file.

    ``first_sample_utc`` is ISO 8601, empty where the file has no date. ``step_s`` is the median spacing of samples (NaN
    with fewer than two); where ``event_driven``, the recorder wrote only when something changed. ``gaps`` are
    stretches without samples that no pause explains; readings noted at single moments (``spot``) have none. ``meter``
    has its serial number only where it was asked for.
    """

    source: Source
    meter: MeterRecord
    first_sample_utc: str
    duration_s: float
    samples: int
    step_s: float
    event_driven: bool
    channels: tuple[ChannelInspection, ...]
    gaps: tuple[Stretch, ...]
    pauses: tuple[Stretch, ...]
    notices: tuple[Notice, ...]
    spot: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Inspection:
    """A file and every recording in it, or the one part that was asked for."""

    file_name: str
    size_bytes: int
    sha256: str
    format_name: str
    format_title: str
    recordings: tuple[RecordingInspection, ...]
