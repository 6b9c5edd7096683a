"""Limits of agreement along one ride."""

from __future__ import annotations

import numpy as np
import pytest

from tests.truth.agreement_rides import wander
from tests.unit.agreement.rides import LEVEL, pair
from wattwitness.agreement.limits import limits_of_agreement, stretches_variance
from wattwitness.model.arrays import FloatArray

POWER_W = np.full(3600, 200.0)


def test_independent_seconds_give_the_textbook_limits() -> None:
    """Bland & Altman (1986): mean -/+ 1.96 SD; the standard error of a limit is about sqrt(3 s^2 / n)."""
    widths = []
    for seed in range(15):
        differences = 6 * np.random.default_rng(seed).standard_normal(3600)
        limits = limits_of_agreement(POWER_W, POWER_W + differences, windows_s=(1,), level=LEVEL)[0]
        reach = 1.959964 * differences.std(ddof=1)
        assert limits.high_w.value == pytest.approx(differences.mean() + reach, abs=0.15)
        assert limits.low_w.value == pytest.approx(differences.mean() - reach, abs=0.15)
        assert limits.high_w.high is not None
        assert limits.high_w.value is not None
        widths.append(limits.high_w.high - limits.high_w.value)
    assert np.mean(widths) == pytest.approx(2.447 * np.sqrt(3 * 36 / 3600), rel=0.25)


def test_longer_windows_are_narrower_where_noise_is_white() -> None:
    differences = 6 * np.random.default_rng(2).standard_normal(3600)
    found = limits_of_agreement(POWER_W, POWER_W + differences, level=LEVEL)
    assert [limits.window_s for limits in found] == [1, 10, 30, 60]
    assert [limits.windows for limits in found] == [3600, 360, 120, 60]
    reach = [
        limits.high_w.value - limits.low_w.value
        for limits in found
        if limits.high_w.value is not None and limits.low_w.value is not None
    ]
    assert reach == pytest.approx([23.5, 23.5 / np.sqrt(10), 23.5 / np.sqrt(30), 23.5 / np.sqrt(60)], rel=0.25)


def test_windows_do_not_overlap_and_start_with_the_common_seconds() -> None:
    expected_w, unit_w = POWER_W.copy(), POWER_W.copy()
    expected_w[:7] = np.nan
    unit_w[7:] += np.repeat(np.arange(60.0), 60)[: 3600 - 7]
    limits = limits_of_agreement(expected_w, unit_w, windows_s=(60,), level=LEVEL)[0]
    assert limits.windows == 59
    assert limits.mean_w.value == pytest.approx(29.0)


def test_percent_is_of_the_mean_power() -> None:
    expected_w, unit_w = pair()
    limits = limits_of_agreement(expected_w, unit_w, windows_s=(30,), level=LEVEL)[0]
    for watts, share in ((limits.mean_w, limits.mean_pct), (limits.low_w, limits.low_pct)):
        assert watts.value is not None
        assert share.value == pytest.approx(100 * watts.value / expected_w.mean())
        assert (watts.unit, share.unit) == ("W", "%")


def test_a_window_with_a_gap_is_left_out() -> None:
    expected_w, unit_w = POWER_W.copy(), POWER_W + np.random.default_rng(3).standard_normal(3600)
    unit_w[60:90] = np.nan
    unit_w[130] = np.nan
    assert limits_of_agreement(expected_w, unit_w, windows_s=(60,), level=LEVEL)[0].windows == 59


def test_slow_wander_is_not_lost() -> None:
    """The plain SD of a short ride is too small for a ride that goes on; between stretches and within it is not."""
    plain, ours = [], []
    for seed in range(300):
        values = wander(np.random.default_rng(seed), 600, 60)[::10]
        plain.append(values.var(ddof=1))
        ours.append(stretches_variance(values))
    assert np.mean(plain) < 0.88
    assert np.mean(ours) == pytest.approx(1.0, abs=0.1)


def test_too_few_windows() -> None:
    expected_w, unit_w = pair(seconds=300)
    found = limits_of_agreement(expected_w, unit_w, level=LEVEL)
    assert found[0].mean_w.assessed
    assert found[-1].low_pct.not_assessed == "too_few_windows"
    assert found[-1].windows == 5


def test_no_difference() -> None:
    limits = limits_of_agreement(POWER_W, POWER_W, level=LEVEL)[1]
    assert (limits.low_w.value, limits.high_w.high) == (0.0, 0.0)


def test_nothing_common() -> None:
    nothing: FloatArray = np.full(3600, np.nan)
    found = limits_of_agreement(nothing, POWER_W, level=LEVEL)
    assert all(limits.low_w.not_assessed == "no_common_seconds" for limits in found)
