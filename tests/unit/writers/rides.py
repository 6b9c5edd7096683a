"""Recordings to write: a ride with all channels and what is awkward in them."""

from __future__ import annotations

import numpy as np

from wattwitness.model.arrays import FloatArray
from wattwitness.model.recording import ChannelName, MeterRecord, Pause, Recording, Source

START_UTC_S = 1_768_212_000.0  # 2026-01-12T10:00:00Z, recomputed with the standard library in the tests


def awkward(*, dated: bool = True, product: str = "studio bike B", step_s: float = 1.0) -> Recording:
    """Twenty samples: a pause after the tenth, missing values in every channel, coasting, whole numbers only."""
    time_s = np.arange(20.0) * step_s + np.where(np.arange(20) >= 10, 30.0, 0.0)
    base = START_UTC_S if dated else 0.0
    count: FloatArray = np.arange(20, dtype=np.float64)
    channels: dict[ChannelName, FloatArray] = {
        ChannelName.POWER: 180.0 + 7.0 * count,
        ChannelName.CADENCE: 80.0 + count,
        ChannelName.HEART_RATE: 120.0 + count,
        ChannelName.TORQUE: 20.0 + count / 32.0,
        ChannelName.RESISTANCE: 40.0 + count,
        ChannelName.SPEED: 7.0 + count / 8.0,
        ChannelName.TEMPERATURE: -3.0 + count,
        ChannelName.LEFT_SHARE: 40.0 + count,
    }
    for place, values in enumerate(channels.values()):
        values[place] = np.nan
    channels[ChannelName.POWER][12:14] = 0.0
    channels[ChannelName.CADENCE][12:14] = 0.0
    pause = Pause(start_s=base + 9.0 * step_s + 0.5, end_s=base + 10.0 * step_s + 29.5)
    return Recording(
        source=Source(file_name="made by hand", sha256="", size_bytes=0, format_name="none"),
        time_s=base + time_s,
        dated=dated,
        channels=channels,
        meter=MeterRecord(product=product, firmware="1.04"),
        pauses=(pause,),
        label="bike",
    )


def with_channels(recording: Recording, channels: dict[ChannelName, list[float]]) -> Recording:
    """The recording's first samples with other values."""
    size = len(next(iter(channels.values())))
    return Recording(
        source=recording.source,
        time_s=recording.time_s[:size],
        dated=recording.dated,
        channels={name: np.array(values) for name, values in channels.items()},
        meter=recording.meter,
        label=recording.label,
    )
