"""Can it be corrected, and how well: each way of correcting judged on rides it has not seen.

Leaving one ride out: Stone M (1974) J. R. Stat. Soc. B 36:111-147 (from memory).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import numpy as np

from wattwitness.conformity.probability import student_quantile
from wattwitness.model.arrays import FloatArray
from wattwitness.model.study import Correction, CorrectionModel, CorrectionTried, RideFigures
from wattwitness.study.effects import Between, between_variance

LEAST_RIDES = 3
"""Leaving one out of two leaves one ride, which says nothing of how rides differ."""

GOOD_PCT = 2.0
"""A correction is worth the name when rides not used come out within this, root mean square. Common practice: what
makers claim of a good meter; with no source."""

MUCH = 0.9
"""A model with more to it is chosen only if its error is below this part of the simpler one's."""

LEAST_GAIN_PCT = 0.1
RADIANS_PER_S = 2 * math.pi / 60


def judge_corrections(rides: Sequence[RideFigures], *, level: float = 0.95) -> Correction:
    """Every correction on the rides that count."""
    used = [ride for ride in rides if ride.counts and ride.bias_pct.assessed]
    if len(used) < LEAST_RIDES:
        says = (
            f"A correction is judged on rides it has not seen: that takes {LEAST_RIDES} rides, and {len(used)} count."
        )
        return Correction(best=None, error_pct=None, bound_pct=None, formula="", says=says, tried=(), correctable=False)
    tried = [_tried(model, used, level) for model in MODELS]
    possible = [one for one in tried if one is not None]
    best = possible[0]
    for one in possible[1:]:
        if one.error_pct < min(MUCH * best.error_pct, best.error_pct - LEAST_GAIN_PCT):
            best = one
    correctable = best.error_pct <= GOOD_PCT
    return Correction(
        best=best.model,
        error_pct=best.error_pct,
        bound_pct=best.bound_pct,
        formula=formula(best),
        says=_says(best, used, correctable=correctable),
        tried=tuple(possible),
        correctable=correctable,
    )


def formula(tried: CorrectionTried) -> str:
    """How to correct a reading, in numbers: power in W, cadence in rpm."""
    match tried.model:
        case CorrectionModel.NONE:
            return "corrected power = power shown"
        case CorrectionModel.GAIN | CorrectionModel.WITH_SETTLING:
            return f"corrected power = power shown / {tried.gain:.4f}"
        case CorrectionModel.GAIN_AND_ZERO:
            sign = "-" if tried.zero_nm >= 0 else "+"
            watts = abs(tried.zero_nm) * RADIANS_PER_S
            return f"corrected power = (power shown {sign} {watts:.4f} * cadence) / {tried.gain:.4f}"


def gain_and_zero(rides: Sequence[RideFigures]) -> tuple[float, float]:
    """Gain (1 where right) and zero (N·m) over rides, each weighted by what it knows and by how rides differ.

    The means of the rides add what each cannot tell alone: rides of different torque part a zero from a gain.
    """
    values = np.array([(ride.gain_pct / 100, ride.zero_nm) for ride in rides])
    within = np.array([_covariance(ride) for ride in rides])
    bias = np.array([_bias(ride) for ride in rides])
    lever = np.array([_lever(ride) for ride in rides])
    start = _weighted(values, within, 0.0)
    left = bias - start[0] - start[1] * lever
    own = np.array([(ride.bias_se_pct / 100) ** 2 for ride in rides])
    apart = between_variance(left, own, Between.PAULE_MANDEL) if len(rides) > 1 else 0.0
    found = _weighted(values, within, apart)
    return 1 + float(found[0]), float(found[1])


def _weighted(values: FloatArray, within: FloatArray, apart: float) -> FloatArray:
    """Generalised least squares mean of (gain, zero) pairs, the gain differing from ride to ride by ``apart``."""
    spread = within + np.diag([apart, 0.0]) + np.diag([1e-10, 1e-8])
    weight = np.linalg.inv(spread)
    return np.asarray(np.linalg.solve(weight.sum(axis=0), np.einsum("kij,kj->i", weight, values)))


def _covariance(ride: RideFigures) -> FloatArray:
    gain, both, zero = ride.relation_covariance
    return np.array([[gain / 1e4, both / 100], [both / 100, zero]])


def _lever(ride: RideFigures) -> float:
    """What one N·m of zero is in this ride's mean power, as a share."""
    return RADIANS_PER_S * ride.mean_rpm / ride.mean_w


def _none(_: Sequence[RideFigures], ride: RideFigures) -> float:
    return _bias(ride)


