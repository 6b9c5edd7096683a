"""Contributions combined into a budget, in percent of a result that each of them multiplies."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from wattwitness.model.arrays import FloatArray
from wattwitness.model.budget import Budget, Contribution
from wattwitness.reference.propagation import Input, combined, monte_carlo


def budget_of(
    contributions: Iterable[Contribution],
    *,
    level: float,
    of_reference: frozenset[str] = frozenset(),
    notes: tuple[str, ...] = (),
    seed: int = 1,
) -> Budget:
    """Combine independent ``contributions`` to one relative uncertainty.

    The model is a product of factors 1 + c_i·x_i with x_i around zero. ``of_reference`` names the contributions
    that belong to the reference meter. The Monte Carlo takes the product as it is; the law of propagation its first
    order.
    """
    parts = tuple(contributions)
    sizes = np.array([part.contribution_pct for part in parts])
    law = combined(0.0, sizes, [part.degrees for part in parts], level)
    inputs = [
        Input(
            estimate=0.0,
            standard_uncertainty=part.contribution_pct,
            distribution=part.distribution,
            degrees=part.degrees,
        )
        for part in parts
    ]
    drawn = monte_carlo(_product_pct, inputs, level, seed=seed)
    return Budget(
        contributions=parts,
        level=level,
        standard_pct=law.standard,
        degrees=law.degrees,
        coverage_factor=law.coverage_factor,
        expanded_pct=law.expanded,
        monte_carlo_low_pct=min(drawn.low, 0.0),
        monte_carlo_high_pct=max(drawn.high, 0.0),
        common_pct=_root_sum(part.contribution_pct for part in parts if part.common),
        reference_pct=_root_sum(part.contribution_pct for part in parts if part.name in of_reference),
        notes=notes,
    )


def _product_pct(deviations_pct: FloatArray) -> FloatArray:
    return np.asarray(100 * (np.prod(1 + deviations_pct / 100, axis=0) - 1), dtype=np.float64)


def _root_sum(values: Iterable[float]) -> float:
    return float(np.sqrt(sum(value**2 for value in values)))
