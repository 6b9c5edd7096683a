"""What a planned ride can tell apart: gain, zero, cadence and settling, before anything is ridden.

The bias of a block is written as gain + zero / torque + cadence + settling, with errors that wander as those of meters
do. The covariance of the estimates by generalised least squares, (X' V^-1 X)^-1, needs no data: Aitken AC (1936) Proc.
R. Soc. Edinb. 55:42-48 (from memory).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from wattwitness.agreement.relation import LEAST_RPM, LEAST_W
from wattwitness.agreement.torque import RADIANS_PER_S
from wattwitness.model.arrays import FloatArray, frozen_floats
from wattwitness.model.plan import EffectError, EffectName, EffectPair, RidePlan, Separation, StepKind

BLOCK_S = 20.0
WANDER_PCT = 1.0
WANDER_S = 60.0
WHITE_PCT = 2.0
"""The usual wander of the error of a good unit: 1 % over a minute, and 2 % of white noise from second to second. Common
practice, with no source; a unit that wanders more makes every ride tell less."""

TAUS_MIN = (5.0, 10.0, 15.0)
"""Time constants of a brake that warms up (eddy-current brakes: 5 to 15 min, computed from a disc's heat). Of these the
one counts that the ride tells worst."""

WANTED_PCT = {EffectName.GAIN: 1.5, EffectName.ZERO: 1.5, EffectName.CADENCE: 0.75, EffectName.SETTLING: 1.5}
"""Standard error in one ride up to which an effect counts as shown. Several rides of one plan show each better, by the
root of their number."""

MOST_INFLATION = 3.0
"""Two effects count as told apart while not knowing the one makes the other no more than so many times wider:
estimates correlated by up to 0.94."""

NEVER, NEARLY = 1e-9, 1e-4
"""Information, and parts of a direction, that are none but for rounding."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PlanBlocks:
    """A planned ride in blocks (n,): minutes since the start, power in W and cadence in rpm of what is ridden."""

    at_min: FloatArray
    power_w: FloatArray
    cadence_rpm: FloatArray
    measured: FloatArray


def plan_blocks(ride: RidePlan) -> PlanBlocks:
    """Cut a planned ride into blocks of 20 s. What a comparison does not use, coasting and next to it, is left out."""
    seconds = np.array([step.seconds for step in ride.steps])
    ends = np.cumsum(seconds)
    at_s = np.arange(BLOCK_S / 2, float(ends[-1]), BLOCK_S)
    place = np.searchsorted(ends, at_s, side="right")
    starts = ends - seconds
    start_w = np.array([step.power_w for step in ride.steps])
    end_w = np.array([step.power_w if step.end_w is None else step.end_w for step in ride.steps])
    share = (at_s - starts[place]) / seconds[place]
    power_w = start_w[place] + (end_w - start_w)[place] * share
    cadence = np.array([step.cadence_rpm for step in ride.steps])[place]
    measured = np.array([step.kind is StepKind.MEASURE for step in ride.steps])[place]
    turning = (power_w >= LEAST_W) & (cadence >= LEAST_RPM)
    return PlanBlocks(
        at_min=at_s[turning] / 60,
        power_w=power_w[turning],
        cadence_rpm=cadence[turning],
        measured=measured[turning].astype(np.float64),
    )


def separation_of(ride: RidePlan) -> Separation:
    """What ``ride`` can tell apart, with the usual wander. Raises ValueError where nothing of it can be compared."""
    blocks = plan_blocks(ride)
    if blocks.at_min.size == 0:
        raise ValueError("every step is too easy to be compared")
    of_steps = blocks.measured > 0 if np.any(blocks.measured > 0) else np.ones(blocks.at_min.size, dtype=bool)
    at_w, at_rpm = float(blocks.power_w[of_steps].mean()), float(blocks.cadence_rpm[of_steps].mean())
    whitening = _whitening(blocks.at_min)
    worst = max((_covariance(blocks, at_w, at_rpm, tau, whitening) for tau in TAUS_MIN), key=_badness)
    effects = tuple(
        EffectError(
            name=name,
            se_pct=_root(worst[place, place]),
            alone_se_pct=_alone(blocks, at_w, at_rpm, place, whitening),
            wanted_pct=WANTED_PCT[name],
        )
        for place, name in enumerate(EffectName)
    )
    pairs = tuple(
        _pair(blocks, at_w, at_rpm, (first, second), whitening)
        for first in range(len(EffectName))
        for second in range(first + 1, len(EffectName))
    )
    return Separation(
        effects=effects,
        pairs=pairs,
        bias_se_pct=max(_bias_error(blocks, at_w, at_rpm, tau, whitening) for tau in TAUS_MIN),
        at_w=at_w,
        at_rpm=at_rpm,
        separates=all(pair.separable for pair in pairs) and all(one.se_pct <= one.wanted_pct for one in effects),
        says=_says(effects, pairs),
    )


def design(blocks: PlanBlocks, at_w: float, at_rpm: float, tau_min: float) -> FloatArray:
    """Columns (n, 4) for a gain in percent, a zero in percent at the mean torque, 10 rpm of cadence, and settling."""
    lever = blocks.cadence_rpm / blocks.power_w * (at_w / at_rpm)
    return np.column_stack(
        [
            np.ones(blocks.at_min.size),
            lever,
            (blocks.cadence_rpm - at_rpm) / 10,
            np.exp(-blocks.at_min / tau_min),
        ]
    )


def zero_pct_per_nm(at_w: float, at_rpm: float) -> float:
    """What one N·m of zero is in percent of the power at that point."""
    return 100 * RADIANS_PER_S * at_rpm / at_w


def _whitening(at_min: FloatArray) -> FloatArray:
    """Inverse of the Cholesky factor of the blocks' error covariance (n, n), in percent."""
    return _whitening_of(tuple(at_min.tolist()))


@lru_cache(maxsize=4)
def _whitening_of(at_min: tuple[float, ...]) -> FloatArray:
    """Orders of the same steps share their blocks' times, so this is worth keeping."""
    minutes = np.array(at_min)
    apart = np.abs(minutes[:, None] - minutes[None, :]) * 60
    # Variance of the mean over a block of a first-order wander, and its covariance between blocks a time apart.
    ratio = BLOCK_S / WANDER_S
    within = 2 * (ratio - 1 + math.exp(-ratio)) / ratio**2
    between = (2 * math.cosh(ratio) - 2) / ratio**2
    covariance = WANDER_PCT**2 * between * np.exp(-apart / WANDER_S)
    np.fill_diagonal(covariance, WANDER_PCT**2 * within + WHITE_PCT**2 / BLOCK_S)
    return frozen_floats(np.linalg.inv(np.linalg.cholesky(covariance)))


def weakness(ride: RidePlan) -> float:
    """How far the standard errors stand from what is wanted, all effects together: smaller is better. Quick."""
    blocks = plan_blocks(ride)
    if blocks.at_min.size == 0:
        return math.inf
    at_w, at_rpm = float(blocks.power_w.mean()), float(blocks.cadence_rpm.mean())
    found = _covariance(blocks, at_w, at_rpm, TAUS_MIN[1], _whitening(blocks.at_min))
    errors = [min(_root(found[place, place]) / WANTED_PCT[name], 1e3) for place, name in enumerate(EffectName)]
    return float(np.mean(np.square(errors)))


def _covariance(blocks: PlanBlocks, at_w: float, at_rpm: float, tau_min: float, whitening: FloatArray) -> FloatArray:
    """Covariance (4, 4) of the estimates; infinite variances where the ride holds nothing of an effect."""
    information = _information(design(blocks, at_w, at_rpm, tau_min), whitening)
    return _inverse(information)


def _information(columns: FloatArray, whitening: FloatArray) -> FloatArray:
    white = whitening @ columns
    return np.asarray(white.T @ white)


def _inverse(information: FloatArray) -> FloatArray:
    """Inverse of an information matrix; effects in a direction without information get an infinite variance."""
    values, vectors = np.linalg.eigh(information)
    known = values > NEVER * values[-1]
    covariance = (vectors[:, known] / values[known]) @ vectors[:, known].T
    lost = np.any(np.abs(vectors[:, ~known]) > NEARLY, axis=1)
    covariance[np.diag_indices_from(covariance)] += np.where(lost, np.inf, 0.0)
    return np.asarray(covariance)


def _pair(blocks: PlanBlocks, at_w: float, at_rpm: float, pair: tuple[int, int], whitening: FloatArray) -> EffectPair:
    """Two effects as if they and the gain alone were unknown: what the others add is told by their own pairs.

    The time constant is the one that the pair tells worst.
    """
    kept = sorted({0, *pair})
    first, second = (kept.index(place) for place in pair)
    found = []
    for tau in TAUS_MIN:
        columns = design(blocks, at_w, at_rpm, tau)[:, kept]
        if np.any(np.abs(columns).max(axis=0) < NEVER):
            found.append((math.inf, math.nan))
            continue
        information = _information(columns, whitening)
        both = _inverse(information)
        without = _inverse(np.delete(np.delete(information, second, 0), second, 1))
        place = first - (1 if second < first else 0)
        inflation = _root(both[first, first]) / _root(without[place, place])
        if not math.isfinite(inflation):
            found.append((math.inf, math.nan))
            continue
        correlation = both[first, second] / math.sqrt(both[first, first] * both[second, second])
        found.append((inflation, float(correlation)))
    inflation, correlation = max(found, key=lambda one: one[0])
    names = list(EffectName)
    separable = inflation <= MOST_INFLATION
    return EffectPair(
        first=names[pair[0]],
        second=names[pair[1]],
        correlation=correlation,
        inflation=inflation,
        separable=separable,
        says=_pair_says(names[pair[0]], names[pair[1]], inflation, separable=separable),
    )


def _alone(blocks: PlanBlocks, at_w: float, at_rpm: float, place: int, whitening: FloatArray) -> float:
    column = design(blocks, at_w, at_rpm, TAUS_MIN[1])[:, [place]]
    information = float(_information(column, whitening)[0, 0])
    return information**-0.5 if information > 0 else math.inf


def _bias_error(blocks: PlanBlocks, at_w: float, at_rpm: float, tau_min: float, whitening: FloatArray) -> float:
    """Standard error of the settled bias at the mean power and cadence: gain and zero together, which a ride may know
    even where it cannot part them.
    """
    values, vectors = np.linalg.eigh(_information(design(blocks, at_w, at_rpm, tau_min), whitening))
    known = values > NEVER * values[-1]
    along = np.array([1.0, 1.0, 0.0, 0.0]) @ vectors
    if np.any(np.abs(along[~known]) > NEARLY):
        return math.inf
    return float(np.sqrt((along[known] ** 2 / values[known]).sum()))


def _badness(covariance: FloatArray) -> float:
    return float(np.trace(covariance))


def _root(variance: float) -> float:
    return math.sqrt(variance) if variance >= 0 else math.nan


_WORDS = {
    EffectName.GAIN: "a gain error",
    EffectName.ZERO: "a zero not taken",
    EffectName.CADENCE: "an error that depends on cadence",
    EffectName.SETTLING: "a unit that settles",
}


def _pair_says(first: EffectName, second: EffectName, inflation: float, *, separable: bool) -> str:
    both = f"{_WORDS[first]} and {_WORDS[second]}"
    if separable:
        return f"It tells {both} apart."
    if math.isinf(inflation):
        return f"It cannot tell {both} apart: it varies what shows them only together, or not at all."
    return f"It cannot tell {both} apart: not knowing the one makes the other {inflation:.0f} times less sure."


def _says(effects: tuple[EffectError, ...], pairs: tuple[EffectPair, ...]) -> str:
    still = [one.name for one in effects if math.isinf(one.alone_se_pct)]
    said = [f"It cannot show {_WORDS[name]}: it does not vary what shows it." for name in still]
    said += [pair.says for pair in pairs if not pair.separable and not {pair.first, pair.second} & set(still)]
    if said:
        return " ".join(said)
    weak = [one for one in effects if not one.se_pct <= one.wanted_pct]
    if weak:
        names = ", ".join(f"{_WORDS[one.name]} (standard error {one.se_pct:.1f} %)" for one in weak)
        return f"It parts all four, but one ride shows too little of {names}: make it longer or its steps wider."
    return "It tells a gain error, a zero not taken, a dependence on cadence and settling apart."