def _gain(others: Sequence[RideFigures], ride: RideFigures) -> float:
    return (1 + _bias(ride)) / _mean_gain(others) - 1


def _gain_and_zero(others: Sequence[RideFigures], ride: RideFigures) -> float:
    gain, zero = gain_and_zero(others)
    return (1 + _bias(ride) - zero * _lever(ride)) / gain - 1


def _with_settling(others: Sequence[RideFigures], ride: RideFigures) -> float:
    """The others' mean course of the bias, over this ride's length."""
    start, settled, tau = (
        float(np.mean([getattr(other, name) for other in others]))
        for name in ("start_bias_pct", "settled_bias_pct", "tau_min")
    )
    minutes = 60 * ride.hours
    early = tau / minutes * (1 - math.exp(-minutes / tau))
    return (1 + _bias(ride)) / (1 + (settled + (start - settled) * early) / 100) - 1


Left = Callable[[Sequence[RideFigures], RideFigures], float]

MODELS: dict[CorrectionModel, Left] = {
    CorrectionModel.NONE: _none,
    CorrectionModel.GAIN: _gain,
    CorrectionModel.GAIN_AND_ZERO: _gain_and_zero,
    CorrectionModel.WITH_SETTLING: _with_settling,
}
"""What is left of a ride's bias, as a share, after a correction learnt on the others; the simplest first."""


def _tried(model: CorrectionModel, rides: Sequence[RideFigures], level: float) -> CorrectionTried | None:
    """One model, or ``None`` where the rides do not hold what it needs."""
    if model is CorrectionModel.GAIN_AND_ZERO and not all(
        math.isfinite(ride.zero_nm + _lever(ride) + sum(ride.relation_covariance)) for ride in rides
    ):
        return None
    if model is CorrectionModel.WITH_SETTLING and not all(math.isfinite(ride.tau_min) for ride in rides):
        return None
    left = [MODELS[model]([other for other in rides if other is not ride], ride) for ride in rides]
    error = 100 * float(np.sqrt(np.mean(np.square(left))))
    gain, zero = 1.0, 0.0
    if model is CorrectionModel.GAIN_AND_ZERO:
        gain, zero = gain_and_zero(rides)
    elif model is CorrectionModel.WITH_SETTLING:
        gain = 1 + float(np.mean([ride.settled_bias_pct for ride in rides])) / 100
    elif model is CorrectionModel.GAIN:
        gain = _mean_gain(rides)
    bound = error * float(student_quantile(0.5 + level / 2, len(rides)))
    if model is CorrectionModel.NONE:
        # Nothing was taken out, so what is left has a mean, and rides lie about that.
        bias = 100 * np.array(left)
        around = float(bias.std(ddof=1)) * math.sqrt(1 + 1 / len(rides))
        bound = abs(float(bias.mean())) + around * float(student_quantile(0.5 + level / 2, len(rides) - 1))
    return CorrectionTried(model=model, error_pct=error, bound_pct=bound, gain=gain, zero_nm=zero)


def _bias(ride: RideFigures) -> float:
    """Bias apart from faults, which no correction mends, as a share."""
    if math.isfinite(ride.usual_bias_pct):
        return ride.usual_bias_pct / 100
    value = ride.bias_pct.value
    return math.nan if value is None else value / 100


def _mean_gain(rides: Sequence[RideFigures]) -> float:
    return 1 + float(np.mean([_bias(ride) for ride in rides]))


def _says(best: CorrectionTried, rides: Sequence[RideFigures], *, correctable: bool) -> str:
    shown = [100 * _bias(ride) for ride in rides]
    if not correctable:
        return (
            f"It cannot be corrected: from ride to ride it goes from {min(shown):+.1f} to {max(shown):+.1f} %, and the "
            f"best correction leaves {best.error_pct:.1f} % root mean square on a ride not used."
        )
    if best.model is CorrectionModel.NONE:
        off = _size(best.error_pct)
        return f"It needs no correction: as shown it is off by {off} % root mean square from ride to ride."
    how = {
        CorrectionModel.GAIN: "by one factor",
        CorrectionModel.GAIN_AND_ZERO: "by a factor and a zero",
        CorrectionModel.WITH_SETTLING: "by a factor once it has settled",
    }[best.model]
    return (
        f"It can be corrected {how}: {_size(best.error_pct)} % root mean square remain on a ride not used, and 95 % of "
        f"rides stay within {_size(best.bound_pct)} %."
    )


def _size(value_pct: float) -> str:
    """One decimal, and never 0.0: what is left is small, not nothing."""
    return "under 0.1" if value_pct < 0.05 else f"{value_pct:.1f}"
