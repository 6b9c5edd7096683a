"""Whether power had risen or fallen to where it stands, for a unit that reads otherwise going up than going down."""

from __future__ import annotations

import numpy as np

from wattwitness.agreement.common import common_stretch
from wattwitness.agreement.efforts import surging
from wattwitness.model.arrays import FloatArray

LEAST_HELD_S = 30
LEAST_STEP = 0.05
LEAST_STEP_W = 10.0
"""A change of power between two held stretches smaller than this is no step."""


def step_direction(expected_w: FloatArray, unit_w: FloatArray) -> FloatArray:
    """Return +1 in seconds of a held effort reached from below, -1 from above, 0 elsewhere; shape (n,), as the powers.

    Held stretches are those that do not surge (``efforts.surging``), of ``LEAST_HELD_S`` seconds or more; the first has
    no direction.
    """
    direction = np.zeros(expected_w.size)
    stretch = common_stretch(expected_w, unit_w)
    if stretch.lacks:
        return direction
    surges, known = surging(stretch)
    edges = np.flatnonzero(np.diff(np.concatenate([[0], (known & ~surges).astype(np.int8), [0]])))
    before_w = float("nan")
    for start, stop in zip(edges[::2], edges[1::2], strict=True):
        if stop - start < LEAST_HELD_S:
            continue
        held_w = float(stretch.expected_w[start:stop].mean())
        step_w = held_w - before_w
        if abs(step_w) >= max(LEAST_STEP_W, LEAST_STEP * held_w):
            direction[stretch.first + start : stretch.first + stop] = np.sign(step_w)
        if np.isnan(before_w) or direction[stretch.first + start] != 0:
            before_w = held_w
    return direction
