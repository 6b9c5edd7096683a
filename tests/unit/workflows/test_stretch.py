"""The bias of a chosen stretch: the whole ride's value for the whole ride, a block's for a block, honest when short."""

from __future__ import annotations

import math

import numpy as np
import pytest

from wattwitness.agreement.chosen import chosen_stretch
from wattwitness.model.comparison import PairComparison
from wattwitness.model.settings import CompareSettings
from wattwitness.simulate.efforts import GroupRide
from wattwitness.simulate.ride import RideSpec, simulate_ride
from wattwitness.simulate.scenarios import BIKE, PEDALS
from wattwitness.workflows.compare import compare_recordings
from wattwitness.workflows.stretch import stretch_of_pair, stretch_sentence


@pytest.fixture(scope="module")
def pair() -> PairComparison:
    spec = RideSpec(name="stretch", meters=(PEDALS, BIKE), effort=GroupRide(mean_w=190.0), duration_s=2400.0)
    return compare_recordings(simulate_ride(spec, 5).recordings, CompareSettings()).pairs[0]


def test_the_whole_ride_as_a_stretch_is_the_ride(pair: PairComparison) -> None:
    whole, ride = stretch_of_pair(pair, 0.0, 1e5), pair.overall.bias_pct
    assert whole.seconds == pair.common_seconds
    assert whole.bias_pct.value == pytest.approx(ride.value)
    assert whole.bias_pct.low == pytest.approx(ride.low)
    assert whole.plain_pct == pytest.approx(ride.value)


def test_a_block_as_a_stretch_is_the_block(pair: PairComparison) -> None:
    block = pair.blocks[1]
    stretch = stretch_of_pair(pair, block.start_s, block.end_s)
    assert stretch.seconds == block.seconds
    assert stretch.bias_pct.value == pytest.approx(block.bias_pct.value)
    assert stretch.bias_pct.high == pytest.approx(block.bias_pct.high)
    assert stretch.extra_kj == pytest.approx(block.seconds * (block.unit_w - block.reference_w) / 1000)


def test_a_shorter_stretch_is_less_sure(pair: PairComparison) -> None:
    widths = [stretch_of_pair(pair, 600.0, 600.0 + 60 * minutes).bias_pct for minutes in (2, 20)]
    sizes = [one.high - one.low for one in widths if one.low is not None and one.high is not None]
    assert len(sizes) == 2
    assert sizes[0] > 1.5 * sizes[1]


def test_under_a_minute_no_interval_is_given_and_why_is_said(pair: PairComparison) -> None:
    stretch = stretch_of_pair(pair, 600.0, 640.0)
    assert stretch.bias_pct.not_assessed == "too_short"
    assert math.isfinite(stretch.plain_pct)
    sentence = stretch_sentence(pair, stretch)
    assert "no bias is given" in sentence
    assert "too short" in sentence


def test_a_stretch_outside_the_ride_says_so(pair: PairComparison) -> None:
    stretch = stretch_of_pair(pair, 1e5, 2e5)
    assert stretch.seconds == 0
    assert math.isnan(stretch.extra_kj)
    assert "no second" in stretch_sentence(pair, stretch)


@pytest.mark.parametrize(("from_s", "to_s"), [(10.0, 10.0), (20.0, 10.0), (math.nan, 10.0), (0.0, math.inf)])
def test_a_stretch_ends_after_it_begins(from_s: float, to_s: float) -> None:
    at = np.arange(600.0)
    with pytest.raises(ValueError, match="ends after it begins"):
        chosen_stretch(at, at, at, at, from_s=from_s, to_s=to_s, level=0.95)


@pytest.mark.parametrize("hours", [1, 3, 12])
def test_a_short_piece_of_a_long_ride_has_an_interval_that_makes_sense(hours: int) -> None:
    """The wander of a long ride is known in long cells; a piece of few cells must not take noise for wander."""
    draws = np.random.default_rng(7)
    size = hours * 3600
    wander = np.convolve(draws.normal(0, 1, size + 600), np.ones(600) / 600**0.5, mode="valid")[:size]
    expected_w = 200 + 40 * np.sin(np.arange(size) / 90) + draws.normal(0, 15, size)
    unit_w = expected_w * (0.97 + 0.007 * wander) + draws.normal(0, 6, size)
    time_s, cadence_rpm = np.arange(size, dtype=float), np.full(size, 90.0)
    for from_s, length_s in [(600.0, 120.0), (600.0, 300.0), (1200.0, 600.0), (60.0, 900.0)]:
        found = chosen_stretch(
            time_s, expected_w, unit_w, cadence_rpm, from_s=from_s, to_s=from_s + length_s, level=0.95
        ).bias_pct
        assert found.value is not None
        assert found.high is not None
        assert 0.2 < found.high - found.value < 4
