"""What the fitted relation leaves of the unit's power, and how far that strays by chance over a stretch of any length.

Three things make it stray where nothing is wrong: noise and wander of both meters, whose size over stretches of each
length is read off the ride itself; fast changes of the effort, where a response or a clock off by a little moves power
from one second into another; and, at low power, rounding and a zero that is not quite known.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from wattwitness.clock.kernels import response_kernel
from wattwitness.faults.relation import Relation
from wattwitness.faults.ride import RideForFaults
from wattwitness.faults.running import running_range, running_sums
from wattwitness.model.arrays import BoolArray, FloatArray, IntArray, frozen_floats

SCALES_S = (5, 10, 20, 40, 80, 160, 320)
NORMAL = 1.4826
LEAST_SD, SEEN_LEAST_SD = 0.004, 0.001
WHITE_W = 1.0
"""Noise of a second that a percentage does not hold: rounding on both sides."""

STEADY_W, SEEN_STEADY_W = 1.0, 0.3
"""What a zero not quite known leaves, the same for many seconds."""

BEYOND_PER_100_W = 0.015
"""How far the bias may go for each 100 W beyond the powers at which the relation was learnt, one standard deviation."""

LEAST_EDGE_S, MOST_EDGE_S = 0.15, 1.5
"""How far off the response and the clock may be at a fast change, in seconds."""

LEAST_W = 40.0
LEAST_PIECE_W = 25.0
"""A stretch with less than this on average tells nothing."""

LEAST_WINDOWS = 60
COVERED = 0.5


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Residual:
    """Shape (n,) each, one value a second: ``foretold_w`` and ``left_w``, the unit less it, both 0 where not ``used``.

    ``range_w`` is how much the foretold power changes around each second. ``seen_sd`` (k,) is the relative scatter of
    means over ``SCALES_S``, ``scale_sd`` (k,) that with a floor; ``edge_s`` how many seconds' worth of a fast change is
    misplaced, ``learnt_w`` up to which power the relation was learnt.
    """

    foretold_w: FloatArray
    left_w: FloatArray
    used: BoolArray
    range_w: FloatArray
    scale_sd: FloatArray
    seen_sd: FloatArray
    edge_s: float
    learnt_w: float = np.inf
    sums: FloatArray = field(init=False)

    def __post_init__(self) -> None:
        """Copy and freeze the arrays; ``sums`` (4, n + 1): running sums of what is left, foretold, used, unlearnt."""
        for name in ("foretold_w", "left_w", "range_w", "scale_sd", "seen_sd"):
            object.__setattr__(self, name, frozen_floats(getattr(self, name)))
        unlearnt_w = BEYOND_PER_100_W * np.maximum(self.foretold_w - self.learnt_w, 0.0) / 100.0 * self.foretold_w
        sums = running_sums(self.left_w, self.foretold_w, self.used, unlearnt_w)
        object.__setattr__(self, "sums", frozen_floats(sums))

    def mean_and_sd(self, first: IntArray, last: IntArray, *, cautious: bool = True) -> tuple[FloatArray, FloatArray]:
        """Relative residual over seconds ``first`` to ``last`` (excluded) and its standard deviation by chance.

        ``cautious``: no smaller than may reach an episode; else as seen, for an interval. It is infinite where too
        little of the stretch is used, or it holds next to no power.
        """
        left, foretold, seconds, unlearnt = self.sums[:, last] - self.sums[:, first]
        length = (last - first).astype(np.float64)
        enough = (seconds >= COVERED * length) & (foretold > LEAST_PIECE_W * seconds) & (seconds > 0)
        held = np.where(enough, foretold, 1.0)
        spread = np.interp(
            np.log(np.maximum(length, 1.0)), np.log(SCALES_S), self.scale_sd if cautious else self.seen_sd
        )
        steady_w = STEADY_W if cautious else SEEN_STEADY_W
        size = self.range_w.size
        edges = self.range_w[np.clip(first, 0, size - 1)] ** 2 + self.range_w[np.clip(last - 1, 0, size - 1)] ** 2
        variance = self.edge_s**2 * edges + seconds * WHITE_W**2 + (seconds * steady_w) ** 2 + unlearnt**2
        sd = np.sqrt(spread**2 + variance / held**2)
        return np.where(enough, left / held, 0.0), np.where(enough, sd, np.inf)


def residual_of(ride: RideForFaults, relation: Relation, aside: BoolArray, unsure: BoolArray) -> Residual:
    """The residual over the seconds not ``aside``; those only ``unsure`` are not used either."""
    used = np.isfinite(relation.foretold_w) & np.isfinite(ride.unit_w) & ~aside & ~unsure
    kernel_s = response_kernel(ride.response.unit).size + response_kernel(ride.response.reference).size - 1
    return residual_between(relation.foretold_w, ride.unit_w, used, kernel_s=kernel_s, learnt_w=relation.learnt_w)


def residual_between(
    foretold_w: FloatArray, shown_w: FloatArray, used: BoolArray, *, kernel_s: int, learnt_w: float = np.inf
) -> Residual:
    """What ``shown_w`` (n,) leaves of ``foretold_w`` (n,) over the seconds ``used``; the display takes ``kernel_s``."""
    foretold = np.where(used, foretold_w, 0.0)
    left = np.where(used, shown_w - foretold, 0.0)
    reach = int(np.clip(min(kernel_s, 12) // 2 + 2, 3, 8))
    range_w = running_range(_filled(foretold_w), reach)
    edge_s = _edge_s(foretold, left, range_w)
    seen_sd = _seen_sd(foretold, left, used, edge_s, range_w)
    return Residual(
        foretold_w=foretold,
        left_w=left,
        used=used,
        range_w=range_w,
        scale_sd=_with_floor(seen_sd),
        seen_sd=seen_sd,
        edge_s=edge_s,
        learnt_w=learnt_w,
    )


def _filled(power_w: FloatArray) -> FloatArray:
    """Straight lines across what is missing: a gap by itself is no change of the effort."""
    known = np.flatnonzero(np.isfinite(power_w))
    if not known.size:
        return np.zeros(power_w.size)
    return np.interp(np.arange(power_w.size), known, power_w[known])


def _edge_s(foretold_w: FloatArray, left_w: FloatArray, range_w: FloatArray) -> float:
    """How many seconds of a fast change are misplaced: five seconds' sum over the change, where it is fast."""
    typical = float(np.median(foretold_w[foretold_w > LEAST_W])) if np.any(foretold_w > LEAST_W) else 0.0
    fast = range_w > max(0.4 * typical, 40.0)
    if typical <= 0 or fast.sum() < 50:
        return 0.3
    sums = np.convolve(left_w, np.ones(5), mode="same")
    return float(np.clip(NORMAL * np.median(np.abs(sums[fast]) / range_w[fast]), LEAST_EDGE_S, MOST_EDGE_S))


