"""What the bias does with power, cadence and time when the three are fitted together."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wattwitness.agreement.common import CommonStretch, common_stretch
from wattwitness.model.agreement import BandTrend
from wattwitness.model.arrays import BoolArray, FloatArray
from wattwitness.model.estimate import Estimate
from wattwitness.stats.longrun import fit_seconds, half_width
from wattwitness.stats.moving import centred_mean

UNIT = "percentage points"
LEAST_SECONDS = 600
LEAST_POWER_SPREAD = 0.05
LEAST_CADENCE_SPREAD_RPM = 2.0
LEAST_SHARE = 0.25
"""Power and cadence must be known together on this share of the common seconds."""

VISIBLE_POINTS = 0.5
"""A trend that changes the bias by less than this over the ride's middle 80 % of power, cadence or time goes unseen."""

MOST_EXPLAINED = 0.9
"""A quantity of which the others explain more than this share of the variance cannot be told from them."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Quantity:
    """Something the bias may go with: values (n,) in steps of the slope, or the slug of why it cannot be used."""

    name: str
    per: str
    values: FloatArray
    lacks: str


def band_trend(
    time_s: FloatArray, cadence_rpm: FloatArray, expected_w: FloatArray, unit_w: FloatArray, *, level: float
) -> BandTrend:
    """Fit unit / expected = b0 + b1 power + b2 cadence + b3 time, together and each alone.

    Shapes (n,), NaN where missing. Power and cadence are 30 s means, power that by which bands are entered. The
    coefficients solve sum (1, power, cadence, time) (unit - expected (b0 + ...)) = 0, of which the ratio of sums is the
    case without slopes, so that noise of the reference, which is on both sides, does not bend them. Intervals respect
    slow wander (``stats.longrun``). Not assessed: ``no_cadence``, ``not_varied`` where the ride holds power or cadence
    nearly constant, ``collinear`` where the other two all but give it, ``too_many_gaps``, ``too_short`` under
    ten minutes.
    """
    stretch = common_stretch(expected_w, unit_w)
    slug = stretch.lacks or ("too_short" if stretch.present.size < LEAST_SECONDS else "")
    if slug:
        missing = Estimate.missing(slug, UNIT, level)
        return _trend({}, {}, missing, mixed=False, why="")
    quantities = _quantities(stretch, time_s, cadence_rpm)
    used = [quantity for quantity in quantities if not quantity.lacks]
    known = stretch.present & np.all([np.isfinite(quantity.values) for quantity in used], axis=0)
    if known.sum() < LEAST_SHARE * stretch.present.sum():
        return _trend({}, {}, Estimate.missing("too_many_gaps", UNIT, level), mixed=False, why="")
    together = dict(zip([q.name for q in used], _slopes(stretch, used, known, level), strict=True))
    alone = {q.name: _slopes(stretch, [q], known, level)[0] for q in used}
    for quantity in quantities:
        if quantity.lacks:
            together[quantity.name] = alone[quantity.name] = Estimate.missing(quantity.lacks, UNIT, level)
    reasons = [reason for q in used if (reason := _reason(q, known, alone[q.name], together))]
    missing = Estimate.missing("too_short", UNIT, level)
    return _trend(together, alone, missing, mixed=bool(reasons), why=" ".join(reasons))


def _trend(
    together: dict[str, Estimate], alone: dict[str, Estimate], missing: Estimate, *, mixed: bool, why: str
) -> BandTrend:
    """The result, with ``missing`` wherever there is no slope."""
    return BandTrend(
        per_100_w=together.get("power", missing),
        per_10_rpm=together.get("cadence", missing),
        per_hour=together.get("time", missing),
        alone_per_100_w=alone.get("power", missing),
        alone_per_10_rpm=alone.get("cadence", missing),
        alone_per_hour=alone.get("time", missing),
        mixed=mixed,
        why=why,
    )


def _quantities(stretch: CommonStretch, time_s: FloatArray, cadence_rpm: FloatArray) -> list[_Quantity]:
    """Power, cadence and time over the stretch, and which of them the ride varies."""
    cut = slice(stretch.first, stretch.first + stretch.present.size)
    power_w, smooth_rpm = stretch.band_power_w, centred_mean(cadence_rpm[cut], 30)
    least_w = LEAST_POWER_SPREAD * float(stretch.expected_w.sum() / stretch.present.sum())
    no_power = _lack(power_w[stretch.present], least_w, "too_many_gaps")
    no_cadence = _lack(smooth_rpm[stretch.present], LEAST_CADENCE_SPREAD_RPM, "no_cadence")
    return [
        _Quantity(name="power", per="100 W", values=power_w / 100, lacks=no_power),
        _Quantity(name="cadence", per="10 rpm", values=smooth_rpm / 10, lacks=no_cadence),
        _Quantity(name="time", per="hour", values=time_s[cut] / 3600, lacks=""),
    ]


def _lack(values: FloatArray, least_spread: float, missing: str) -> str:
    """Slug of why a slope with ``values`` cannot be fitted: most are NaN (``missing``), or all are much the same."""
    known = values[np.isfinite(values)]
    if known.size < values.size / 2:
        return missing
    return "" if float(np.std(known)) >= least_spread else "not_varied"


def _slopes(stretch: CommonStretch, quantities: list[_Quantity], known: BoolArray, level: float) -> list[Estimate]:
    """Slope of the bias with each of ``quantities``, fitted together, in percentage points."""
    at = np.flatnonzero(known)
    expected_w = stretch.expected_w[at]
    values = np.array([quantity.values[at] for quantity in quantities])
    values -= values.mean(axis=1, keepdims=True)
    instruments = np.vstack([np.ones(at.size), values])
    fit = fit_seconds(at, instruments, instruments * expected_w, stretch.unit_w[at], expected_w)
    slopes = []
    for index in range(len(quantities)):
        if not fit.determined or _explained(values, index) > MOST_EXPLAINED:
            slopes.append(Estimate.missing("collinear", UNIT, level))
            continue
        half = 100 * half_width(stretch.run, fit, fit.coefficient_weights(index + 1), level)
        slope = 100 * float(fit.coefficients[index + 1])
        slopes.append(Estimate(value=slope, low=slope - half, high=slope + half, unit=UNIT, level=level))
    return slopes


def _explained(values: FloatArray, index: int) -> float:
    """Share of the variance of row ``index`` that the other rows explain; 1 where it does not vary."""
    centred = values - values.mean(axis=1, keepdims=True)
    own, others = centred[index], np.delete(centred, index, axis=0)
    spread = float(own @ own)
    if spread <= 0:
        return 1.0
    left = own - np.linalg.lstsq(others @ others.T, others @ own, rcond=None)[0] @ others
    return 1 - float(left @ left) / spread


def _reason(quantity: _Quantity, known: BoolArray, alone: Estimate, together: dict[str, Estimate]) -> str:
    """A sentence where the slope alone is not that beside the others; empty where it is, or none is to be seen.

    The mix of efforts is to blame only where one of the others does carry a slope.
    """
    held = together[quantity.name]
    if alone.value is None:
        return ""
    seen = f"Alone, the bias changes by {alone.value:+.1f} percentage points per {quantity.per}"
    if held.value is None or held.low is None or held.high is None:
        told = "" if _holds_zero(alone) else "but in this ride that cannot be told from a change with the others."
        return f"{seen}, {told}" if told else ""
    low, high = np.quantile(quantity.values[known], [0.1, 0.9])
    if abs(alone.value - held.value) * (high - low) < VISIBLE_POINTS:
        return ""
    others = [estimate for name, estimate in together.items() if name != quantity.name]
    parted = f"{seen}; with the others held, by {held.value:+.1f} ({held.low:+.1f} to {held.high:+.1f})."
    if _collapses(alone.value, held.value) and _holds_zero(held) and not all(_holds_zero(other) for other in others):
        return f"{parted} A trend in a table by {quantity.name} could come from the rider's mix of efforts."
    if _collapses(held.value, alone.value) and not _holds_zero(held):
        return f"{parted} The rider's mix of efforts hides this in a table by {quantity.name}."
    return ""


def _collapses(slope: float, other: float) -> bool:
    """Whether ``other`` is of another sign than ``slope``, or less than half of it."""
    return other * slope < 0 or abs(other) < abs(slope) / 2


def _holds_zero(estimate: Estimate) -> bool:
    """Whether the interval holds zero; one that was not assessed says nothing and counts as if it did."""
    return estimate.low is None or estimate.high is None or estimate.low <= 0 <= estimate.high
