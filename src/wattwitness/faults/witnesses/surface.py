"""Each meter's power against its own surface over cadence and resistance, fitted on the rest of the ride.

On a bike whose resistance is logged, cadence and resistance foretell the power. The meter that left its surface while
the other kept to its own is at fault; neither needs to be right for that. Where the unit's power follows from cadence
and resistance so closely that it may be computed from them, its surface can no longer speak for it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wattwitness.faults.witnesses.changes import change_in, percent_of_log
from wattwitness.faults.witnesses.ground import ADDED_W, Ground, RunningMeans, Stretch
from wattwitness.faults.witnesses.heard import SPEAKS, Heard, Listener, capped, supported
from wattwitness.faults.witnesses.places import against_around, here, log_broad, log_density, places, robust_spread
from wattwitness.faults.witnesses.words import signed, to_one
from wattwitness.model.anatomy import MeterSide
from wattwitness.model.arrays import BoolArray, FloatArray
from wattwitness.model.episodes import Finding, Witness, WitnessKind
from wattwitness.model.estimate import Estimate
from wattwitness.model.recording import ChannelName

NAME = "surface"

SMOOTH_S = 5
LEAST_RPM = 30.0
LEAST_SECONDS = 300
LEAST_PLACES = 8
LEAST_SPREAD = 0.012
COMPUTED_SPREAD = 0.012
"""A unit that keeps so close to its surface, as a share of power over 5 s, may compute its power from it."""

BEYOND = 0.15
"""A stretch further than this share of the ridden range outside it is ground where the surface was never seen."""

MOST_WEAK = 1.0
MOST_LOG_ODDS = 5.0
"""Natural logarithm of 150 to 1."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Surface:
    """One meter's surface over the ride: ``foretold`` (n,) the logarithm of power, ``left`` what the meter shows
    beyond it; ``scatter`` its robust standard deviation outside candidates.
    """

    foretold: RunningMeans
    left: RunningMeans
    scatter: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Inputs:
    """Cadence and resistance on one ride: whose, and the columns (n, p), NaN rows where either is missing."""

    recorded_by: str
    logs_unit: bool
    columns: FloatArray
    fitted: BoolArray


def listener(ground: Ground) -> Listener:
    """One that fits both surfaces when first asked."""
    kept: list[tuple[_Inputs, Surface, Surface] | None] = []

    def hear(stretch: Stretch) -> Heard | None:
        if not any(True for _ in ground.ride.channels(ChannelName.RESISTANCE)):
            return None
        if not kept:
            kept.append(_surfaces(ground))
        if kept[0] is None:
            return None
        return Heard(witness=_weighed(ground, stretch, *kept[0]))

    return hear


def _surfaces(ground: Ground) -> tuple[_Inputs, Surface, Surface] | None:
    inputs = _inputs(ground)
    if inputs is None:
        return None
    return inputs, _fitted(inputs, ground.by_reference_w), _fitted(inputs, ground.by_unit_w)


def _inputs(ground: Ground) -> _Inputs | None:
    side, recorded_by, level = list(ground.ride.channels(ChannelName.RESISTANCE))[-1]
    cadences = {whose: values for whose, _, values in ground.ride.channels(ChannelName.CADENCE)}
    if not cadences:
        return None
    cadence = cadences.get(side, next(iter(cadences.values())))
    turning = np.where(cadence >= LEAST_RPM, cadence, np.nan)
    with np.errstate(invalid="ignore"):
        log_rpm = np.log(_smooth(turning))
    level = _smooth(level)
    known = np.isfinite(log_rpm) & np.isfinite(level)
    fitted = known & ground.outside & np.isfinite(ground.by_reference_w) & np.isfinite(ground.by_unit_w)
    if np.count_nonzero(fitted) < LEAST_SECONDS:
        return None
    rpm, grade = (_scaled(values, fitted) for values in (log_rpm, level))
    columns = np.stack([np.ones(rpm.size), rpm, grade, grade * grade, rpm * grade], axis=1)
    return _Inputs(recorded_by=recorded_by, logs_unit=side is MeterSide.UNIT, columns=columns, fitted=fitted)


