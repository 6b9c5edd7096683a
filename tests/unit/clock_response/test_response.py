"""The response found, on rides made apart from the package; what is then compared; and honesty where nothing shows."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.truth.response_rides import CHANGING, Effort, MeterSpec, ride, shown, true_power
from wattwitness.clock.response import compared_unit_power, expected_power, fit_response
from wattwitness.model.aligned import Blend
from wattwitness.model.arrays import FloatArray
from wattwitness.model.estimate import Estimate
from wattwitness.model.recording import ChannelName
from wattwitness.model.response import Response, ResponseFit, ResponseKind

NOISY = MeterSpec(noise_pct=4.0)
QUIET = MeterSpec(noise_pct=1.0)


def fitted(reference_w: FloatArray, unit_w: FloatArray) -> ResponseFit:
    """With a clock from cadence."""
    return fit_response(reference_w, unit_w, clock_channel=ChannelName.CADENCE)


def covers(estimate: Estimate, truth: float, *, width: float = 1.5) -> bool:
    """Whether the interval holds the truth without being so wide that it would hold anything."""
    assert estimate.low is not None
    assert estimate.high is not None
    assert estimate.high - estimate.low < width
    return estimate.low <= truth <= estimate.high


@pytest.mark.parametrize("effort", CHANGING)
def test_an_8_s_mean_comes_back_with_a_noisy_reference(effort: Effort) -> None:
    unit = MeterSpec(smoothing="mean", shape_s=8, gain=0.93, zero_w=6, noise_pct=1, wander_pct=1)
    fit = fitted(*ride(1, effort, 40, NOISY, unit))
    assert fit.unit.kind is ResponseKind.MEAN
    assert fit.reference.kind is ResponseKind.PROMPT
    assert covers(fit.unit.width_s, 8.0)
    assert covers(fit.unit.delay_s, 0.0)


@pytest.mark.parametrize("effort", [*CHANGING, "steady"])
def test_noise_of_the_reference_does_not_make_a_prompt_unit_smooth(effort: Effort) -> None:
    fit = fitted(*ride(2, effort, 40, NOISY, MeterSpec(noise_pct=1, gain=1.1)))
    assert (fit.unit.kind, fit.reference.kind) == (ResponseKind.PROMPT, ResponseKind.PROMPT)
    assert covers(fit.unit.delay_s, 0.0)


@pytest.mark.parametrize(("tau_s", "delay_s"), [(3.0, 0), (5.0, 4), (8.0, 2)])
def test_an_exponential_and_its_delay_come_back(tau_s: float, delay_s: int) -> None:
    unit = MeterSpec(smoothing="exponential", shape_s=tau_s, delay_s=delay_s, noise_pct=1, gain=1.07)
    fit = fitted(*ride(3, "mixed", 40, QUIET, unit))
    assert fit.unit.kind is ResponseKind.EXPONENTIAL
    assert covers(fit.unit.tau_s, tau_s)
    assert covers(fit.unit.delay_s, delay_s)


@pytest.mark.parametrize("width_s", [3.0, 5.5, 15.0, 25.0])
def test_means_of_any_width_come_back(width_s: float) -> None:
    fit = fitted(*ride(4, "mixed", 40, QUIET, MeterSpec(smoothing="mean", shape_s=width_s, delay_s=1, noise_pct=1)))
    assert fit.unit.kind is ResponseKind.MEAN
    assert covers(fit.unit.width_s, width_s)
    assert covers(fit.unit.delay_s, 1.0)


def test_a_smooth_reference_is_found_to_be_the_smooth_one() -> None:
    reference_w, unit_w = ride(5, "mixed", 40, MeterSpec(smoothing="mean", shape_s=5, noise_pct=2), QUIET)
    fit = fitted(reference_w, unit_w)
    assert (fit.reference.kind, fit.unit.kind) == (ResponseKind.MEAN, ResponseKind.PROMPT)
    assert covers(fit.reference.width_s, 5.0)
    # The mirror image: whoever is called the unit, the same meter is smooth.
    mirrored = fitted(unit_w, reference_w)
    assert mirrored.unit.kind is ResponseKind.MEAN
    assert mirrored.unit.width_s.value == pytest.approx(fit.reference.width_s.value, abs=0.1)


def test_a_late_unit_beside_a_smooth_reference_is_what_is_called_late() -> None:
    reference = MeterSpec(smoothing="mean", shape_s=5, noise_pct=2)
    fit = fitted(*ride(6, "mixed", 40, reference, MeterSpec(delay_s=3, noise_pct=1)))
    assert covers(fit.unit.delay_s, 3.0)
    assert fit.reference.delay_s.not_assessed == "taken_as_prompt"


def test_a_late_and_smooth_reference_carries_its_delay() -> None:
    reference = MeterSpec(smoothing="mean", shape_s=5, delay_s=2, noise_pct=2)
    fit = fitted(*ride(7, "mixed", 40, reference, QUIET))
    assert covers(fit.reference.delay_s, 2.0)


@pytest.mark.parametrize(
    ("channel", "slug"),
    [
        (ChannelName.POWER, "clock_from_power"),
        (ChannelName.HEART_RATE, "clock_from_heart_rate"),
        (None, "clock_by_hand"),
    ],
)
def test_a_delay_is_not_told_from_a_clock_that_is_no_better(channel: ChannelName | None, slug: str) -> None:
    reference_w, unit_w = ride(8, "mixed", 40, QUIET, MeterSpec(smoothing="mean", shape_s=6, delay_s=3))
    aligned_w = np.concatenate((unit_w[5:], np.full(5, np.nan)))  # as a clock from power would place it
    fit = fit_response(reference_w, aligned_w, clock_channel=channel)
    assert fit.unit.delay_s.not_assessed == slug
    assert covers(fit.unit.width_s, 6.0)
    assert fit.shift_s == pytest.approx(-2.0, abs=0.2)
    expected_w = expected_power(reference_w, fit)
    both = np.isfinite(expected_w) & np.isfinite(aligned_w)
    assert np.std(aligned_w[both] - expected_w[both]) < 0.1 * np.std(aligned_w[both] - reference_w[both])


def test_the_clocks_own_doubt_widens_the_delay() -> None:
    reference_w, unit_w = ride(9, "mixed", 20, QUIET, MeterSpec(smoothing="mean", shape_s=6))
    narrow = fitted(reference_w, unit_w).unit.delay_s
    wide = fit_response(reference_w, unit_w, clock_channel=ChannelName.CADENCE, clock_uncertainty_s=0.5).unit.delay_s
    assert narrow.value == wide.value
    assert narrow.high is not None
    assert wide.high is not None
    assert wide.high > narrow.high + 0.5


def test_interpolation_between_samples_is_not_the_units_smoothing() -> None:
    generator = np.random.default_rng(10)
    true_w = true_power(generator, 2401, "mixed")
    reference_w = shown(generator, true_w, QUIET)[1:]
    between_w = (reference_w[1:] + reference_w[:-1]) / 2  # a prompt unit whose samples lay between the grid's seconds
    half = np.full(between_w.size, 0.5)
    blend = Blend(since_s=half, until_s=half)
    # Both neighbours count alike, so the grid second is half a second after the earlier of the two.
    known = fit_response(reference_w[:-1], between_w, clock_channel=ChannelName.CADENCE, unit_blend=blend)
    assert known.unit.kind is ResponseKind.PROMPT
    assert covers(known.unit.delay_s, -0.5)
    direct = Blend(since_s=0 * half, until_s=0 * half)
    as_it_is = fit_response(reference_w[1:], between_w, clock_channel=ChannelName.CADENCE, unit_blend=direct)
    assert as_it_is.unit.kind is ResponseKind.MEAN
    assert covers(as_it_is.unit.width_s, 2.0)


def test_a_fault_of_minutes_a_spike_and_gaps_do_not_spoil_it() -> None:
    reference_w, unit_w = ride(11, "group", 40, MeterSpec(noise_pct=2), MeterSpec(smoothing="mean", shape_s=5))
    unit_w[600:840] *= 0.5
    unit_w[1500] = 2047
    unit_w[1800:1830] = np.nan
    reference_w[900:960] = np.nan
    reference_w[2100] = 0
    fit = fitted(reference_w, unit_w)
    assert fit.unit.kind is ResponseKind.MEAN
    assert covers(fit.unit.width_s, 5.0)


@pytest.mark.parametrize("seed", range(6))
def test_meters_that_share_nothing_but_a_level_are_not_assessed(seed: int) -> None:
    """A perfectly even effort: all that changes is each meter's own noise, and one of them smooths its own."""
    generator = np.random.default_rng(seed)
    even_w = np.full(2400, 200.0)
    reference_w = shown(generator, even_w, NOISY)
    unit_w = shown(generator, even_w, MeterSpec(smoothing="mean", shape_s=8, noise_pct=4, wander_pct=1))
    fit = fitted(reference_w, unit_w)
    assert fit.unit.kind is ResponseKind.NOT_ASSESSED
    assert fit.unit.width_s.not_assessed == fit.unit.delay_s.not_assessed == "steady_effort"
    np.testing.assert_array_equal(expected_power(reference_w, fit), reference_w)


