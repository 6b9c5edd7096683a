"""Which way the bias goes along a ride: constant, drifting, settling or stepping, or not to be told from power."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wattwitness.agreement.relation import RelationBlocks
from wattwitness.agreement.settling_columns import (
    FINE_STEP_S,
    FINE_TAU_STEPS,
    LEAST_TAU_S,
    MOST_FINE_STEPS,
    MOST_TAU_SHARE,
    POWER_PRIORS,
    SHAPE_SD,
    TimeShape,
    explained_by_power,
    power_columns,
    settling_shape,
    step_shape,
    time_shapes,
)
from wattwitness.model.arrays import FloatArray
from wattwitness.model.settling import TimeModel
from wattwitness.stats.wandering import WanderingFit, WanderingProducts, wandering_products
from wattwitness.stats.wandering_scan import WanderingScan, either_scan, scan_wandering

PRIOR = {TimeModel.CONSTANT: 0.7, TimeModel.LINEAR: 0.1, TimeModel.SETTLING: 0.1, TimeModel.STEP: 0.1}

STAYS = 0.05
"""A change is told when the probability that the bias stays is below this."""

GOES_WITH_POWER = 0.8
"""Time and power cannot be parted when a smooth function of power has this share of the time shape's variance."""

NEGLIGIBLE = 1e-4

ACCOUNTS_BETTER = 35.0
"""Power and cadence account for the bias better than any course of time when their log evidence is so much more. Far
above what evidence needs, since a course of time that is none of those tried may follow a ramp closely too: on ramps
with a zero or a bias that goes with power it came to 5 to 26, on steps up and down to 50 and more."""

