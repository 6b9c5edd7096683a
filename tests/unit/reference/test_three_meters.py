"""Own errors of three meters or more: on small series whose truth is known, and where nothing can be said."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest

from wattwitness.clock.kernels import convolve_present, mean_kernel
from wattwitness.model.arrays import FloatArray
from wattwitness.reference.difference_bands import bands_for, difference_products, grubbs_variances
from wattwitness.reference.three_meters import SeenMeter, own_errors, seen_together

SECONDS = 2400
PROMPT = np.ones(1)


def effort(seed: int, seconds: int = SECONDS) -> FloatArray:
    generator = np.random.default_rng(seed)
    steps = np.repeat(generator.uniform(120, 320, seconds // 60 + 1), 60)[:seconds]
    return np.asarray(steps * (1 + 0.07 * generator.standard_normal(seconds)))


def meters(errors_pct: Sequence[float], seed: int = 1, seconds: int = SECONDS) -> list[SeenMeter]:
    generator = np.random.default_rng([seed, 9])
    true_w = effort(seed, seconds)
    return [
        SeenMeter(
            name=f"meter {place}",
            recording=place,
            power_w=true_w * (1 + 0.03 * place) * (1 + error / 100 * generator.standard_normal(seconds)),
            kernel=PROMPT,
        )
        for place, error in enumerate(errors_pct)
    ]


def test_white_errors_come_back_and_fall_with_the_root_of_the_time() -> None:
    found, seconds = own_errors(meters((1, 2, 4)))
    assert seconds == SECONDS
    for meter, own in zip(found, (1, 2, 4), strict=True):
        for spread in meter.spreads:
            truth = own / np.sqrt(spread.averaging_s)
            assert spread.own_sd_pct.low is not None
            assert spread.own_sd_pct.high is not None
            assert 0.9 * spread.own_sd_pct.low <= truth <= 1.1 * spread.own_sd_pct.high
        assert meter.spreads[0].own_sd_pct.value == pytest.approx(own, rel=0.3)
        assert meter.spreads[0].own_sd_w.value == pytest.approx(2.26 * own, rel=0.25)
        assert meter.spreads[0].resolved == 1.0


def test_four_meters_use_all_their_differences() -> None:
    found, _ = own_errors(meters((1, 2, 3, 4)))
    values = [meter.spreads[0].own_sd_pct.value for meter in found]
    assert values == pytest.approx([1, 2, 3, 4], rel=0.15)


def test_grubbs_for_any_number_of_instruments() -> None:
    """From an exact covariance of the others less the first: var_i + var_0 on, var_0 off the diagonal."""
    own = np.array([0.5, 1.0, 2.0, 3.0, 4.0])
    covariance = np.diag(own[1:]) + own[0]
    assert grubbs_variances(covariance) == pytest.approx(own)
    assert grubbs_variances(covariance[:2, :2]) == pytest.approx(own[:3])


def test_a_constant_bias_and_the_order_make_no_difference() -> None:
    one = meters((1, 2, 4))
    scaled = [
        SeenMeter(name=item.name, recording=item.recording, power_w=1.5 * item.power_w, kernel=PROMPT) for item in one
    ]
    for other in (scaled, one[::-1]):
        found = sorted(own_errors(other)[0], key=lambda meter: meter.recording)
        for before, after in zip(own_errors(one)[0], found, strict=True):
            expected = before.spreads[0].own_sd_pct.value
            assert after.spreads[0].own_sd_pct.value == pytest.approx(expected, rel=1e-6)


def test_errors_that_are_not_independent_are_contradicted() -> None:
    """Two meters share most of their error: the third's comes out too large, and theirs below zero."""
    generator = np.random.default_rng(5)
    true_w, shared = effort(5), 0.03 * generator.standard_normal(SECONDS)
    own = [0.002 * generator.standard_normal(SECONDS) for _ in range(3)]
    errors = (own[0] + shared, own[1] - shared, own[2])
    made = [
        SeenMeter(name=str(place), recording=place, power_w=true_w * (1 + error), kernel=PROMPT)
        for place, error in enumerate(errors)
    ]
    third = own_errors(made)[0][2].spreads[0]
    assert third.negative
    assert third.contradicted
    assert third.variance_pct2 < 0
    assert third.own_sd_pct.value == third.own_sd_pct.low == 0.0


def test_equal_recordings_have_no_error() -> None:
    true_w = effort(2)
    same = [SeenMeter(name=str(place), recording=place, power_w=true_w, kernel=PROMPT) for place in range(3)]
    for meter in own_errors(same)[0]:
        assert meter.spreads[0].own_sd_pct.value == pytest.approx(0.0, abs=1e-6)


