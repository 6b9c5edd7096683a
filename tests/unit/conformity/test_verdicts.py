"""Verdicts: never firmer than the numbers, and nothing measured is no pass."""

from __future__ import annotations

import math

import numpy as np
import pytest

from wattwitness.conformity.claims import PUBLISHED
from wattwitness.conformity.further import TRIED, RidesSoFar, further_for_trueness
from wattwitness.conformity.probability import Known, chance_within
from wattwitness.conformity.rules import RuleSettings, decide, expanded
from wattwitness.conformity.verdicts import Exposure, judge, judge_consistency, judge_faults, judge_trueness
from wattwitness.model.claim import Claim, ClaimStatus, DecisionRule, Verdict, VerdictWord

TWO = Claim(name="two", source="the maker", status=ClaimStatus.STATED, limit_pct=2.0)
BY_PROBABILITY = RuleSettings()
NONE_YET = RidesSoFar(bias=np.zeros(0), standard_error=np.zeros(0), reference=1.0)


def rides(*bias: float, reference: float = 0.5, standard_error: float = 0.3) -> RidesSoFar:
    return RidesSoFar(bias=np.array(bias), standard_error=np.full(len(bias), standard_error), reference=reference)


def known(ridden: RidesSoFar) -> Known:
    count = ridden.bias.size
    spread = max(float(ridden.bias.std(ddof=1)), ridden.typical)
    return Known(
        mean=float(ridden.bias.mean()),
        standard_error=spread / math.sqrt(count),
        degrees=count - 1.0,
        reference=ridden.reference,
    )


def test_nothing_measured_is_never_a_pass() -> None:
    verdicts = judge(TWO, None, NONE_YET, None, BY_PROBABILITY, at_w=200, seed=1)
    for verdict in (verdicts.trueness, verdicts.consistency, verdicts.faults):
        assert verdict.verdict is VerdictWord.NOT_ASSESSED
        assert verdict.probability is None
        assert verdict.further_rides.value is None
        assert verdict.says


def test_no_claim_and_a_claim_elsewhere_give_no_verdict() -> None:
    ridden = rides(0.1, 0.2, 0.0)
    assert judge_trueness(None, known(ridden), ridden, BY_PROBABILITY, at_w=200, seed=1).verdict == "not_assessed"
    above = Claim(name="above", source="a maker", status=ClaimStatus.STATED, limit_pct=2.0, from_w=250.0)
    answer = judge_trueness(above, known(ridden), ridden, BY_PROBABILITY, at_w=200, seed=1)
    assert answer.verdict is VerdictWord.NOT_ASSESSED
    assert "200 W" in answer.says


def test_one_ride_decides_nothing() -> None:
    ridden = rides(-17.0)
    assert judge_trueness(TWO, None, ridden, BY_PROBABILITY, at_w=200, seed=1).verdict is VerdictWord.UNDECIDED
    assert judge_consistency(TWO, ridden, BY_PROBABILITY, seed=1).verdict is VerdictWord.NOT_ASSESSED


def test_firm_answers() -> None:
    good, low = rides(-0.2, 0.1, 0.0, -0.1, 0.2, 0.1), rides(-17.1, -16.8, -17.2, -17.0)
    assert judge_trueness(TWO, known(good), good, BY_PROBABILITY, at_w=200, seed=1).verdict is VerdictWord.CONFORMS
    far = judge_trueness(TWO, known(low), low, BY_PROBABILITY, at_w=200, seed=1)
    assert far.verdict is VerdictWord.DOES_NOT_CONFORM
    assert far.further_rides.value == 0
    assert judge_consistency(TWO, low, BY_PROBABILITY, seed=1).verdict is VerdictWord.CONFORMS
    apart = rides(-13.0, -1.0, -7.0, -11.0, -3.0, -9.0, -5.0, -2.0)
    assert judge_consistency(TWO, apart, BY_PROBABILITY, seed=1).verdict is VerdictWord.DOES_NOT_CONFORM


def test_a_reference_that_could_be_anything_convicts_nobody() -> None:
    """With u far beyond the limit the probability of conformance is small at any mean; that is no proof of a fault."""
    blind = Known(mean=0.0, standard_error=0.01, degrees=10, reference=30.0)
    assert chance_within(0.5, blind) < 0.02
    assert decide(0.5, blind, BY_PROBABILITY) is VerdictWord.UNDECIDED


def test_the_references_error_is_never_divided_by_the_number_of_rides() -> None:
    few, many = (Known(mean=1.0, standard_error=0.3 / math.sqrt(n), degrees=n - 1, reference=1.0) for n in (5, 500))
    assert expanded(few) > expanded(many) > 1.95
    assert chance_within(2.0, many) == pytest.approx(0.8400, abs=0.002)  # normal, 1 +- 1 within -2 to 2


def test_fewer_rides_are_never_firmer_at_the_same_mean_and_spread() -> None:
    for mean in (0.5, 1.9, 3.0):
        words = [
            decide(2.0, Known(mean=mean, standard_error=1 / math.sqrt(n), degrees=n - 1, reference=0.3), BY_PROBABILITY)
            for n in (2, 3, 5, 8, 20, 60)
        ]
        firm = [word is not VerdictWord.UNDECIDED for word in words]
        assert firm == sorted(firm)


