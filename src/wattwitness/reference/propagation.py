"""How uncertain inputs make a result uncertain: by the law of propagation, and by propagating distributions.

JCGM 100:2008 (GUM) and its supplement JCGM 101:2008, for a model of any form and inputs that are independent.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from wattwitness.model.arrays import FloatArray
from wattwitness.model.budget import Distribution
from wattwitness.stats.quantiles import student_quantile

DRAWS = 20_000
"""Draws of a Monte Carlo: the ends of a 95 % interval then scatter by about 1 % of its width."""

LEAST_DEGREES = 1.0

Model = Callable[[FloatArray], FloatArray]
"""The measurement model: inputs of shape (q, ...), the result of shape (...)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Input:
    """An input quantity: its estimate, how it may lie around it, its standard uncertainty and degrees of freedom.

    With a normal distribution and finite degrees of freedom its Monte Carlo draws follow Student's t, scaled
    (JCGM 101:2008, 6.4.9).
    """

    estimate: float
    standard_uncertainty: float
    distribution: Distribution = Distribution.NORMAL
    degrees: float = math.inf


@dataclass(frozen=True, slots=True, kw_only=True)
class Propagated:
    """The result of the law of propagation.

    ``parts`` are the inputs' contributions, sensitivity times standard uncertainty, with their signs.
    """

    value: float
    parts: tuple[float, ...]
    standard: float
    degrees: float
    coverage_factor: float
    expanded: float


@dataclass(frozen=True, slots=True, kw_only=True)
class MonteCarlo:
    """The result of propagating distributions: mean, standard deviation, probabilistically symmetric interval."""

    mean: float
    standard: float
    low: float
    high: float


def propagate(model: Model, inputs: Sequence[Input], level: float) -> Propagated:
    """Combine ``inputs`` through ``model`` by the law of propagation, first order.

    JCGM 100:2008, equation 10 with the sensitivities by difference over one standard uncertainty to either side (its
    5.1.3, note 2); effective degrees of freedom by equation G.2b, not rounded down; coverage factor by Student's t.
    """
    estimates = np.array([item.estimate for item in inputs])
    steps = np.diag([item.standard_uncertainty for item in inputs])
    at = np.concatenate([estimates[:, None], estimates[:, None] + steps, estimates[:, None] - steps], axis=1)
    values = model(at)
    count = len(inputs)
    parts = (values[1 : count + 1] - values[count + 1 :]) / 2
    return combined(float(values[0]), parts, [item.degrees for item in inputs], level)


def combined(value: float, parts: FloatArray, degrees: Sequence[float], level: float) -> Propagated:
    """The combination of independent ``parts`` (q,), each a standard uncertainty in the result."""
    standard = float(np.sqrt(np.sum(np.square(parts))))
    effective = welch_satterthwaite(parts, degrees)
    factor = student_quantile(level, effective)
    return Propagated(
        value=value,
        parts=tuple(float(part) for part in parts),
        standard=standard,
        degrees=effective,
        coverage_factor=factor,
        expanded=factor * standard,
    )


def welch_satterthwaite(parts: FloatArray, degrees: Sequence[float]) -> float:
    """Effective degrees of freedom of the sum of independent ``parts`` (q,): JCGM 100:2008, equation G.2b."""
    finite = np.isfinite(degrees) & (np.abs(parts) > 0)
    below = float(np.sum(np.asarray(parts)[finite] ** 4 / np.asarray(degrees)[finite]))
    total = float(np.sum(np.square(parts)))
    return max(total**2 / below, LEAST_DEGREES) if below > 0 else math.inf


def monte_carlo(
    model: Model, inputs: Sequence[Input], level: float, *, seed: int = 1, draws: int = DRAWS
) -> MonteCarlo:
    """Combine ``inputs`` through ``model`` by drawing from their distributions (JCGM 101:2008, clause 7)."""
    generator = np.random.default_rng(seed)
    results = np.sort(model(np.array([_drawn(item, generator, draws) for item in inputs])))
    low, high = np.quantile(results, [0.5 - level / 2, 0.5 + level / 2])
    return MonteCarlo(mean=float(results.mean()), standard=float(results.std(ddof=1)), low=float(low), high=float(high))


def _drawn(item: Input, generator: np.random.Generator, draws: int) -> FloatArray:
    half_width = item.standard_uncertainty * item.distribution.divisor
    match item.distribution:
        case Distribution.NORMAL:
            normal = math.isinf(item.degrees)
            unit = generator.standard_normal(draws) if normal else generator.standard_t(item.degrees, draws)
        case Distribution.RECTANGULAR:
            unit = generator.uniform(-1.0, 1.0, draws)
        case Distribution.TRIANGULAR:
            unit = generator.uniform(-0.5, 0.5, draws) + generator.uniform(-0.5, 0.5, draws)
        case Distribution.ARCSINE:
            unit = np.sin(generator.uniform(0.0, 2 * math.pi, draws))
    return np.asarray(item.estimate + half_width * unit, dtype=np.float64)
