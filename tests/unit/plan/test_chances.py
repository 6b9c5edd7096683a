"""Chances of verdicts: the same judgement as a real study's, and what must hold of it."""

from __future__ import annotations

import math

import numpy as np
import pytest

from wattwitness.conformity.probability import Known, chance_within, student_quantile
from wattwitness.conformity.rules import RuleSettings, decide
from wattwitness.conformity.spread import chance_spread_within
from wattwitness.model.claim import DecisionRule, VerdictWord
from wattwitness.model.plan import Prospects
from wattwitness.plan.chances import Expected, consistency_chances, judged, trueness_chances
from wattwitness.plan.prospects import firm, largest_reference, prospects_of
from wattwitness.study.consistency import random_effects

WORDS = {1: VerdictWord.CONFORMS, 0: VerdictWord.UNDECIDED, -1: VerdictWord.DOES_NOT_CONFORM}
ANY = Expected(ride_se=0.3, reference=0.5, bias_sd=3.2, spread_low=0.5, spread_high=1.5)


@pytest.mark.parametrize("rule", list(DecisionRule))
def test_drawn_studies_are_judged_as_real_ones(rule: DecisionRule) -> None:
    """Rides drawn one by one through the random-effects model and the rule, against the short cut."""
    rng = np.random.default_rng(2)
    settings = RuleSettings(rule=rule)
    judged_so_far = 0
    for trial in range(60):
        count, error = int(rng.integers(2, 10)), 0.3
        reference, limit = (0.0, 0.5, 1.0, 3.0)[trial % 4], (1.0, 2.0, 5.0)[trial % 3]
        bias = rng.normal(rng.uniform(-6, 6), rng.uniform(0.1, 2), count)
        mean = random_effects(bias, np.full(count, error), np.full(count, 1e6)).mean_bias_pct
        assert mean.value is not None
        assert mean.high is not None
        known = Known(
            mean=mean.value,
            standard_error=(mean.high - mean.value) / float(student_quantile(0.975, count - 1)),
            degrees=count - 1.0,
            reference=reference,
        )
        short = math.sqrt(max(float(np.var(bias, ddof=1)), error**2) / count)
        assert short == pytest.approx(known.standard_error, rel=1e-3)
        word = judged(limit, np.array([mean.value]), np.array([short]), count - 1.0, reference, settings)
        within = chance_within(limit, known)
        if rule is DecisionRule.CONFORMANCE_PROBABILITY and min(abs(within - 0.95), abs(within - 0.05)) < 0.005:
            continue  # so near the edge the two may round apart
        assert WORDS[int(word[0])] is decide(limit, known, settings)
        judged_so_far += 1
    assert judged_so_far > 50


def test_spreads_are_judged_as_those_of_real_studies() -> None:
    """The share of studies drawn ride by ride that conform, against the short cut: within three standard errors."""
    rng = np.random.default_rng(4)
    expected = Expected(ride_se=0.5, reference=1.0, spread_low=1.0, spread_high=1.0)
    found = consistency_chances(2.0, 6, expected, RuleSettings(), seed=1)
    bias = rng.normal(0, math.hypot(1.0, 0.5), (600, 6))
    share = np.mean([chance_spread_within(2.0, one, np.full(6, 0.5)) >= 0.95 for one in bias])
    assert found.conforms == pytest.approx(float(share), abs=3 * 0.5 * math.sqrt(1 / 600 + 1 / 1500))


@pytest.mark.parametrize("reference", [0.0, 0.4, 1.0, 3.2])
def test_a_wrong_firm_verdict_is_no_more_frequent_than_the_risk(reference: float) -> None:
    """At a fixed true bias the reference's error is drawn once a study; three standard errors of the draws allowed."""
    expected = Expected(ride_se=0.3, reference=reference, spread_low=0.5, spread_high=1.5)
    for rides in (3, 8):
        for bias in (0.0, 1.0, 2.0):
            within = trueness_chances(2.0, rides, expected, RuleSettings(), bias=bias, seed=1)
            assert within.does_not_conform <= 0.05 + 3 * math.sqrt(0.05 * 0.95 / 1500)
        for bias in (2.01, 3.0, 5.0):
            beyond = trueness_chances(2.0, rides, expected, RuleSettings(), bias=bias, seed=1)
            assert beyond.conforms <= 0.05 + 3 * math.sqrt(0.05 * 0.95 / 1500)


def test_chances_sum_to_one_and_a_coarse_reference_never_lets_a_unit_conform() -> None:
    coarse = Expected(ride_se=0.3, reference=3.2, bias_sd=3.2)
    for one in prospects(coarse).by_rides:
        assert one.conforms + one.does_not_conform + one.undecided == pytest.approx(1)
        assert one.conforms == 0


def test_no_number_of_rides_is_named_where_none_can_decide() -> None:
    found = prospects(Expected(ride_se=0.3, reference=3.2, bias_sd=3.2)).needed
    assert found.value is None
    assert found.most_chance is not None
    assert found.most_chance < 0.8
    assert "No number of rides" in found.reason
    assert "3.2 %" in found.reason


def test_the_number_named_decides_as_often_as_said() -> None:
    """Studies of so many rides drawn anew, ride by ride, and judged by the rule itself."""
    expected = Expected(ride_se=0.3, reference=0.3, bias_mean=6.0, bias_sd=1.0, spread_low=1.0, spread_high=1.0)
    needed = prospects(expected).needed
    assert needed.value is not None
    assert needed.chance is not None
    rng = np.random.default_rng(9)
    decided = 0
    for _ in range(300):
        true = rng.normal(6.0, 1.0) + rng.normal(0, 0.3)
        bias = rng.normal(true, math.hypot(1.0, 0.3), needed.value)
        mean = random_effects(bias, np.full(needed.value, 0.3), np.full(needed.value, 1e6)).mean_bias_pct
        assert mean.value is not None
        assert mean.high is not None
        error = (mean.high - mean.value) / float(student_quantile(0.975, needed.value - 1))
        known = Known(mean=mean.value, standard_error=error, degrees=needed.value - 1.0, reference=0.3)
        decided += decide(2.0, known, RuleSettings()) is not VerdictWord.UNDECIDED
    assert decided / 300 == pytest.approx(needed.chance, abs=0.08)
    assert needed.chance >= 0.8


def test_more_rides_and_better_references_decide_more_often() -> None:
    found = [firm(one) for one in prospects(ANY).by_rides]
    assert found == sorted(found)
    better = prospects(Expected(ride_se=0.3, reference=0.1, bias_sd=3.2, spread_low=0.5, spread_high=1.5))
    assert firm(better.by_rides[-1]) > found[-1]


@pytest.mark.parametrize("rule", [DecisionRule.GUARD_BAND, DecisionRule.CONFORMANCE_PROBABILITY])
def test_the_largest_reference_is_where_a_perfect_unit_stops_to_conform(rule: DecisionRule) -> None:
    settings = RuleSettings(rule=rule)
    largest = largest_reference(2.0, settings)
    assert largest == pytest.approx(2 / 1.95996, rel=1e-4)
    for reference, word in ((0.99 * largest, VerdictWord.CONFORMS), (1.01 * largest, VerdictWord.UNDECIDED)):
        known = Known(mean=0.0, standard_error=0.0, degrees=math.inf, reference=reference)
        assert decide(2.0, known, settings) is word


def prospects(expected: Expected) -> Prospects:
    return prospects_of(
        2.0, expected, RuleSettings(), spread_limit_pct=2.0, faults_per_h=0.5, asked_chance=0.8, rides=None, seed=1
    )
