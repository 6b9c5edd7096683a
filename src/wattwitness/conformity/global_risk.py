"""Risks of an acceptance interval before anything is measured: JCGM 106:2012, clause 9.5."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from wattwitness.model.arrays import FloatArray

NODES = 4001


@dataclass(frozen=True, slots=True, kw_only=True)
class GlobalRisks:
    """``nonconforming``: share of items beyond tolerance; ``consumers``: share that is beyond and accepted (9.5.2,
    eq. 17 ff.); ``producers``: share that is within and rejected.
    """

    nonconforming: float
    consumers: float
    producers: float


def global_risks(
    density: Callable[[FloatArray], FloatArray],
    span: tuple[float, float],
    *,
    tolerance: tuple[float, float],
    acceptance: tuple[float, float],
    measurement: float,
) -> GlobalRisks:
    """Risks for items that vary by ``density``, measured with a normal error of standard uncertainty ``measurement``.

    ``span`` holds (nearly) all of the density; intervals are closed, either end may be infinite. The integral is cut at
    the ends of ``tolerance``, where the integrand jumps. Raises ValueError where ``measurement`` is not above 0.
    """
    from scipy.special import ndtr

    if not measurement > 0:
        raise ValueError("a measurement without uncertainty carries no risk to compute")
    cuts = sorted({span[0], span[1], *(end for end in tolerance if span[0] < end < span[1])})
    within = consumers = producers = beyond = 0.0
    for low, high in pairwise(cuts):
        item = np.linspace(low, high, NODES)
        weight = density(item)
        accepted = ndtr((acceptance[1] - item) / measurement) - ndtr((acceptance[0] - item) / measurement)
        inside = tolerance[0] <= (low + high) / 2 <= tolerance[1]
        total, taken = _simpson(item, weight), _simpson(item, weight * accepted)
        if inside:
            within += total
            producers += total - taken
        else:
            beyond += total
            consumers += taken
    return GlobalRisks(nonconforming=beyond, consumers=consumers, producers=producers)


def _simpson(x: FloatArray, y: FloatArray) -> float:
    """Integral by Simpson's rule over an odd number of equally spaced points."""
    step = (x[-1] - x[0]) / (x.size - 1)
    return float(step / 3 * (y[0] + y[-1] + 4 * y[1:-1:2].sum() + 2 * y[2:-1:2].sum()))
