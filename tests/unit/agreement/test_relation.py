"""Blocks along the ride."""

from __future__ import annotations

import numpy as np
import pytest

from wattwitness.agreement.relation import BLOCK_S, relation_blocks
from wattwitness.agreement.settling_columns import steadied

TIME_S = np.arange(1200.0)
STEADY_W = np.full(1200, 200.0)
RPM = np.full(1200, 90.0)


def test_blocks_are_ratios_of_sums() -> None:
    unit = np.where(TIME_S % BLOCK_S < 5, 240.0, 190.0)
    blocks = relation_blocks(TIME_S, STEADY_W, unit, RPM)
    assert blocks.count == 60
    np.testing.assert_allclose(blocks.error, (5 * 240 + 15 * 190) / (20 * 200) - 1)
    np.testing.assert_allclose(blocks.omega, 90 * 2 * np.pi / 60)
    np.testing.assert_allclose(blocks.at_s, 20 * np.arange(60) + 9.5)


def test_coasting_and_what_is_beside_it_are_left_out() -> None:
    power, rpm = STEADY_W.copy(), RPM.copy()
    power[105:108], rpm[105:108] = 0.0, 0.0
    blocks = relation_blocks(TIME_S, power, power * 1.02, rpm)
    used = set(blocks.second.tolist())
    assert not used & set(range(102, 111))
    assert {101, 111} <= used
    np.testing.assert_allclose(blocks.error, 0.02)


def test_a_cadence_that_cannot_be_is_left_out() -> None:
    rpm = RPM.copy()
    rpm[300:330] = 2.0
    assert not set(relation_blocks(TIME_S, STEADY_W, STEADY_W, rpm).second.tolist()) & set(range(300, 330))


@pytest.mark.parametrize(
    ("seconds", "cadence", "slug"),
    [(30, 90.0, "too_short"), (200, 90.0, "too_short"), (1200, np.nan, "no_cadence"), (1200, 0.0, "no_cadence")],
)
def test_why_there_are_none(seconds: int, cadence: float, slug: str) -> None:
    power = STEADY_W[:seconds]
    assert relation_blocks(TIME_S[:seconds], power, power, np.full(seconds, cadence)).lacks == slug


def test_without_cadence_there_are_blocks_all_the_same() -> None:
    blocks = relation_blocks(TIME_S, STEADY_W, STEADY_W)
    assert blocks.count == 60
    assert np.isnan(blocks.omega).all()
    assert np.all(blocks.at_cadence(9.0).omega == 9.0)


def test_means_of_a_channel_with_gaps() -> None:
    channel = np.where(TIME_S % 20 < 12, TIME_S // 20, np.nan)
    channel[20:40] = np.nan
    means = relation_blocks(TIME_S, STEADY_W, STEADY_W, RPM).means(channel)
    assert np.isnan(means[1])
    np.testing.assert_allclose(np.delete(means, 1), np.delete(np.arange(60.0), 1))


def test_a_long_ride_has_longer_blocks() -> None:
    seconds = 12 * 3600
    power = np.full(seconds, 150.0)
    assert relation_blocks(np.arange(float(seconds)), power, power, np.full(seconds, 85.0)).count <= 720


def test_noted_readings_are_enough() -> None:
    unit = np.where(TIME_S % 15 == 0, 210.0, np.nan)
    blocks = relation_blocks(TIME_S, STEADY_W, unit, RPM)
    assert blocks.lacks == ""
    np.testing.assert_allclose(blocks.error, 0.05)


def test_a_block_that_stands_out_weighs_less() -> None:
    generator = np.random.default_rng(2)
    unit = STEADY_W * (1 + 0.01 * generator.standard_normal(1200))
    unit[400:420] *= 0.7
    blocks = steadied(relation_blocks(TIME_S, STEADY_W, unit, RPM))
    assert blocks.noise[20] > 20 * np.median(blocks.noise)
    assert np.sum(blocks.noise > 4 * np.median(blocks.noise)) <= 2