def _with_floor(seen_sd: FloatArray) -> FloatArray:
    """As is taken to tell an episode by: never under a floor, and shrinking no faster than white noise does."""
    found = np.maximum(seen_sd, LEAST_SD)
    for place in range(1, found.size):
        found[place] = max(found[place], found[place - 1] / np.sqrt(2.0))
    return found


def _seen_sd(
    foretold_w: FloatArray, left_w: FloatArray, used: BoolArray, edge_s: float, range_w: FloatArray
) -> FloatArray:
    """Robust relative scatter of means over each of ``SCALES_S``; where a ride is too short, of what can be seen."""
    sums = running_sums(left_w, foretold_w, used)
    found: list[float] = []
    for scale_s in SCALES_S:
        least = found[-1] / np.sqrt(2.0) if found else SEEN_LEAST_SD
        if used.size < 4 * scale_s:
            found.append(max(least * np.sqrt(2.0), SEEN_LEAST_SD))
            continue
        left, foretold, seconds = sums[:, scale_s:] - sums[:, :-scale_s]
        ends = edge_s * np.hypot(range_w[: left.size], range_w[scale_s - 1 :][: left.size])
        tells = (seconds >= COVERED * scale_s) & (foretold > LEAST_W * seconds) & (ends < 0.01 * foretold)
        if tells.sum() < LEAST_WINDOWS:
            tells = (seconds >= COVERED * scale_s) & (foretold > LEAST_PIECE_W * seconds)
        if tells.sum() < LEAST_WINDOWS:
            found.append(max(least * np.sqrt(2.0), 0.01))
            continue
        spread = NORMAL * float(np.median(np.abs(left[tells] / foretold[tells])))
        found.append(max(spread, least, SEEN_LEAST_SD))
    return np.array(found)
