"""The ride as witnesses see it: both powers on one scale, and what is ordinary outside all candidates."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from wattwitness.faults.candidate import Candidate
from wattwitness.faults.ride import RideForFaults
from wattwitness.model.arrays import BoolArray, FloatArray, IntArray
from wattwitness.model.episodes import EpisodeKind
from wattwitness.model.response import ResponseKind

BLOCK_S = 10
"""The relation between the meters is fitted to means over so many seconds."""

DRIFT_BLOCK_S = 60
"""What is left of it, settling above all, is followed in blocks of this length."""

STEP_S = 300
"""A step that stays is judged by its first minutes."""

LEAST_BLOCKS = 12
LEAST_W = 30.0
"""Under this a ratio tells nothing."""

ADDED_W = 10.0
"""Added before a logarithm is taken, so that coasting has one."""

LEAST_SPREAD = 0.15
"""A zero beside the gain is fitted where the power's relative spread over the blocks is this."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Ground:
    """What all witnesses stand on. Arrays (n,), one a second, NaN where missing.

    ``outside`` are the seconds outside all candidates. ``by_reference_w`` is the effort as the reference shows it
    through the unit's response; ``by_unit_w`` the effort that would make the unit, as it behaves outside, show what it
    shows: both on the reference's scale, alike but for noise and wander wherever neither is at fault.
    """

    ride: RideForFaults
    outside: BoolArray
    by_reference_w: FloatArray
    by_unit_w: FloatArray

    @cached_property
    def reference(self) -> RunningMeans:
        """Means of the effort by the reference."""
        return RunningMeans.of(self.by_reference_w)

    @cached_property
    def unit(self) -> RunningMeans:
        """Means of the effort by the unit."""
        return RunningMeans.of(self.by_unit_w)

    @cached_property
    def ordinary(self) -> RunningMeans:
        """Means of 1 outside all candidates where both are present, else missing."""
        present = self.outside & np.isfinite(self.by_reference_w) & np.isfinite(self.by_unit_w)
        return RunningMeans.of(np.where(present, 1.0, np.nan))

    @cached_property
    def smear_s(self) -> int:
        """Half of how long the unit's display takes to show a sudden change, in whole seconds."""
        shown = self.ride.response.unit
        width_s = shown.width_s.value if shown.kind is ResponseKind.MEAN else None
        tau_s = shown.tau_s.value if shown.kind is ResponseKind.EXPONENTIAL else None
        return min(math.ceil((width_s or 1.0) / 2.0 + (tau_s or 0.0)), 15)

    def departure_sd(self, duration_s: int) -> float:
        """Usual size of the unit's departure from the reference over ``duration_s``, in the logarithm of power.

        From pieces of that length outside all candidates (robust: median absolute deviation). From shorter ones, not
        made any smaller for that, where the ride holds too few: a wander that is slow does not average out.
        """
        length = max(min(duration_s, self.outside.size // 12), 5)
        while length >= 5:
            first = np.arange(0, self.outside.size - length, max(length // 2, 1))
            kept = self.ordinary.count(first, first + length) >= 0.8 * length
            if np.count_nonzero(kept) >= 10 or length == 5:
                break
            length = max(length // 2, 5)
        if np.count_nonzero(kept) < 5:
            return 0.05
        apart = log_ratio(self.unit, self.reference, first[kept], first[kept] + length)
        return max(1.4826 * float(np.median(np.abs(apart - np.median(apart)))), 0.004)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RunningMeans:
    """Cumulative sums of a series with gaps, so that the mean of any stretch costs nothing; shape (n + 1,) both."""

    sums: FloatArray
    counts: FloatArray

    @classmethod
    def of(cls, values: FloatArray) -> RunningMeans:
        """Sum up ``values`` (n,), NaN where missing."""
        present = np.isfinite(values)
        return cls(
            sums=np.concatenate([[0.0], np.cumsum(np.where(present, values, 0.0))]),
            counts=np.concatenate([[0.0], np.cumsum(present.astype(np.float64))]),
        )

    def count(self, first: IntArray | int, stop: IntArray | int) -> FloatArray:
        """How many values there are from second ``first`` up to ``stop``, both cut to the ride."""
        last = self.counts.size - 1
        return np.asarray(self.counts[np.clip(stop, 0, last)] - self.counts[np.clip(first, 0, last)])

    def mean(self, first: IntArray | int, stop: IntArray | int) -> FloatArray:
        """Mean from second ``first`` up to ``stop``; NaN where fewer than half of the seconds are present."""
        last = self.sums.size - 1
        total = self.sums[np.clip(stop, 0, last)] - self.sums[np.clip(first, 0, last)]
        count = self.count(first, stop)
        enough = (count > 0) & (count >= (np.asarray(stop) - np.asarray(first)) / 2)
        return np.asarray(np.where(enough, total / np.where(count > 0, count, 1.0), np.nan))


def log_ratio(above: RunningMeans, below: RunningMeans, first: IntArray | int, stop: IntArray | int) -> FloatArray:
    """Logarithm of the ratio of two means over the same seconds, ``ADDED_W`` on both."""
    return np.log((above.mean(first, stop) + ADDED_W) / (below.mean(first, stop) + ADDED_W))


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """A candidate's whole seconds, ``first`` up to ``stop``, cut to the ride; ``open_end``: nothing comes after it."""

    candidate: Candidate
    first: int
    stop: int
    open_end: bool

    @property
    def seconds(self) -> int:
        """How many there are."""
        return self.stop - self.first


def stretch_of(ground: Ground, candidate: Candidate) -> Stretch:
    """The whole seconds of ``candidate``: at least one."""
    size = ground.outside.size
    first = min(max(round(candidate.start_s), 0), max(size - 1, 0))
    stop = min(max(round(candidate.end_s), first + 1), size)
    if candidate.kind is EpisodeKind.STEP:
        stop = min(stop, first + STEP_S)
        return Stretch(candidate=candidate, first=first, stop=stop, open_end=True)
    return Stretch(candidate=candidate, first=first, stop=stop, open_end=candidate.lasts or stop >= size - 5)


def ground_of(ride: RideForFaults, outside: BoolArray, step_at: int | None = None) -> Ground:
    """Put both powers on one scale by their relation outside all candidates (``outside`` (n,)).

    ``step_at``: a step that stays is judged there, by the relation as it was before.
    """
    usable = outside & np.isfinite(ride.expected_w) & np.isfinite(ride.unit_w)
    if step_at is not None:
        usable[max(step_at - 5, 0) :] = False
    unit_w = _on_the_references_scale(ride.expected_w, ride.unit_w, usable)
    drift = _slow_change(ride.expected_w, unit_w, usable)
    if step_at is not None:
        before = max(step_at - DRIFT_BLOCK_S, 0)
        drift[before:] = drift[before]
    return Ground(ride=ride, outside=outside, by_reference_w=ride.expected_w, by_unit_w=unit_w * np.exp(-drift))


def _on_the_references_scale(expected_w: FloatArray, unit_w: FloatArray, usable: BoolArray) -> FloatArray:
    """The unit's power less its zero and gain, fitted to means of blocks by a robust line (Huber's weights)."""
    expected, unit = _block_means(expected_w, unit_w, usable, BLOCK_S, LEAST_W)
    if expected.size < LEAST_BLOCKS:
        return unit_w
    gain, zero = float(np.median(unit / expected)), 0.0
    if float(np.std(expected)) > LEAST_SPREAD * float(np.mean(expected)):
        weight = np.ones(expected.size)
        for _ in range(6):
            columns = np.vstack([expected, np.ones(expected.size)]) * (weight / expected)
            gain, zero = np.linalg.lstsq(columns.T, unit * weight / expected, rcond=None)[0].tolist()
            left = np.abs(unit - gain * expected - zero) / expected
            scale = 1.4826 * float(np.median(left)) + 1e-4
            weight = np.sqrt(np.minimum(1.0, 1.5 * scale / np.maximum(left, 1e-9)))
    if not gain > 0.05:
        return unit_w
    return np.where(unit_w > 0, np.maximum((unit_w - zero) / gain, 0.0), unit_w)


def _slow_change(expected_w: FloatArray, unit_w: FloatArray, usable: BoolArray) -> FloatArray:
    """How the unit slowly parts from the reference along the ride, in the logarithm, (n,): medians of five minutes."""
    size = expected_w.size
    strong = usable & (np.nan_to_num(expected_w) >= LEAST_W)
    block = np.arange(size) // DRIFT_BLOCK_S
    count = np.bincount(block, strong, block[-1] + 1) if size else np.zeros(0)
    kept = np.flatnonzero(count >= DRIFT_BLOCK_S / 3)
    if kept.size < 3:
        return np.zeros(size)
    sums = [np.bincount(block, np.where(strong, power, 0.0), count.size)[kept] for power in (expected_w, unit_w)]
    apart = np.log(np.maximum(sums[1], 1.0) / np.maximum(sums[0], 1.0))
    near = np.clip(np.arange(kept.size)[:, None] + np.arange(-2, 3), 0, kept.size - 1)
    return np.asarray(np.interp(np.arange(size), (kept + 0.5) * DRIFT_BLOCK_S, np.median(apart[near], axis=1)))


def _block_means(
    expected_w: FloatArray, unit_w: FloatArray, usable: BoolArray, block_s: int, least_w: float
) -> tuple[FloatArray, FloatArray]:
    """Means of both over blocks that are at least half present and hold some power."""
    if not usable.any():
        return np.zeros(0), np.zeros(0)
    block = np.arange(usable.size) // block_s
    count = np.bincount(block, usable)
    means = [
        np.bincount(block, np.where(usable, power, 0.0)) / np.maximum(count, 1.0) for power in (expected_w, unit_w)
    ]
    kept = (count >= block_s / 2) & (means[0] >= least_w)
    return means[0][kept], means[1][kept]
