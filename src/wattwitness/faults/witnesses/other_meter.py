"""A third meter's account: did it part from the reference as the unit did, or keep to it?

If the unit is at fault, another meter keeps to the reference; if the reference is, every other meter parts from it at
once and by as much. The others are not asked whether they are right, only whether they changed.
"""

from __future__ import annotations

import math

import numpy as np

from wattwitness.faults.witnesses.changes import AROUND_S
from wattwitness.faults.witnesses.ground import ADDED_W, RunningMeans
from wattwitness.faults.witnesses.heard import capped, supported
from wattwitness.faults.witnesses.places import log_density, robust_spread
from wattwitness.faults.witnesses.words import signed, to_one
from wattwitness.model.arrays import FloatArray
from wattwitness.model.episodes import Episode, Finding, Witness, WitnessKind
from wattwitness.model.estimate import Estimate

NAME = "other_meter"

MOST_LOG_ODDS = 4.6
"""Natural logarithm of 100 to 1."""

GUARD_S = 6
LEAST_SPREAD = 0.01
LEAST_PLACES = 8
LEVEL = 0.95


def other_meter(episode: Episode, name: str, foretold_w: FloatArray, power_w: FloatArray) -> Witness:
    """What meter ``name`` did in ``episode`` against what its own relation to the reference foretells.

    Shapes (n,): one a second from the reference's first sample, NaN where missing.
    """
    apart = RunningMeans.of(np.log((np.maximum(power_w, 0.0) + ADDED_W) / (np.maximum(foretold_w, 0.0) + ADDED_W)))
    first, stop = round(episode.start_s), max(round(episode.end_s), round(episode.start_s) + 1)
    here = _departure(apart, first, stop, episode.lasts)
    usual = _usual(apart, first, stop)
    nothing = Estimate.missing("too_short", "%", LEVEL)
    if usual is None:
        says = f"{name} was recorded, but the ride holds too little beside this stretch to say how it usually strays."
        return _witness(name, nothing, nothing, nothing, 0.0, says)
    if not math.isfinite(here):
        return _witness(name, nothing, nothing, nothing, 0.0, f"{name} has too little in or beside this stretch.")
    change = _percent(here, usual)
    still = _percent(0.0, usual)
    moved = _moved(episode, foretold_w[first:stop])
    if moved is None or episode.finding is Finding.RIDER:
        return _witness(
            name,
            change,
            nothing,
            still,
            0.0,
            f"{name} changed by {signed(change)} beyond what the reference foretells.",
        )
    log_odds = capped(log_density(here, usual) - log_density(here - moved, usual), MOST_LOG_ODDS)
    side = "kept to the reference" if log_odds > 0 else "parted from the reference as the unit did"
    says = f"{name} {side}: it changed by {signed(change)} beyond what the reference foretells, {to_one(log_odds)}."
    if abs(log_odds) < 0.7:
        says = f"{name} changed by {signed(change)} beyond what the reference foretells, which tells nothing."
    return _witness(name, change, _percent(moved, usual), still, log_odds, says)


def _moved(episode: Episode, foretold_w: FloatArray) -> float | None:
    """How far the unit parted from the reference, in the logarithm that meters are held against each other in; ``None``
    where no depth is known. ``foretold_w``: what the other meter should have shown in the episode.
    """
    depth_pct = episode.depth_pct.value
    known = np.maximum(foretold_w[np.isfinite(foretold_w)], 0.0)
    if depth_pct is None or not known.size:
        return None
    if depth_pct > -100.0:
        return math.log1p(depth_pct / 100.0)
    return float(np.log(ADDED_W / (known + ADDED_W)).mean())


def _departure(apart: RunningMeans, first: int, stop: int, lasts: bool) -> float:
    """Mean over the stretch less the mean of the minutes around it; NaN where they are missing."""
    guard = min(GUARD_S, (stop - first) // 4)
    sides = [float(apart.mean(max(first - guard - AROUND_S, 0), max(first - guard, 0)))]
    if not lasts:
        sides.append(float(apart.mean(stop + guard, stop + guard + AROUND_S)))
    known = [side for side in sides if math.isfinite(side)]
    within = float(apart.mean(first + guard, stop if lasts else stop - guard))
    return within - sum(known) / len(known) if known else math.nan


def _usual(apart: RunningMeans, first: int, stop: int) -> float | None:
    """How much the same comparison strays elsewhere on the ride; ``None`` where there is too little elsewhere."""
    size = apart.counts.size - 1
    length = max(min(stop - first, 240, size // 12), 5)
    starts = np.arange(AROUND_S, size - length - AROUND_S, max(length // 3, 3))
    starts = starts[(starts + length + AROUND_S <= first) | (starts - AROUND_S >= stop)]
    values = np.array([_departure(apart, int(at), int(at) + length, False) for at in starts])
    values = values[np.isfinite(values)]
    return max(1.2 * robust_spread(values), LEAST_SPREAD) if values.size >= LEAST_PLACES else None


def _percent(change: float, spread: float) -> Estimate:
    ends = (100.0 * math.expm1(change + z * spread) for z in (-1.96, 0.0, 1.96))
    low, value, high = ends
    return Estimate(value=value, low=low, high=high, unit="%", level=LEVEL)


def _witness(
    name: str, change: Estimate, if_unit: Estimate, if_reference: Estimate, log_odds: float, says: str
) -> Witness:
    return Witness(
        kind=WitnessKind.OTHER_METER,
        recorded_by=name,
        change=change,
        expected_if_unit_right=if_unit,
        expected_if_reference_right=if_reference,
        log_odds=log_odds,
        supports=supported(log_odds),
        says=says,
    )
