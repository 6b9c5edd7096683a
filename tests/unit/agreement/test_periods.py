"""Halves and blocks: where they begin and end, and whose seconds they hold."""

from __future__ import annotations

import numpy as np
import pytest

from tests.unit.agreement.rides import LEVEL, pair
from wattwitness.agreement.periods import blocks, halves


def test_halves_divide_the_time_both_recorded() -> None:
    expected_w, unit_w = pair()
    expected_w[:400] = np.nan
    unit_w[2600:] = np.nan
    first, second = halves(np.arange(3600.0), expected_w, unit_w, level=LEVEL)
    assert (first.start_s, first.end_s, second.start_s, second.end_s) == (400.0, 1500.0, 1500.0, 2600.0)
    assert first.seconds == second.seconds == 1100


def test_a_gap_does_not_move_the_middle() -> None:
    expected_w, unit_w = pair()
    unit_w[100:1500] = np.nan
    first, second = halves(np.arange(3600.0), expected_w, unit_w, level=LEVEL)
    assert (first.end_s, first.seconds, second.seconds) == (1800.0, 400, 1800)


def test_a_step_at_half_time_is_seen() -> None:
    expected_w, unit_w = pair(bias_pct=0.0)
    unit_w[1800:] *= 1.08
    first, second = halves(np.arange(3600.0), expected_w, unit_w, level=LEVEL)
    assert first.bias_pct.value == pytest.approx(0.0, abs=1.0)
    assert second.bias_pct.value == pytest.approx(8.0, abs=1.0)


def test_values_and_mean_powers() -> None:
    expected_w = np.repeat([100.0, 200.0], 600)
    unit_w = np.repeat([110.0, 190.0], 600)
    first, second = halves(np.arange(1200.0), expected_w, unit_w, level=LEVEL)
    assert (first.reference_w, first.unit_w, first.bias_pct.value) == pytest.approx((100, 110, 10))
    assert (second.reference_w, second.unit_w, second.bias_pct.value) == pytest.approx((200, 190, -5))


def test_the_last_block_is_as_short_as_the_ride_leaves_it() -> None:
    expected_w, unit_w = pair(seconds=1510)
    found = blocks(np.arange(1510.0), expected_w, unit_w, block_min=10, level=LEVEL)
    assert [(block.start_s, block.end_s, block.seconds) for block in found] == [
        (0.0, 600.0, 600),
        (600.0, 1200.0, 600),
        (1200.0, 1510.0, 310),
    ]


def test_a_block_of_a_few_seconds_has_no_bias() -> None:
    expected_w, unit_w = pair(seconds=1210)
    last = blocks(np.arange(1210.0), expected_w, unit_w, block_min=10, level=LEVEL)[-1]
    assert (last.seconds, last.bias_pct.not_assessed) == (10, "too_short")


def test_an_empty_block_has_no_mean() -> None:
    expected_w, unit_w = pair(seconds=2400)
    unit_w[600:1200] = np.nan
    empty = blocks(np.arange(2400.0), expected_w, unit_w, block_min=10, level=LEVEL)[1]
    assert empty.seconds == 0
    assert np.isnan(empty.reference_w)
    assert empty.bias_pct.value is None


def test_nothing_common_gives_no_periods() -> None:
    nothing = np.full(100, np.nan)
    assert halves(np.arange(100.0), nothing, nothing, level=LEVEL) == ()
    assert blocks(np.arange(100.0), nothing, nothing, block_min=10, level=LEVEL) == ()


def test_shorter_pieces_have_wider_intervals() -> None:
    expected_w, unit_w = pair()
    time_s = np.arange(3600.0)

    def width(block_min: float) -> float:
        found = [block.bias_pct for block in blocks(time_s, expected_w, unit_w, block_min=block_min, level=LEVEL)]
        return float(
            np.mean([bias.high - bias.low for bias in found if bias.high is not None and bias.low is not None])
        )

    assert width(30) < width(10) < width(2)