LEAST_CHANGE = 0.001
"""A change of bias along the ride that is smaller than this is what clock and response can make of a perfect unit."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class TimeFinding:
    """What the search came to.

    ``scan`` holds the shapes of the model found (``None`` where constant or confounded) and ``shapes`` what they are;
    ``base`` the model without time; ``columns`` what the bias may go with beside time.
    """

    model: TimeModel
    probabilities: tuple[tuple[TimeModel, float], ...]
    base: WanderingFit
    columns: dict[str, FloatArray]
    products: WanderingProducts
    scan: WanderingScan | None = None
    shapes: tuple[TimeShape, ...] = ()

    @property
    def best(self) -> TimeShape | None:
        """The likeliest shape of time; ``None`` where there is none."""
        return None if self.scan is None else self.shapes[int(np.argmax(self.scan.of_candidates))]


def search_time(blocks: RelationBlocks) -> TimeFinding:
    """Hold the models against each other, the rider's pacing and a bias that goes with power fitted beside them.

    A change is named when it stands with power and cadence allowed for, and time and power can be parted. Where the
    bias changed along the ride but power could account for it just as well, the answer is ``confounded``; where power
    accounts for it better, ``constant``.
    """
    columns = power_columns(blocks)
    shapes = time_shapes(blocks)
    every = [shape for of_model in shapes.values() for shape in of_model]
    products = _products(blocks, columns, every)
    beside = _scans(products, shapes, ("one", *columns))
    alone = _scans(products, shapes, ("one",))
    base = next(iter(beside.values())).without
    probabilities = _probabilities(beside)
    found = TimeFinding(
        model=TimeModel.CONSTANT,
        probabilities=tuple(probabilities.items()),
        base=base,
        columns=columns,
        products=products,
    )
    stays = probabilities[TimeModel.CONSTANT]
    if stays < STAYS:
        model = _likeliest(probabilities)
        if _change(beside[model], shapes[model]) < LEAST_CHANGE:
            return found
        if _parted(blocks, beside[model], shapes[model]):
            return _named(blocks, found, model, either_scan(beside[model], alone[model]), shapes[model])
        return _unnamed(found)
    by_time_alone = _probabilities(alone)
    if by_time_alone[TimeModel.CONSTANT] < STAYS:
        model = _likeliest(by_time_alone)
        if _change(alone[model], shapes[model]) < LEAST_CHANGE:
            return found
        if base.evidence - max(scan.evidence for scan in alone.values()) > ACCOUNTS_BETTER:
            return found
        if stays < 0.5 or not _parted(blocks, alone[model], shapes[model]):
            return _unnamed(found)
    return found


def _products(blocks: RelationBlocks, columns: dict[str, FloatArray], shapes: list[TimeShape]) -> WanderingProducts:
    every = {"error": blocks.error, "one": np.ones(blocks.count), **columns}
    every |= {shape.name: shape.values for shape in shapes}
    return wandering_products(blocks.at_s, every, blocks.noise, block_s=blocks.block_s)


def _scans(
    products: WanderingProducts, shapes: dict[TimeModel, tuple[TimeShape, ...]], columns: tuple[str, ...]
) -> dict[TimeModel, WanderingScan]:
    return {
        model: _scan(products, of_model, columns, SHAPE_SD[model]) for model, of_model in shapes.items() if of_model
    }


def _scan(
    products: WanderingProducts, shapes: tuple[TimeShape, ...], columns: tuple[str, ...], sd: float
) -> WanderingScan:
    prior_sd = {name: POWER_PRIORS[name] for name in columns if name != "one"}
    names = [shape.name for shape in shapes]
    return scan_wandering(products, "error", columns, names, candidate_sd=sd, prior_sd=prior_sd)


def _probabilities(scans: dict[TimeModel, WanderingScan]) -> dict[TimeModel, float]:
    base = next(iter(scans.values())).without.evidence
    odds = {TimeModel.CONSTANT: PRIOR[TimeModel.CONSTANT]}
    top = max(0.0, *(scan.evidence - base for scan in scans.values()))
    odds[TimeModel.CONSTANT] *= np.exp(-top)
    odds |= {model: PRIOR[model] * np.exp(scan.evidence - base - top) for model, scan in scans.items()}
    total = sum(odds.values())
    return {model: float(value / total) for model, value in odds.items()}


def _likeliest(probabilities: dict[TimeModel, float]) -> TimeModel:
    return max((model for model in probabilities if model is not TimeModel.CONSTANT), key=lambda m: probabilities[m])


def _change(scan: WanderingScan, shapes: tuple[TimeShape, ...]) -> float:
    """Size of the change of bias from the first to the last second by the likeliest of ``shapes``, a share."""
    best = int(np.argmax(scan.of_candidates))
    return abs(scan.coefficients_with(best)[1] * (shapes[best].at_start - shapes[best].at_end))


def _parted(blocks: RelationBlocks, scan: WanderingScan, shapes: tuple[TimeShape, ...]) -> bool:
    """Whether the ride tells the likeliest of ``shapes`` from a bias that goes with power."""
    best = shapes[int(np.argmax(scan.of_candidates))]
    return explained_by_power(blocks, best.values) < GOES_WITH_POWER


def _unnamed(found: TimeFinding) -> TimeFinding:
    return TimeFinding(
        model=TimeModel.CONFOUNDED,
        probabilities=found.probabilities,
        base=found.base,
        columns=found.columns,
        products=found.products,
    )


def _named(
    blocks: RelationBlocks,
    found: TimeFinding,
    model: TimeModel,
    scan: WanderingScan,
    shapes: tuple[TimeShape, ...],
) -> TimeFinding:
    if model is not TimeModel.LINEAR:
        shapes = _finer(blocks, scan, shapes, model)
        products, sd = _products(blocks, found.columns, list(shapes)), SHAPE_SD[model]
        beside = _scan(products, shapes, ("one", *found.columns), sd)
        scan = either_scan(beside, _scan(products, shapes, ("one",), sd))
    return TimeFinding(
        model=model,
        probabilities=found.probabilities,
        base=found.base,
        columns=found.columns,
        products=found.products,
        scan=scan,
        shapes=shapes,
    )


def _finer(
    blocks: RelationBlocks, scan: WanderingScan, shapes: tuple[TimeShape, ...], model: TimeModel
) -> tuple[TimeShape, ...]:
    """Settings between those that the first look left possible: times of a step evenly spaced, time constants evenly in
    their logarithm.
    """
    possible = np.flatnonzero(scan.of_candidates > NEGLIGIBLE * scan.of_candidates.max())
    tried = np.array([shape.setting for shape in shapes])
    low = float(tried[max(int(possible[0]) - 1, 0)])
    high = float(tried[min(int(possible[-1]) + 1, tried.size - 1)])
    if model is TimeModel.SETTLING:
        return tuple(settling_shape(blocks, float(tau)) for tau in np.geomspace(low, high, FINE_TAU_STEPS))
    count = min(round((high - low) / FINE_STEP_S) + 1, MOST_FINE_STEPS)
    return tuple(step_shape(blocks, float(at)) for at in np.linspace(low, high, count))


def longest_tau_s(blocks: RelationBlocks) -> float:
    """The longest time constant that is tried, seconds."""
    return max(MOST_TAU_SHARE * (blocks.ends_s - blocks.begins_s), 1.5 * LEAST_TAU_S)
