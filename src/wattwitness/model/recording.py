"""What one meter wrote in one file: channels of samples on that meter's own clock, and what was wrong with them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from types import MappingProxyType

import numpy as np

from wattwitness.model.arrays import FloatArray, frozen_floats


class ChannelName(StrEnum):
    """The quantities a recording can hold; the unit stands in the value."""

    POWER = "power_w"
    CADENCE = "cadence_rpm"
    HEART_RATE = "heart_rate_bpm"
    TORQUE = "torque_nm"
    RESISTANCE = "resistance"
    SPEED = "speed_mps"
    TEMPERATURE = "temperature_c"
    LEFT_SHARE = "left_share_pct"


class Severity(StrEnum):
    """How much a notice matters: ``note`` for the record, ``warning`` where a result may depend on it."""

    NOTE = "note"
    WARNING = "warning"


@dataclass(frozen=True, slots=True, kw_only=True)
class Notice:
    """Something a tester should know about a file or a result.

    ``message`` is one plain sentence: what was found and what was done. ``samples`` is how many samples it touched
    (``None`` where that has no meaning). ``about`` says what it is about (a file name, or a part of the result).
    """

    slug: str
    message: str
    severity: Severity = Severity.WARNING
    samples: int | None = None
    about: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Pause:
    """A stretch, on the recording's own clock, in which the recorder was stopped by hand or by itself."""

    start_s: float
    end_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """Where a recording came from: ``file_name`` without folders, SHA-256 of the bytes, format, and which part of it.

    ``part`` counts from 1 the recordings that the file gave; ``part_label`` says what tells them apart
    (for example "developer field power"), empty where the file gave one.
    """

    file_name: str
    sha256: str
    size_bytes: int
    format_name: str
    part: int = 1
    part_label: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class MeterRecord:
    """What the file itself says of the meter or recorder that wrote it; empty where it says nothing."""

    maker: str = ""
    product: str = ""
    firmware: str = ""
    serial: str = ""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Recording:
    """Samples of one meter on its own clock.

    ``time_s`` has shape (n,), strictly increasing: seconds since 1970-01-01 UTC where ``dated``, else seconds after
    the file's own zero. Each channel has shape (n,) in the unit its name says; NaN where there is no sample, 0 where
    the rider coasted. ``step_s`` is the median spacing of samples; ``event_driven`` says that the recorder wrote only
    when something changed, so that a longer spacing is no gap. ``label`` is the tester's own name for the meter.
    ``spot`` says that these are readings noted at single moments: between them nothing was seen, which is neither a gap
    nor to be interpolated.
    Raises ValueError if shapes disagree or time does not increase.
    """

    source: Source
    time_s: FloatArray
    dated: bool
    channels: Mapping[ChannelName, FloatArray]
    meter: MeterRecord = field(default_factory=MeterRecord)
    pauses: tuple[Pause, ...] = ()
    notices: tuple[Notice, ...] = ()
    event_driven: bool = False
    label: str = ""
    spot: bool = False

    def __post_init__(self) -> None:
        """Copy and freeze the arrays, and check them."""
        time_s = frozen_floats(self.time_s)
        channels = {name: frozen_floats(values) for name, values in self.channels.items()}
        if time_s.ndim != 1 or any(values.shape != time_s.shape for values in channels.values()):
            raise ValueError("every channel needs one value per time stamp")
        if not np.all(np.isfinite(time_s)) or np.any(np.diff(time_s) <= 0):
            raise ValueError("time stamps must be finite and increase")
        object.__setattr__(self, "time_s", time_s)
        object.__setattr__(self, "channels", MappingProxyType(channels))

    @property
    def step_s(self) -> float:
        """Median spacing of samples in seconds; NaN with fewer than two."""
        return float(np.median(np.diff(self.time_s))) if self.time_s.size > 1 else float("nan")

    @property
    def duration_s(self) -> float:
        """Seconds from the first to the last sample."""
        return float(self.time_s[-1] - self.time_s[0]) if self.time_s.size else 0.0

    def has(self, name: ChannelName) -> bool:
        """Whether the channel is there with at least one sample."""
        return name in self.channels and bool(np.any(np.isfinite(self.channels[name])))