@pytest.mark.parametrize("rule", list(DecisionRule))
def test_rules_by_name(rule: DecisionRule) -> None:
    settings = RuleSettings(rule=rule)
    inside, beyond = (Known(mean=mean, standard_error=0.1, degrees=9, reference=0.2) for mean in (0.3, 4.0))
    assert decide(2.0, inside, settings) is VerdictWord.CONFORMS
    assert decide(2.0, beyond, settings) is VerdictWord.DOES_NOT_CONFORM
    near = Known(mean=1.9, standard_error=0.1, degrees=9, reference=0.2)
    simple = rule is DecisionRule.SIMPLE_ACCEPTANCE
    assert decide(2.0, near, settings) is (VerdictWord.CONFORMS if simple else VerdictWord.UNDECIDED)


def test_a_limit_is_met_before_anything_is_rounded() -> None:
    """2.004 is beyond 2, although both print as 2.00."""
    settings = RuleSettings(rule=DecisionRule.SIMPLE_ACCEPTANCE)
    just = Known(mean=2.004, standard_error=0.0, degrees=9, reference=0.0)
    assert decide(2.0, just, settings) is VerdictWord.DOES_NOT_CONFORM


def test_no_number_of_rides_decides_with_a_poor_reference() -> None:
    more = further_for_trueness(2.0, rides(-1.8, -2.2, -2.0, -1.9, reference=3.2), BY_PROBABILITY, seed=1)
    assert more.value is None
    assert "3.2 %" in more.reason


def test_a_number_of_rides_comes_with_its_chance() -> None:
    more = further_for_trueness(2.0, rides(-0.9, 0.9, 0.2, reference=0.2), BY_PROBABILITY, seed=1)
    assert more.value in TRIED
    assert more.chance is not None
    assert more.chance >= 0.8


def test_no_fault_shows_only_rarity() -> None:
    short, long = (judge_faults(TWO, Exposure(faults=0, hours=h, rides=6), BY_PROBABILITY, seed=1) for h in (3.0, 6.0))
    assert short.verdict is VerdictWord.UNDECIDED
    assert long.verdict is VerdictWord.CONFORMS
    many = judge_faults(TWO, Exposure(faults=12, hours=6.0, rides=6), BY_PROBABILITY, seed=1)
    assert many.verdict is VerdictWord.DOES_NOT_CONFORM
    strict = Claim(name="never", source="a maker", status=ClaimStatus.STATED, faults_per_h=0.0)
    never = judge_faults(strict, Exposure(faults=0, hours=100.0, rides=60), BY_PROBABILITY, seed=1)
    assert never.verdict is VerdictWord.UNDECIDED
    assert never.further_rides.value is None


def test_episodes_that_may_be_the_units_count_against_a_pass_only() -> None:
    def judged(faults: int, unsure: int) -> Verdict:
        return judge_faults(TWO, Exposure(faults=faults, unsure=unsure, hours=12.0, rides=6), BY_PROBABILITY, seed=1)

    assert judged(1, 0).verdict is VerdictWord.CONFORMS
    doubtful = judged(1, 1)  # two in 12 h: 1 - e^-6 (1 + 6 + 18) = 0.938
    assert doubtful.verdict is VerdictWord.UNDECIDED
    assert doubtful.probability == pytest.approx(1 - math.exp(-6) * (1 + 6 + 18))
    assert "1 episode that may be the unit's" in doubtful.says
    assert judged(11, 0).verdict is judged(11, 3).verdict is VerdictWord.DOES_NOT_CONFORM
    assert judged(9, 9).verdict is judged(9, 0).verdict


def test_rides_that_were_not_enough_are_no_limit_of_what_helps() -> None:
    """Twenty minutes without a fault: more than sixty such rides, not none."""
    short = judge_faults(TWO, Exposure(faults=0, hours=1 / 30, rides=1), BY_PROBABILITY, seed=1).further_rides
    assert short.value is None
    assert short.more_than == TRIED[-1]
    assert "6.0 h in all" in short.reason


def test_the_wider_of_watts_and_percent_holds() -> None:
    claim = PUBLISHED.get("din_32932_class_a")
    assert claim.limit_at_pct(25.0) == pytest.approx(20.0)
    assert claim.limit_at_pct(50.0) == pytest.approx(10.0)
    assert claim.limit_at_pct(300.0) == pytest.approx(10.0)
    assert claim.limit_at_pct(0.0) is None


def test_wrong_firm_verdicts_stay_within_the_risk() -> None:
    """True bias at the limit, the reference's error drawn once a study: 5 % stated, and chance allowed for."""
    rng = np.random.default_rng(8)
    wrong = 0
    for _ in range(600):
        bias = 2.0 + rng.normal(0, 0.6) + rng.normal(0, 0.8, 5)
        ridden = rides(*bias, reference=0.6)
        wrong += decide(1.999999, known(ridden), BY_PROBABILITY) is VerdictWord.CONFORMS
    assert wrong <= 45
