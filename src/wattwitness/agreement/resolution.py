"""The step in which a meter shows its power."""

from __future__ import annotations

import numpy as np

from wattwitness.model.arrays import FloatArray

STEPS_W = (50.0, 25.0, 20.0, 10.0, 8.0, 5.0, 4.0, 3.0, 2.0, 1.0)
LEAST_VALUES = 8
ON_STEP = 0.98


def resolution_w(recorded_w: FloatArray) -> float | None:
    """Return the largest of ``STEPS_W`` on whose multiples at least 98 % of the powers lie, W.

    ``recorded_w`` (n,) as the meter wrote them, NaN where missing; zeros, which lie on every step, do not count.
    ``None`` where they lie on none (finer than 1 W), or where fewer than eight different powers were shown, as by a
    meter that held still.
    """
    shown = recorded_w[np.isfinite(recorded_w) & (recorded_w > 0)]
    if np.unique(shown).size < LEAST_VALUES:
        return None
    for step in STEPS_W:
        off = np.abs(shown - step * np.round(shown / step))
        if np.mean(off < 0.01 * step) >= ON_STEP:
            return step
    return None
