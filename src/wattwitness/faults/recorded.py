"""The power samples of either recording as read, on the reference's seconds."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from wattwitness.clock.mapping import to_reference_s
from wattwitness.faults.view import DetectorView
from wattwitness.model.anatomy import MeterSide
from wattwitness.model.arrays import BoolArray, FloatArray
from wattwitness.model.recording import ChannelName, Recording


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RecordedPower:
    """Samples (m,) that hold a power: ``own_s`` as written, ``at_s`` after the reference's first sample.

    ``foretold_w`` and ``shown_w`` (n,) are on the grid: what this meter should have shown by the other's, and what it
    did.
    """

    side: MeterSide
    recording: Recording
    own_s: FloatArray
    at_s: FloatArray
    power_w: FloatArray
    foretold_w: FloatArray
    shown_w: FloatArray

    @property
    def step_s(self) -> float:
        """The usual spacing of samples with power."""
        return float(np.median(np.diff(self.own_s))) if self.own_s.size > 1 else 1.0

    def seconds(self, start_s: float, end_s: float, *, before: int = 0, after: int = 0) -> slice:
        """The grid's seconds from ``start_s`` to ``end_s``, widened."""
        size = self.foretold_w.size
        return slice(int(np.clip(round(start_s) - before, 0, size)), int(np.clip(round(end_s) + after, 0, size)))


def recorded_powers(view: DetectorView) -> Iterator[RecordedPower]:
    """The reference's and the unit's samples of power; spot readings have none that follow each other."""
    ride = view.ride
    first_s = float(ride.recorded_reference.time_s[0]) if ride.recorded_reference.time_s.size else 0.0
    foretold = view.relation.foretold_w
    for side, recording in (
        (MeterSide.REFERENCE, ride.recorded_reference),
        (MeterSide.UNIT, ride.recorded_unit),
    ):
        if recording.spot or not recording.has(ChannelName.POWER):
            continue
        power_w = recording.channels[ChannelName.POWER]
        held = np.isfinite(power_w)
        own_s = recording.time_s[held]
        unit = side is MeterSide.UNIT
        yield RecordedPower(
            side=side,
            recording=recording,
            own_s=own_s,
            at_s=(to_reference_s(ride.clock, own_s) if unit else own_s) - first_s,
            power_w=power_w[held],
            foretold_w=foretold if unit else ride.unit_w,
            shown_w=ride.unit_w if unit else foretold,
        )


def cadence_holds(view: DetectorView, cut: slice, *, least_rpm: float = 40.0) -> bool:
    """Whether the cranks turn through most of the seconds; ``True`` where no cadence says otherwise."""
    if view.cadence_rpm is None:
        return True
    turning = view.cadence_rpm[cut]
    known = np.isfinite(turning)
    return not known.any() or bool(np.mean(turning[known] >= least_rpm) >= 0.8)


def runs(power_w: FloatArray, joined: BoolArray) -> tuple[np.ndarray, np.ndarray]:
    """First and last place (included) of each run of one value over samples that follow each other (``joined``)."""
    breaks = np.flatnonzero((np.diff(power_w) != 0) | ~joined)
    return np.concatenate([[0], breaks + 1]), np.concatenate([breaks, [power_w.size - 1]])
