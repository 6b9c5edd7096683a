"""Things that go wrong with a meter for a while: each with a start, a length and a depth."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from wattwitness.model.arrays import FloatArray


class FaultKind(StrEnum):
    """What the meter does."""

    DROP = "drop"
    SURGE = "surge"
    STEP = "step"
    FROZEN = "frozen"
    MISSING = "missing"
    ZERO = "zero"
    SPIKE = "spike"


OF_THE_SENSOR = (FaultKind.DROP, FaultKind.SURGE, FaultKind.STEP)


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """A fault from ``start_s`` after the start of the ride, for ``duration_s`` seconds (a step stays to the end).

    ``depth_pct`` is the change of the reading: negative for a drop. Both edges take ``edge_s`` seconds and stand at
    half depth at the start and the end. ``spike_w`` is what a spike shows. A drop, surge or step is of the sensor and
    passes through the display's averaging; the others are of what is recorded.
    """

    kind: FaultKind
    start_s: float
    duration_s: float = 60.0
    depth_pct: float = -20.0
    edge_s: float = 0.0
    spike_w: float = 2500.0

    def __post_init__(self) -> None:
        """Refuse a surge that falls or a drop that rises. Raises ValueError."""
        wrong_drop = self.kind is FaultKind.DROP and self.depth_pct >= 0.0
        wrong_surge = self.kind is FaultKind.SURGE and self.depth_pct <= 0.0
        if wrong_drop or wrong_surge:
            raise ValueError(f"a {self.kind} cannot have a depth of {self.depth_pct} %")


def sensor_factor(faults: Sequence[Fault], time_s: FloatArray) -> FloatArray:
    """What the sensor's reading is multiplied by at ``time_s`` (seconds after the start), shape of it."""
    factor = np.ones(time_s.size)
    for fault in faults:
        if fault.kind not in OF_THE_SENSOR:
            continue
        inside = _edge(time_s - fault.start_s, fault.edge_s)
        if fault.kind is not FaultKind.STEP:
            inside = inside * (1.0 - _edge(time_s - fault.start_s - fault.duration_s, fault.edge_s))
        factor *= 1.0 + fault.depth_pct / 100.0 * inside
    return factor


def record_faults(faults: Sequence[Fault], time_s: FloatArray, power_w: FloatArray) -> FloatArray:
    """``power_w`` as recorded at ``time_s`` (shape (m,)) with frozen, missing, zero and spike faults in it."""
    recorded = power_w.copy()
    for fault in faults:
        if fault.kind in OF_THE_SENSOR:
            continue
        hit = (time_s >= fault.start_s) & (time_s < fault.start_s + fault.duration_s)
        if not hit.any():
            continue
        first = int(np.argmax(hit))
        recorded[hit] = {
            FaultKind.FROZEN: recorded[max(first - 1, 0)],
            FaultKind.MISSING: np.nan,
            FaultKind.ZERO: 0.0,
            FaultKind.SPIKE: fault.spike_w,
        }[fault.kind]
    return recorded


def _edge(after_s: FloatArray, edge_s: float) -> FloatArray:
    """0 before, 1 after, and a straight climb of ``edge_s`` seconds centred on 0."""
    if edge_s <= 0.0:
        return np.where(after_s > 0.0, 1.0, 0.0)
    return np.minimum(np.maximum(after_s / edge_s + 0.5, 0.0), 1.0)