@pytest.mark.parametrize("seconds", [0, 1, 60, 300])
def test_too_short_a_ride_is_not_assessed(seconds: int) -> None:
    reference_w, unit_w = ride(12, "mixed", 10, QUIET, QUIET)
    fit = fitted(reference_w[:seconds], unit_w[:seconds])
    assert fit.unit.kind is ResponseKind.NOT_ASSESSED
    assert fit.unit.delay_s.not_assessed == "too_few_seconds"


@pytest.mark.parametrize(
    ("value", "slug"), [(np.nan, "too_few_seconds"), (0.0, "nothing_changes"), (150.0, "nothing_changes")]
)
def test_a_unit_that_shows_nothing_or_one_number_is_not_assessed(value: float, slug: str) -> None:
    reference_w, _ = ride(13, "mixed", 20, QUIET, QUIET)
    fit = fitted(reference_w, np.full(reference_w.size, value))
    assert fit.unit.kind is ResponseKind.NOT_ASSESSED
    assert fit.unit.delay_s.not_assessed == slug


def test_two_identical_recordings_are_prompt_and_on_time() -> None:
    reference_w, _ = ride(14, "mixed", 20, QUIET, QUIET)
    fit = fitted(reference_w, reference_w.copy())
    assert (fit.unit.kind, fit.reference.kind) == (ResponseKind.PROMPT, ResponseKind.PROMPT)
    assert covers(fit.unit.delay_s, 0.0)
    assert fit.shift_s == 0.0


