"""The interval of a chosen stretch holds the long-run bias as often as it says, though the error wanders slowly."""

from __future__ import annotations

import numpy as np
import pytest

from wattwitness.agreement.chosen import chosen_stretch
from wattwitness.model.arrays import FloatArray

SECONDS, BIAS_PCT, RIDES = 3600, -4.0, 60


def ridden(seed: int, tau_s: float) -> tuple[FloatArray, FloatArray, np.random.Generator]:
    """A ride whose effort changes by the minute, on a unit 4 % low whose error wanders by 1.5 % over ``tau_s``."""
    draw = np.random.default_rng(seed)
    effort_w = 190 + 40 * np.repeat(draw.standard_normal(SECONDS // 60), 60)
    true_w = np.clip(effort_w + 8 * draw.standard_normal(SECONDS), 20, None)
    keeps = np.exp(-1 / tau_s)
    wander = 0.015 * draw.standard_normal(SECONDS)
    wander[1:] *= np.sqrt(1 - keeps**2)
    for at in range(1, SECONDS):
        wander[at] += keeps * wander[at - 1]
    return true_w, true_w * (1 + BIAS_PCT / 100 + wander) + 4 * draw.standard_normal(SECONDS), draw


@pytest.mark.parametrize("minutes", [1, 3, 10])
@pytest.mark.parametrize("tau_s", [60.0, 300.0])
def test_intervals_of_short_stretches_cover(minutes: int, tau_s: float) -> None:
    """At 95 %, 60 rides: fewer than 50 covered has a chance under 0.1 % (binomial, recomputed)."""
    time_s, held = np.arange(float(SECONDS)), 0
    for seed in range(RIDES):
        true_w, unit_w, draw = ridden(seed, tau_s)
        from_s = float(draw.integers(0, SECONDS - 60 * minutes))
        bias = chosen_stretch(
            time_s, true_w, unit_w, time_s, from_s=from_s, to_s=from_s + 60 * minutes, level=0.95
        ).bias_pct
        assert bias.low is not None
        assert bias.high is not None
        held += bias.low <= BIAS_PCT <= bias.high
    assert held >= 50
