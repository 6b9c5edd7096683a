"""Sentences about estimates are never firmer than the numbers."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.factories import plain
from wattwitness.model.estimate import Estimate
from wattwitness.words.estimates import (
    because,
    counted,
    holds_zero,
    interval_cell,
    interval_words,
    listed,
    missing_words,
    reads,
    reads_briefly,
    side,
    value_cell,
    with_interval,
)


def bias(value: float, low: float, high: float, level: float = 0.95) -> Estimate:
    return Estimate(value=value, low=low, high=high, unit="%", level=level)


@pytest.mark.parametrize(
    ("estimate", "said"),
    [
        (bias(-4.3, -4.8, -3.8), "reads 4.3 % low (3.8 to 4.8 % low, 95 %)"),
        (bias(4.3, 3.8, 4.8, 0.9), "reads 4.3 % high (3.8 to 4.8 % high, 90 %)"),
        (
            bias(0.1, -0.4, 0.7),
            "shows no difference that this ride could tell from zero: between 0.4 % low and 0.7 % high (95 %)",
        ),
        # An end that touches zero holds zero.
        (
            bias(-0.5, -1.0, 0.0),
            "shows no difference that this ride could tell from zero: between 1.0 % low and 0 % (95 %)",
        ),
        # Just beside zero: enough decimals to stay there.
        (bias(-2.4, -4.8, -0.01), "reads 2.40 % low (0.01 to 4.80 % low, 95 %)"),
        (bias(-2.4, -4.8, -1e-7), "reads 2.400 % low (under 0.001 to 4.800 % low, 95 %)"),
        (bias(-100.0, -100.0, -100.0), "shows no power at all (100 % low)"),
        (bias(-100.0, -100.0, -99.0), "reads 100.0 % low (99.0 to 100.0 % low, 95 %)"),
        (bias(-2.0, -math.inf, -1.0), "reads 2.0 % low (1.0 % low or lower, 95 %)"),
        (bias(98765.4, 1.2, math.inf), "reads 98 765.4 % high (1.2 % high or higher, 95 %)"),
        (
            bias(1.0, -math.inf, math.inf),
            "shows no difference that this ride could tell from zero: anywhere: the data set no bound (95 %)",
        ),
    ],
)
def test_what_a_unit_reads(estimate: Estimate, said: str) -> None:
    assert plain(reads(estimate)) == said


def test_a_missing_estimate_is_never_a_pass() -> None:
    missing = Estimate.missing("no_power", "%")
    assert plain(reads(missing)) == "was not compared: one of the recordings holds no power"
    assert plain(reads_briefly(missing)) == "not assessed: one of the recordings holds no power"
    assert plain(with_interval(missing)) == missing_words(missing)
    assert value_cell(missing) == interval_cell(missing) == "–"
    assert not holds_zero(missing)


def test_an_unknown_reason_is_spelt_out() -> None:
    assert because("never_heard_of") == "never heard of"


@given(
    st.tuples(*[st.floats(-1e6, 1e6)] * 3).map(sorted),
)
def test_a_side_is_claimed_only_where_the_whole_interval_has_it(numbers: list[float]) -> None:
    low, value, high = numbers
    said = reads(bias(value, low, high))
    if low <= 0 <= high:
        assert said.startswith("shows no difference")
    else:
        assert said.startswith("reads ")
        assert ("low" in said) is (high < 0)
        assert ("high" in said) is (low > 0)


@pytest.mark.parametrize(
    ("low", "high", "said"),
    [
        (-4.8, -3.8, "3.8 to 4.8 % low"),
        (3.8, 4.8, "3.8 to 4.8 % high"),
        (-0.4, 0.7, "between 0.4 % low and 0.7 % high"),
        (0.0, 0.7, "between 0 % and 0.7 % high"),
        (0.0, 0.0, "0 %"),
        (-2.0, -2.0, "2.0 % low"),
        (-math.inf, 0.7, "0.7 % high or lower"),
    ],
)
def test_ranges_of_bias(low: float, high: float, said: str) -> None:
    assert plain(interval_words(low, high, 1)) == said


def test_sides() -> None:
    assert plain(side(-4.3, 1)) == "4.3 % low"
    assert plain(side(0.0, 1)) == "0 %"
    assert plain(side(1e-9, 1)) == "under 0.1 % high"
    assert plain(side(-math.inf, 1)) == "without bound on the low side"


def test_cells_carry_signs_and_one_number_of_decimals() -> None:
    estimate = bias(-4.3, -4.8, 0.04)
    assert value_cell(estimate) == "−4.30"
    assert interval_cell(estimate) == "−4.80 to +0.04"
    assert plain(with_interval(estimate)) == "−4.30 (−4.80 to +0.04) %"
    assert interval_cell(Estimate(value=1.0, low=-math.inf, high=2.0, unit="s")) == "−∞ to +2.0"


def test_counts_and_lists() -> None:
    assert plain(counted(1, "jump")) == "1 jump"
    assert plain(counted(2, "jump")) == "2 jumps"
    assert plain(counted(12000, "sample")) == "12 000 samples"
    assert listed(["a"]) == "a"
    assert listed(["a", "b"]) == "a and b"
    assert listed(["a", "b", "c"]) == "a, b and c"