def test_what_is_compared_agrees_whichever_meter_is_smooth() -> None:
    for reference, unit in (
        (QUIET, MeterSpec(smoothing="mean", shape_s=8)),
        (MeterSpec(smoothing="mean", shape_s=8), QUIET),
    ):
        reference_w, unit_w = ride(15, "mixed", 30, reference, unit)
        fit = fitted(reference_w, unit_w)
        expected_w, compared_w = expected_power(reference_w, fit), compared_unit_power(unit_w, fit)
        both = np.isfinite(expected_w) & np.isfinite(compared_w)
        assert both.sum() > 1780
        before = np.std(unit_w[both] - reference_w[both])
        assert np.std(compared_w[both] - expected_w[both]) < 0.1 * before


def test_the_criterion_names_every_family_and_is_least_for_the_chosen() -> None:
    fit = fitted(*ride(16, "mixed", 20, QUIET, MeterSpec(smoothing="mean", shape_s=5)))
    names = [name for name, _ in fit.criterion]
    assert len(names) == len(set(names)) == 5
    assert min(fit.criterion, key=lambda item: item[1])[0] == "unit mean 5.0 s"


def test_a_higher_level_widens_every_interval() -> None:
    reference_w, unit_w = ride(17, "mixed", 20, QUIET, MeterSpec(smoothing="mean", shape_s=5))
    by_level = [
        fit_response(reference_w, unit_w, clock_channel=ChannelName.CADENCE, level=level) for level in (0.8, 0.99)
    ]
    widths = [fit.unit.width_s.high - fit.unit.width_s.low for fit in by_level]  # type: ignore[operator]
    assert widths[1] > 1.5 * widths[0]
    assert [fit.unit.width_s.level for fit in by_level] == [0.8, 0.99]


@settings(max_examples=15, deadline=None)
@given(
    seed=st.integers(0, 10_000),
    gain=st.floats(0.75, 1.25),
    missing=st.floats(0, 0.3),
    seconds=st.integers(400, 1800),
)
def test_whatever_is_missing_the_answer_is_an_estimate_or_a_reason(
    seed: int, gain: float, missing: float, seconds: int
) -> None:
    generator = np.random.default_rng(seed)
    reference_w, unit_w = ride(seed, "mixed", 30, QUIET, MeterSpec(smoothing="mean", shape_s=4, gain=gain))
    reference_w, unit_w = reference_w[:seconds].copy(), unit_w[:seconds].copy()
    unit_w[generator.random(seconds) < missing] = np.nan
    fit = fitted(reference_w, unit_w)
    for response in (fit.reference, fit.unit):
        assert isinstance(response, Response)
        if response.kind is ResponseKind.MEAN:
            assert response.width_s.assessed
    assert expected_power(reference_w, fit).shape == reference_w.shape
