"""Small pairs for the tests of this room."""

from __future__ import annotations

import numpy as np

from tests.truth.agreement_rides import Effort, effort_w, wander
from wattwitness.model.arrays import FloatArray

LEVEL = 0.95


def pair(
    *, effort: Effort = "group", seconds: int = 3600, bias_pct: float = 5.0, wander_pct: float = 1.0, seed: int = 1
) -> tuple[FloatArray, FloatArray]:
    """Reference and unit; the unit off by ``bias_pct`` and wandering with a time constant of 20 s."""
    generator = np.random.default_rng(seed)
    reference_w = effort_w(generator, seconds, effort)
    error = wander_pct / 100 * wander(generator, seconds, 20)
    return reference_w, reference_w * (1 + bias_pct / 100) * (1 + error)
