"""Whatever two meters wrote, every part of the room answers, with an interval that holds its value or a reason."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.unit.agreement.rides import LEVEL
from wattwitness.agreement.bands import cadence_bands, power_bands
from wattwitness.agreement.best_means import best_means
from wattwitness.agreement.efforts import effort_biases
from wattwitness.agreement.limits import limits_of_agreement
from wattwitness.agreement.line import power_line
from wattwitness.agreement.overall import overall_bias
from wattwitness.agreement.periods import blocks, halves
from wattwitness.agreement.trend import band_trend
from wattwitness.agreement.work import total_work
from wattwitness.model.arrays import FloatArray


def recording(generator: np.random.Generator, seconds: int) -> FloatArray:
    """Power of some kind or other, whole watts or not, with gaps, spikes, stops and spot readings."""
    power_w = generator.choice([0.0, 1.0, 150.0, 400.0]) + generator.choice(
        [0.0, 5.0, 80.0]
    ) * generator.standard_normal(seconds)
    if generator.random() < 0.5:
        power_w = np.round(np.maximum(power_w, 0))
    if generator.random() < 0.2 and seconds:
        power_w[generator.integers(0, seconds)] = 47000.0
    for _ in range(generator.integers(0, 4)):
        start = int(generator.integers(0, seconds + 1))
        power_w[start : start + int(generator.integers(1, 400))] = generator.choice([0.0, np.nan])
    if generator.random() < 0.2:
        power_w[np.arange(seconds) % int(generator.integers(2, 40)) != 0] = np.nan
    return np.asarray(power_w, dtype=np.float64)


@settings(max_examples=120, deadline=None, derandomize=True)
@given(
    seed=st.integers(0, 2**32 - 1), seconds=st.sampled_from([0, 1, 45, 61, 150, 400, 1100, 2500]), same=st.booleans()
)
def test_every_part_answers(seed: int, seconds: int, same: bool) -> None:
    """Estimates refuse a NaN and an interval beside their value, so that making them all is the test."""
    generator = np.random.default_rng(seed)
    expected_w = recording(generator, seconds)
    unit_w = 1.1 * expected_w if same else recording(generator, seconds)
    cadence_rpm = recording(generator, seconds) / 3
    time_s = np.arange(float(seconds))
    overall = overall_bias(expected_w, unit_w, level=LEVEL, reference_uncertainty_pct=None, seed=seed)
    common = int(np.sum(np.isfinite(expected_w) & np.isfinite(unit_w)))
    assert (total_work(expected_w, unit_w) is None) == (common == 0)
    for periods in (
        halves(time_s, expected_w, unit_w, level=LEVEL),
        blocks(time_s, expected_w, unit_w, block_min=3, level=LEVEL),
    ):
        assert sum(period.seconds for period in periods) == common
    bands = power_bands(expected_w, unit_w, width_w=50, level=LEVEL)
    assert sum(band.seconds for band in bands) <= common
    assert sum(effort.seconds for effort in effort_biases(expected_w, unit_w, level=LEVEL)) <= common
    cadence_bands(cadence_rpm, expected_w, unit_w, width_rpm=10, level=LEVEL)
    band_trend(time_s, cadence_rpm, expected_w, unit_w, level=LEVEL)
    limits_of_agreement(expected_w, unit_w, level=LEVEL)
    power_line(expected_w, unit_w, level=LEVEL)
    best_means(expected_w, expected_w, unit_w)
    if same and overall.bias_pct.value is not None:
        assert abs(overall.bias_pct.value - 10) < 1e-6