def _smooth(values: FloatArray) -> FloatArray:
    held = RunningMeans.of(values)
    at = np.arange(values.size)
    return held.mean(at - SMOOTH_S // 2, at + SMOOTH_S // 2 + 1)


def _scaled(values: FloatArray, fitted: BoolArray) -> FloatArray:
    low, high = np.quantile(values[fitted], [0.02, 0.98])
    return np.asarray((values - (low + high) / 2) / max(float(high - low) / 2, 0.02))


def _fitted(inputs: _Inputs, power_w: FloatArray) -> Surface:
    """Robust fit (Huber's weights, a slight pull of every curvature towards none) of the logarithm of power."""
    log_power = np.log(_smooth(power_w) + ADDED_W)
    use = np.flatnonzero(inputs.fitted & np.isfinite(log_power))[::SMOOTH_S]
    design, target = inputs.columns[use], log_power[use]
    pull = np.diag([0.0, 1e-3, 1e-3, 1e-1, 1e-1]) * use.size * 1e-2
    weight = np.ones(use.size)
    coefficients: FloatArray = np.zeros(design.shape[1])
    for _ in range(6):
        normal = (design * weight[:, None]).T @ design + pull + 1e-9 * np.eye(design.shape[1])
        coefficients = np.asarray(np.linalg.solve(normal, (design * weight[:, None]).T @ target))
        left = np.abs(target - design @ coefficients)
        scatter = 1.4826 * float(np.median(left)) + 1e-4
        weight = np.minimum(1.0, 1.5 * scatter / np.maximum(left, 1e-9))
    foretold = inputs.columns @ coefficients
    return Surface(foretold=RunningMeans.of(foretold), left=RunningMeans.of(log_power - foretold), scatter=scatter)


def _weighed(ground: Ground, stretch: Stretch, inputs: _Inputs, reference: Surface, unit: Surface) -> Witness:
    by_unit, by_reference = (
        change_in(power, ground, stretch, unit="%") for power in (ground.by_unit_w, ground.by_reference_w)
    )
    first, length = places(ground, stretch.seconds)
    left = [here(surface.left, stretch, ground) for surface in (reference, unit)]
    foretold = here(reference.foretold, stretch, ground)
    if first.size < LEAST_PLACES or not np.isfinite([*left, foretold]).all() or _beyond(inputs, stretch):
        why = "cadence and resistance did here what they did nowhere else, so nothing foretells the power"
        return _witness(
            inputs, Estimate.missing("not_foretold", "%"), by_unit, by_reference, 0.0, f"{why}.".capitalize()
        )
    spreads = []
    for surface in (reference, unit):
        usual = against_around(surface.left, first, first + length)
        spreads.append(max(1.2 * robust_spread(usual[np.isfinite(usual)]), LEAST_SPREAD))
    log_odds = (
        log_density(left[0], spreads[0]) - log_broad(left[0]) - log_density(left[1], spreads[1]) + log_broad(left[1])
    )
    log_odds = capped(log_odds, MOST_LOG_ODDS)
    computed = inputs.logs_unit and unit.scatter < COMPUTED_SPREAD
    if computed and log_odds < 0:
        log_odds = max(log_odds, -MOST_WEAK)
    reach = 1.96 * spreads[0]
    change = Estimate(
        value=percent_of_log(foretold),
        low=percent_of_log(foretold - reach),
        high=percent_of_log(foretold + reach),
        unit="%",
    )
    names = ground.ride.reference_name, ground.ride.unit_name
    says = (
        f"Cadence and resistance foretold a change of power by {signed(change)}; {names[0]} changed by "
        f"{signed(by_reference)} and {names[1]} by {signed(by_unit)}"
    )
    if abs(log_odds) >= SPEAKS:
        says += f": {to_one(log_odds)} for {names[0] if log_odds > 0 else names[1]}"
    if computed:
        says += f". {names[1]} follows its cadence and resistance so closely that it may compute its power from them"
    return _witness(inputs, change, by_unit, by_reference, log_odds, f"{says}.")


def _beyond(inputs: _Inputs, stretch: Stretch) -> bool:
    """Whether cadence or resistance left the range that the surface was fitted on."""
    within = inputs.columns[stretch.first : stretch.stop, 1:3]
    within = within[np.isfinite(within).all(axis=1)]
    return within.shape[0] < 2 or bool(np.any(np.abs(np.median(within, axis=0)) > 1 + 2 * BEYOND + 0.5))


def _witness(
    inputs: _Inputs, change: Estimate, by_unit: Estimate, by_reference: Estimate, log_odds: float, says: str
) -> Witness:
    return Witness(
        kind=WitnessKind.SURFACE,
        recorded_by=inputs.recorded_by,
        change=change,
        expected_if_unit_right=by_unit,
        expected_if_reference_right=by_reference,
        log_odds=log_odds,
        supports=supported(log_odds) if log_odds else Finding.UNDETERMINED,
        says=says,
    )
