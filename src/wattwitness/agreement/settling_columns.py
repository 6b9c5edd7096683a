"""What the bias may go with along a ride: the shapes of time that are tried, and power and cadence beside them."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from wattwitness.agreement.relation import RelationBlocks
from wattwitness.model.arrays import FloatArray
from wattwitness.model.settling import TimeModel
from wattwitness.stats.wandering import fit_wandering, innovations, wandering_products

LEAST_TAU_S = 60.0
MOST_TAU_SHARE = 0.6
"""A time constant beyond this part of the ride is a drift: what it would settle at is not seen."""

TAU_STEPS = 14
FINE_TAU_STEPS = 25
FINE_STEP_S = 5.0
MOST_FINE_STEPS = 100
MOST_STEPS = 40
LEAST_SIDE_S = 120.0
"""A step needs this much of the ride on either side, or a twentieth of it."""

POWER_PRIORS = {"power": 0.03, "bend": 0.01, "watts": 5.0, "zero": 1.5, "cadence": 0.01}
"""How far the bias is expected to go with each, as standard deviations around none: per 100 W; per (100 W)^2; W; N·m;
per 10 rpm. Wide beside what is on record for meters in use, so that the ride decides wherever it can."""

TIMINGS_S = (0.0, 0.1, 0.25, 0.6)
OUTLYING = 2.5
MEDIAN_OF_NORMAL = 0.6745
"""Median of the absolute value of a standard normal."""

SHAPE_SD = {TimeModel.SETTLING: 0.08, TimeModel.LINEAR: 0.04, TimeModel.STEP: 0.04}
"""Size of a change along the ride that is expected of each shape, as a standard deviation: brakes on record change by
2 to 12 % as they warm up."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TimeShape:
    """One shape of the bias over time: (n,) values on the blocks, their value at the first and last common second.

    ``setting`` is the time constant in seconds (settling), or when the step came (seconds after the reference's first
    sample); NaN for a drift. All shapes end, or are bound, at the value that the settled bias has: zero.
    """

    model: TimeModel
    name: str
    values: FloatArray
    at_start: float
    at_end: float
    setting: float


def power_columns(blocks: RelationBlocks) -> dict[str, FloatArray]:
    """Columns with which a bias may go that are the rider's doing, each (n,), zero at the ride's mean power.

    Power is the mean of both meters, so that its noise does not lean to either. Columns that are there only with
    cadence are left out without it.
    """
    power = np.maximum(blocks.both_w, 1.0)
    columns = {"power": power / 100, "bend": (power / 100 - np.mean(power) / 100) ** 2, "watts": 1 / power}
    if np.all(np.isfinite(blocks.omega)):
        columns |= {"zero": blocks.omega / power, "cadence": blocks.omega * 30 / np.pi / 10}
    return {name: values - np.average(values, weights=blocks.expected_w) for name, values in columns.items()}


def steadied(blocks: RelationBlocks) -> RelationBlocks:
    """The same blocks, those in which the effort changed, and those that stand out, given less weight.

    What a response or clock that is a little off moves over a block's edges is learnt from the ride: the likeliest of
    ``TIMINGS_S``. A sprint that a response does not quite fit, or a fault, is no white noise of its neighbours' size:
    blocks more than ``OUTLYING`` standard deviations off what the others tell are given the noise that puts them there.
    Huber's weights, Huber PJ (1964) Ann. Math. Stat. 35:73-101 (from memory), one step.
    """
    if blocks.lacks:
        return blocks
    columns = {"error": blocks.error, "one": np.ones(blocks.count), **power_columns(blocks)}
    prior_sd = {name: POWER_PRIORS[name] for name in columns if name in POWER_PRIORS}
    names = [name for name in columns if name != "error"]
    candidates = [blocks.noise + timing_s**2 * blocks.edge for timing_s in TIMINGS_S]
    evidences = [
        fit_wandering(
            wandering_products(blocks.at_s, columns, noise, block_s=blocks.block_s), "error", names, prior_sd=prior_sd
        ).evidence
        for noise in candidates
    ]
    blocks = replace(blocks, noise=candidates[int(np.argmax(evidences))])
    off = innovations(blocks.at_s, columns, blocks.noise, block_s=blocks.block_s, response="error", prior_sd=prior_sd)
    # The spread of most blocks: the outlying ones must not hide themselves by making everything look wide.
    spread = max(float(np.median(np.abs(off))) / MEDIAN_OF_NORMAL, 1e-9)
    far = np.maximum(np.abs(off) / (OUTLYING * spread), 1.0)
    return replace(blocks, noise=blocks.noise * far**2)


