"""Small rides for the clock's unit tests, plainer than those of the truth runs."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from wattwitness.model.arrays import FloatArray
from wattwitness.model.recording import ChannelName, Recording, Source

SOURCE = Source(file_name="ride.fit", sha256="", size_bytes=0, format_name="fit")


def recording(
    time_s: NDArray[np.floating[Any]], *, dated: bool = False, **channels: NDArray[np.floating[Any]]
) -> Recording:
    """A recording with the channels named as in ``ChannelName``, in lower case: ``power``, ``heart_rate``."""
    named = {ChannelName[name.upper()]: np.asarray(values, dtype=np.float64) for name, values in channels.items()}
    return Recording(source=SOURCE, time_s=np.asarray(time_s, dtype=np.float64), dated=dated, channels=named)


def varied(seconds: int, *, seed: int, level: float = 90.0, spread: float = 3.0, memory_s: float = 8.0) -> FloatArray:
    """Values on a tenth of a second, (10·seconds,), that wander about ``level`` with a memory of ``memory_s``."""
    rng = np.random.default_rng(seed)
    keep = np.exp(-0.1 / memory_s)
    kicks = rng.standard_normal(10 * seconds) * spread * np.sqrt(1 - keep**2)
    values = np.empty(10 * seconds)
    now = 0.0
    for k, kick in enumerate(kicks.tolist()):
        now = keep * now + kick
        values[k] = now
    return level + values


def seen(fine: FloatArray, at_s: FloatArray, *, noise: float = 0.3, step: float = 1.0, seed: int = 0) -> FloatArray:
    """The fine values at ``at_s`` seconds, with white noise, rounded to ``step``."""
    rng = np.random.default_rng(seed)
    values = np.interp(at_s, np.arange(fine.size) / 10, fine) + noise * rng.standard_normal(at_s.size)
    return np.round(values / step) * step
