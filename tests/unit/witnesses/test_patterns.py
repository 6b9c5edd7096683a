"""Patterns against chance: found where they were made, not found where they were not, and too few said."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from scipy import stats

from tests.unit.witnesses.rides import effort, ride_of
from wattwitness.faults.chance import mean_of_uniforms, slope_by_chance
from wattwitness.faults.patterns import FIRM, patterns, patterns_over_rides
from wattwitness.faults.preceding import preceded
from wattwitness.model.episodes import Episode, EpisodeKind, Finding, Pattern
from wattwitness.model.estimate import Estimate
from wattwitness.model.recording import ChannelName


def episode(
    minute: float,
    *,
    depth_pct: float = -25.0,
    before_w: float | None = 200.0,
    rank: float | None = None,
    finding: Finding = Finding.UNIT,
) -> Episode:
    return Episode(
        kind=EpisodeKind.DROP,
        start_s=60 * minute,
        end_s=60 * minute + 90,
        depth_pct=Estimate(value=depth_pct, low=depth_pct - 2, high=depth_pct + 2, unit="%"),
        energy_kj=Estimate.missing("not_asked", "kJ"),
        energy_share_pct=None,
        certainty=0.999,
        finding=finding,
        reason="",
        before_w=before_w,
        before_ranks=() if rank is None else ((ChannelName.POWER, rank),),
    )


def named(found: tuple[Pattern, ...], name: str) -> Pattern:
    return next(pattern for pattern in found if pattern.name == name)


def test_the_mean_of_uniforms_is_exact() -> None:
    """One value, x or further from a half: 2·min(x, 1 - x). Two, by the area of a triangle: sum 0.5 or less, 1/8."""
    assert mean_of_uniforms([0.1]) == pytest.approx(0.2)
    assert mean_of_uniforms([0.2, 0.3]) == pytest.approx(0.25)
    assert mean_of_uniforms([0.9, 0.6]) == pytest.approx(0.25)
    assert mean_of_uniforms([0.5] * 6) == pytest.approx(1.0)


@pytest.mark.parametrize("count", [5, 12, 20, 40])
def test_the_mean_of_uniforms_against_scipys_irwin_hall_or_the_normal(count: int) -> None:
    values = np.linspace(0.1, 0.7, count)
    expected = 2 * stats.norm.cdf((values.sum() - count / 2) / math.sqrt(count / 12))
    if count <= 20 and hasattr(stats, "irwinhall"):
        expected = 2 * stats.irwinhall(count).cdf(values.sum())
    assert mean_of_uniforms(list(values)) == pytest.approx(float(expected), rel=1e-6)


def test_a_permuted_slope_agrees_with_every_permutation() -> None:
    x, y = np.array([1.0, 2, 3, 4, 5, 6]), np.array([1.2, 0.9, 3.1, 2.0, 4.2, 3.6])
    centred = x - x.mean()
    sums = [abs(float(centred @ np.array(order))) for order in itertools.permutations(y)]
    exact = np.mean(np.array(sums) >= abs(float(centred @ y)) - 1e-12)
    assert slope_by_chance(x, y) == pytest.approx(float(exact), abs=0.01)


def test_no_episode_of_the_unit_makes_no_pattern() -> None:
    assert patterns([], 1.0) == ()
    assert patterns([episode(20, finding=Finding.RIDER), episode(30, finding=Finding.REFERENCE)], 1.0) == ()


def test_too_few_say_so_and_claim_no_chance() -> None:
    found = patterns([episode(20), episode(25)], 1.0)
    assert all(pattern.chance is None for pattern in found)
    assert named(found, "how_often").says.startswith("2 episodes in 1.0 h: 2 an hour (0.24 to 7.2")
    assert "Too few" in named(found, "when_they_begin").says


def test_the_same_minutes_on_every_ride_are_a_pattern() -> None:
    rides = [([episode(minute)], 1.0) for minute in (27.0, 28.5, 30.0, 29.0, 31.0, 28.0)]
    chance = named(patterns_over_rides(rides), "when_they_begin").chance
    assert chance is not None
    assert chance < FIRM


def test_any_minutes_are_none() -> None:
    generator = np.random.default_rng(8)
    firm = 0
    for _ in range(60):
        rides = [([episode(float(minute))], 1.0) for minute in generator.uniform(0, 60, 6)]
        chance = named(patterns_over_rides(rides), "when_they_begin").chance
        assert chance is not None
        firm += chance < 0.05
    assert firm <= 8  # 3 are to be expected; 9 or more of 60 happen once in 500


def test_equal_intervals_are_a_pattern() -> None:
    found = patterns([episode(minute) for minute in (8, 16, 24.1, 32, 40, 48)], 1.0)
    chance = named(found, "equal_intervals").chance
    assert chance is not None
    assert chance < FIRM


def test_what_precedes_them_is_ranked_among_the_ride() -> None:
    found = patterns([episode(10 + 8 * place, rank=0.93) for place in range(5)], 1.0)
    before = named(found, "power_before")
    assert before.chance is not None
    assert before.chance < FIRM
    assert "higher than in 93 %" in before.says
    usual = patterns([episode(10 + 8 * place, rank=rank) for place, rank in enumerate((0.1, 0.9, 0.4, 0.6))], 1.0)
    chance = named(usual, "power_before").chance
    assert chance is not None
    assert chance > 0.5


@pytest.mark.parametrize(
    ("watts", "expected"), [(None, "a share of power, 25 %"), (50.0, "a number of watts, about 49 W")]
)
def test_a_factor_is_told_from_an_offset(watts: float | None, expected: str) -> None:
    generator = np.random.default_rng(3)
    before = np.array([110.0, 150, 190, 230, 270, 310, 180])
    depth = np.full(before.size, -25.0) if watts is None else -100 * watts / before
    depth = depth * (1 + 0.04 * generator.standard_normal(before.size))
    found = patterns(
        [
            episode(5 + 7 * place, depth_pct=float(deep), before_w=float(power))
            for place, (power, deep) in enumerate(zip(before, depth, strict=True))
        ],
        1.0,
    )
    assert expected in named(found, "factor_or_offset").says


def test_one_power_cannot_tell_a_factor_from_an_offset() -> None:
    found = named(patterns([episode(5 + 7 * place) for place in range(6)], 1.0), "factor_or_offset")
    assert found.chance is None
    assert "much the same power" in found.says


def test_ranks_come_from_the_ride() -> None:
    power = effort()
    power[1000:1100] = 400.0
    ride = ride_of(power, power, unit={ChannelName.CADENCE: np.full(power.size, np.nan)})
    high, first = preceded(ride, [episode(1090 / 60), episode(0.2)])
    assert dict(high.before_ranks)[ChannelName.POWER] > 0.97
    assert first.before_ranks == ()