def test_displays_that_smooth_differently_are_seen_through_one_another() -> None:
    """Without errors nothing is left; unmatched there would be several percent."""
    true_w = effort(3)
    kernels = (PROMPT, mean_kernel(3), mean_kernel(5))
    made = [
        SeenMeter(
            name=str(place),
            recording=place,
            power_w=convolve_present(true_w, kernel, 2.0 * place),
            kernel=kernel,
            lag_s=(kernel.size - 1) / 2 + 2.0 * place,
        )
        for place, kernel in enumerate(kernels)
    ]
    found, _ = own_errors(made)
    assert all(meter.spreads[0].own_sd_pct.value == pytest.approx(0.0, abs=0.01) for meter in found)
    assert all(meter.spreads[0].resolved < 1 for meter in found)
    assert all(meter.spreads[2].resolved > 0.9 for meter in found)


def test_gaps_and_low_power_do_not_count() -> None:
    made = meters((1, 2, 4))
    holes = np.array(made[1].power_w)
    holes[300:400] = np.nan
    low = [np.array(item.power_w) for item in made]
    for power in low:
        power[1000:1200] = 30.0
    low[1][300:400] = np.nan
    shortened = [
        SeenMeter(name=item.name, recording=item.recording, power_w=power, kernel=PROMPT)
        for item, power in zip(made, low, strict=True)
    ]
    found, seconds = own_errors(shortened)
    assert seconds == SECONDS - 300
    assert found[2].spreads[0].own_sd_pct.value == pytest.approx(4, rel=0.15)


@pytest.mark.parametrize("seconds", [0, 100])
def test_too_little_in_common_says_so(seconds: int) -> None:
    found, counted = own_errors(meters((1, 2, 4), seconds=120 if seconds else 1)[:3])
    assert counted < 300
    assert all(spread.own_sd_pct.not_assessed == "too_few_seconds" for meter in found for spread in meter.spreads)
    assert all(not spread.negative for meter in found for spread in meter.spreads)


def test_nothing_in_common_is_nothing() -> None:
    made = meters((1, 2, 4))
    made[0] = SeenMeter(name="a", recording=0, power_w=np.full(SECONDS, np.nan), kernel=PROMPT)
    found, seconds = own_errors(made)
    assert seconds == 0
    assert found[0].spreads[0].own_sd_pct.not_assessed == "too_few_seconds"
    assert seen_together(made).seconds == 0


def test_bands_join_where_a_spectrum_is_flat_and_not_where_it_is_steep() -> None:
    generator = np.random.default_rng(4)
    white = generator.standard_normal((3, SECONDS))
    slow = np.cumsum(generator.standard_normal((3, SECONDS)), axis=1)
    assert bands_for(difference_products(white)).size < bands_for(difference_products(slow)).size
    assert bands_for(difference_products(white))[0] == 1


@pytest.mark.parametrize("since_s", [0.2, 0.3, 0.5, 0.75])
def test_samples_between_those_of_the_others_are_allowed_for(since_s: float) -> None:
    """A smooth effort sampled beside the grid and drawn onto it by straight lines: most of that is no error."""
    generator = np.random.default_rng(8)
    fine = np.convolve(generator.standard_normal(40 * SECONDS), np.hanning(120) / 60, mode="same")
    effort_w = 220 + 30 * fine / fine.std()

    def sampled(offset_s: float) -> FloatArray:
        return np.asarray(effort_w[np.round(40 * (np.arange(1, SECONDS - 2) + offset_s)).astype(int)])

    beside = (1 - since_s) * sampled(-since_s) + since_s * sampled(1 - since_s)
    powers = (sampled(0.0), sampled(0.0), beside)

    def worst(since: float) -> float:
        made = [
            SeenMeter(name="", recording=place, power_w=power, kernel=PROMPT, since_s=since if place == 2 else 0.0)
            for place, power in enumerate(powers)
        ]
        return max(meter.spreads[0].own_sd_w.value or 0.0 for meter in own_errors(made)[0])

    assert worst(since_s) < 0.6 * worst(0.0)


def test_a_meter_that_shows_nothing_in_what_they_share_is_not_held_against_the_others() -> None:
    """All its zeros have no mean to scale by; that is said as nothing shared, not as a number."""
    made = meters((1, 2, 3))
    made[1] = SeenMeter(name="b", recording=1, power_w=np.zeros(SECONDS), kernel=PROMPT)
    found, seconds = own_errors(made)
    assert seconds == 0
    assert not any(spread.own_sd_pct.assessed for meter in found for spread in meter.spreads)