def settling_shape(blocks: RelationBlocks, tau_s: float) -> TimeShape:
    """exp(-t/tau) from the first common second, as means over the blocks."""
    half = blocks.block_s / 2 / tau_s
    spread = np.sinh(half) / half
    return TimeShape(
        model=TimeModel.SETTLING,
        name=f"settling {tau_s!r}",
        values=spread * np.exp(-(blocks.at_s - blocks.begins_s) / tau_s),
        at_start=1.0,
        at_end=float(np.exp(-(blocks.ends_s - blocks.begins_s) / tau_s)),
        setting=tau_s,
    )


def time_shapes(blocks: RelationBlocks) -> dict[TimeModel, tuple[TimeShape, ...]]:
    """The shapes tried first, by model."""
    span_s = blocks.ends_s - blocks.begins_s
    longest = max(MOST_TAU_SHARE * span_s, 1.5 * LEAST_TAU_S)
    drift = TimeShape(
        model=TimeModel.LINEAR,
        name="linear",
        values=(blocks.at_s - blocks.begins_s) / span_s - 0.5,
        at_start=-0.5,
        at_end=0.5,
        setting=float("nan"),
    )
    return {
        TimeModel.LINEAR: (drift,),
        TimeModel.SETTLING: tuple(
            settling_shape(blocks, float(tau)) for tau in np.geomspace(LEAST_TAU_S, longest, TAU_STEPS)
        ),
        TimeModel.STEP: _steps(blocks, span_s),
    }


def _steps(blocks: RelationBlocks, span_s: float) -> tuple[TimeShape, ...]:
    """1 before the step and 0 after it, for steps between blocks."""
    side_s = max(LEAST_SIDE_S, span_s / 20)
    between = (blocks.at_s[1:] + blocks.at_s[:-1]) / 2
    places = between[(between >= blocks.begins_s + side_s) & (between <= blocks.ends_s - side_s)]
    chosen = places[np.unique(np.linspace(0, places.size - 1, min(MOST_STEPS, places.size)).astype(int))]
    return tuple(step_shape(blocks, float(at)) for at in chosen)


def step_shape(blocks: RelationBlocks, at_s: float) -> TimeShape:
    """1 before ``at_s`` and 0 after it, as means over the blocks: the block it falls into has its part."""
    return TimeShape(
        model=TimeModel.STEP,
        name=f"step {at_s!r}",
        values=np.clip((at_s - blocks.at_s) / blocks.block_s + 0.5, 0.0, 1.0),
        at_start=1.0,
        at_end=0.0,
        setting=at_s,
    )


def explained_by_power(blocks: RelationBlocks, values: FloatArray) -> float:
    """Share of the variance of a time shape ``values`` (n,) that any smooth function of power (and torque) has too.

    A cubic in the logarithm of power, and the reciprocal of torque. Near one, time and power went hand in hand
    through the ride, and what the bias does with one cannot be told from what it does with the other.
    """
    log_power = np.log(np.maximum(blocks.both_w, 1.0))
    spread = float(np.std(log_power))
    if spread <= 0:
        return 0.0
    place = (log_power - log_power.mean()) / spread
    basis = [np.ones(place.size), place, place**2, place**3]
    if np.all(np.isfinite(blocks.omega)):
        basis.append(blocks.omega / blocks.both_w)
    design = np.column_stack(basis)
    left = values - design @ np.linalg.lstsq(design, values, rcond=None)[0]
    total = float(np.sum((values - values.mean()) ** 2))
    return 1 - float(left @ left) / total if total > 0 else 0.0
