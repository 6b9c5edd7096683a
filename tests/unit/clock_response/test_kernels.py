"""Kernels against scipy's filters and against plain loops; missing samples; delays."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.signal import lfilter

from wattwitness.clock.kernels import (
    apply_response,
    convolve_present,
    exponential_kernel,
    kernel_lag_s,
    mean_kernel,
    mean_lag_s,
)
from wattwitness.model.arrays import FloatArray
from wattwitness.model.estimate import Estimate
from wattwitness.model.response import Response, ResponseKind

NOT_ASSESSED = Estimate.missing("not_of_this_kind", "s")


def seconds(value: float) -> Estimate:
    """An estimate without doubt."""
    return Estimate(value=value, low=value, high=value, unit="s")


def mean_of(width_s: float, delay_s: float = 0.0) -> Response:
    """A mean, late by so much."""
    return Response(kind=ResponseKind.MEAN, width_s=seconds(width_s), tau_s=NOT_ASSESSED, delay_s=seconds(delay_s))


def noisy_power(size: int) -> FloatArray:
    """Power without structure."""
    return np.random.default_rng(1).uniform(50, 400, size)


@pytest.mark.parametrize("width", [1, 2, 8, 30])
def test_mean_over_whole_seconds_is_scipys_moving_average(width: int) -> None:
    power = noisy_power(300)
    expected = lfilter(np.full(width, 1 / width), [1.0], power)
    shown = apply_response(power, mean_of(width))
    np.testing.assert_allclose(shown[width:], expected[width:], rtol=1e-12)


@pytest.mark.parametrize("tau_s", [0.5, 3.0, 12.0, 30.0])
def test_exponential_is_scipys_one_pole_filter(tau_s: float) -> None:
    power = noisy_power(1500)
    decay = np.exp(-1 / tau_s)
    expected = lfilter([1 - decay], [1.0, -decay], power)
    response = Response(kind=ResponseKind.EXPONENTIAL, width_s=NOT_ASSESSED, tau_s=seconds(tau_s), delay_s=seconds(0.0))
    # The kernel is cut where 1e-5 of its weight is left, so it agrees to about 400 W * 1e-5.
    np.testing.assert_allclose(apply_response(power, response)[500:], expected[500:], atol=5e-3)


def test_a_fraction_of_a_second_weighs_the_oldest_sample() -> None:
    np.testing.assert_allclose(mean_kernel(2.5), [0.4, 0.4, 0.2])


@pytest.mark.parametrize("kernel", [mean_kernel(7.3), exponential_kernel(5.0), mean_kernel(1.0)])
def test_steady_power_passes_unchanged(kernel: FloatArray) -> None:
    assert kernel.sum() == pytest.approx(1.0, abs=1e-12)
    shown = convolve_present(np.full(900, 217.0), kernel)
    np.testing.assert_allclose(shown[np.isfinite(shown)], 217.0)


def test_lag_of_a_mean_is_half_of_width_less_one_sample() -> None:
    assert kernel_lag_s(mean_kernel(8)) == pytest.approx(3.5)
    assert mean_lag_s(mean_of(8, 1.25)) == pytest.approx(4.75)


@pytest.mark.parametrize("width_s", [0.5, 0.0, float("nan"), float("inf")])
def test_a_mean_below_one_sample_is_refused(width_s: float) -> None:
    with pytest.raises(ValueError, match="width"):
        mean_kernel(width_s)


@pytest.mark.parametrize("tau_s", [0.0, -1.0, float("nan")])
def test_a_time_constant_has_to_be_positive(tau_s: float) -> None:
    with pytest.raises(ValueError, match="positive"):
        exponential_kernel(tau_s)


def test_what_came_before_the_record_is_missing() -> None:
    shown = apply_response(noisy_power(50), mean_of(8))
    assert np.isnan(shown[:3]).all()
    assert np.isfinite(shown[3:]).all()


def test_gaps_share_the_weight_out_over_what_is_present() -> None:
    power = noisy_power(40)
    power[20:23] = np.nan
    shown = apply_response(power, mean_of(8))
    assert shown[24] == pytest.approx(np.nanmean(power[17:25]))
    power[20:27] = np.nan
    shown = apply_response(power, mean_of(8))
    assert np.isnan(shown[26])  # one of eight
    assert shown[31] == pytest.approx(np.mean(power[27:32]))  # five of eight


def test_a_missing_second_is_not_a_zero() -> None:
    power = np.full(60, 200.0)
    power[30] = np.nan
    assert np.nanmin(apply_response(power, mean_of(4))) == pytest.approx(200.0)


@pytest.mark.parametrize("delay_s", [-3.0, -0.5, 0.0, 1.0, 2.25, 7.0])
def test_a_delay_moves_a_straight_line_by_exactly_that(delay_s: float) -> None:
    second = np.arange(200.0)
    shown = convolve_present(second, np.ones(1), delay_s)
    inside = slice(10, 190)
    np.testing.assert_allclose(shown[inside], second[inside] - delay_s, atol=1e-9)


def test_a_delay_longer_than_the_record_leaves_nothing() -> None:
    assert np.isnan(convolve_present(np.ones(5), np.ones(1), 9.0)).all()
    assert convolve_present(np.empty(0), mean_kernel(3)).size == 0


def test_what_was_not_assessed_is_left_alone() -> None:
    missing = Estimate.missing("steady_effort", "s")
    response = Response(kind=ResponseKind.NOT_ASSESSED, width_s=missing, tau_s=missing, delay_s=missing)
    power = noisy_power(20)
    power[4] = np.nan
    np.testing.assert_array_equal(apply_response(power, response), power)
    assert mean_lag_s(response) == 0.0
