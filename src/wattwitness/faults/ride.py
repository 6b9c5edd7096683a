"""One ride as the detectors and the witnesses see it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from wattwitness.model.aligned import AlignedPair
from wattwitness.model.anatomy import MeterSide
from wattwitness.model.arrays import FloatArray, frozen_floats
from wattwitness.model.clock import ClockFit
from wattwitness.model.recording import ChannelName, Recording
from wattwitness.model.response import ResponseFit


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RideForFaults:
    """Two recordings on the reference's clock, one value a second, shape (n,), NaN where missing.

    ``pair`` holds every channel of both; ``expected_w`` is the reference through the unit's response and ``unit_w`` the
    unit's power as compared with it. ``recorded_reference`` and ``recorded_unit`` are the samples as read, for what a
    grid of seconds hides (repeated values, single spikes, gaps). Names are those shown to the reader.
    """

    pair: AlignedPair
    expected_w: FloatArray
    unit_w: FloatArray
    response: ResponseFit
    clock: ClockFit
    recorded_reference: Recording
    recorded_unit: Recording
    reference_name: str
    unit_name: str

    def __post_init__(self) -> None:
        """Copy and freeze the arrays."""
        for name in ("expected_w", "unit_w"):
            object.__setattr__(self, name, frozen_floats(getattr(self, name)))

    @property
    def time_s(self) -> FloatArray:
        """Whole seconds after the reference's first sample."""
        return self.pair.time_s

    def channels(self, name: ChannelName) -> Iterator[tuple[MeterSide, str, FloatArray]]:
        """Each recording's channel ``name`` that holds anything: whose it is, the name shown, the values (n,)."""
        for side, shown, held in (
            (MeterSide.REFERENCE, self.reference_name, self.pair.reference),
            (MeterSide.UNIT, self.unit_name, self.pair.unit),
        ):
            values = held.get(name)
            if values is not None and bool(np.any(np.isfinite(values))):
                yield side, shown, values
