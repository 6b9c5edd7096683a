"""An offset tried by hand says what a whole comparison at that offset says."""

from __future__ import annotations

import math

import numpy as np
import pytest

from wattwitness.model.settings import CompareSettings
from wattwitness.simulate.efforts import GroupRide
from wattwitness.simulate.ride import RideSpec, SimulatedRide, simulate_ride
from wattwitness.simulate.scenarios import BIKE, PEDALS
from wattwitness.workflows.compare import compare_recordings
from wattwitness.workflows.trial_offset import trial_offset


@pytest.fixture(scope="module")
def ride() -> SimulatedRide:
    spec = RideSpec(name="trial", meters=(PEDALS, BIKE), effort=GroupRide(mean_w=190.0), duration_s=1800.0)
    return simulate_ride(spec, 3)


@pytest.mark.parametrize("offset_s", [0.0, 7.5, -40.0])
def test_the_bias_is_that_of_a_comparison_at_the_same_offset(ride: SimulatedRide, offset_s: float) -> None:
    reference, unit = ride.recordings
    (pair,) = compare_recordings(ride.recordings, CompareSettings(offsets_s=(offset_s,))).pairs
    tried = trial_offset(reference, unit, offset_s, response=pair.response)
    assert tried.bias_pct == pytest.approx(pair.overall.bias_pct.value, abs=1e-9)
    assert tried.common_seconds == pair.common_seconds
    np.testing.assert_allclose(tried.difference_pct, pair.series.difference_pct)


def test_efforts_agree_best_at_the_true_offset(ride: SimulatedRide) -> None:
    reference, unit = ride.recordings
    true_s = compare_recordings(ride.recordings, CompareSettings()).pairs[0].clock.offset_s.value
    assert true_s is not None
    at = [trial_offset(reference, unit, true_s + off).agreement for off in (-60.0, -10.0, 0.0, 10.0, 60.0)]
    assert int(np.argmax(at)) == 2


def test_nothing_in_common_is_nothing_said(ride: SimulatedRide) -> None:
    reference, unit = ride.recordings
    tried = trial_offset(reference, unit, 1e6)
    assert tried.common_seconds == 0
    assert math.isnan(tried.bias_pct)
    assert math.isnan(tried.agreement)


def test_an_offset_is_a_number(ride: SimulatedRide) -> None:
    with pytest.raises(ValueError, match="number of seconds"):
        trial_offset(ride.recordings[0], ride.recordings[1], math.nan)
