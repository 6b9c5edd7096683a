"""A claim over a range of power is met only where it is met at both ends of what was ridden."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from tests.unit.study.figures import figures
from wattwitness.model.claim import Claim, ClaimStatus, VerdictWord
from wattwitness.model.study import RideFigures, Study
from wattwitness.study.assemble import StudyQuestion, study_of

FIRM = 0.1**2
CLAIM = Claim(name="maker", source="data sheet", status=ClaimStatus.STATED, limit_pct=2.0, from_w=100.0, to_w=400.0)


def rides(count: int, *, zero: float = 0.0, low_w: float = 90.0, high_w: float = 350.0) -> list[RideFigures]:
    """Rides about 200 W with a zero in N·m and no gain error: right at 200 W by the gain that balances it there."""
    at_200 = zero * 100 * 2 * math.pi * 85 / 60 / 200
    return [
        replace(
            figures(number, 0.02 * (-1) ** number, error=0.1, gain=-at_200 + 0.02 * (-1) ** number, zero=zero),
            relation_covariance=(FIRM, -0.8 * 0.1 * 0.01, 0.01**2),
            ridden_w=(low_w, high_w),
        )
        for number in range(count)
    ]


def judged(given: list[RideFigures], claim: Claim = CLAIM) -> Study:
    question = StudyQuestion(claim=claim, reference_uncertainty_pct=0.3, at_w=200.0, at_rpm=85.0)
    return study_of("bike A", given, question, version="test")


def test_right_at_the_usual_power_and_wrong_at_an_end_does_not_conform() -> None:
    trueness = judged(rides(8, zero=0.9)).verdicts.trueness
    assert trueness.verdict is VerdictWord.DOES_NOT_CONFORM
    assert "the worst place is 100 W" in trueness.says
    without_range = replace(CLAIM, from_w=0.0, to_w=math.inf)
    assert judged(rides(8, zero=0.9), without_range).verdicts.trueness.verdict is VerdictWord.CONFORMS


def test_right_everywhere_conforms_and_says_what_was_ridden() -> None:
    trueness = judged(rides(8)).verdicts.trueness
    assert trueness.verdict is VerdictWord.CONFORMS
    assert "Judged at 100 W, 200 W, 350 W" in trueness.says
    assert "from 100 W to 400 W" in trueness.says


def test_powers_that_nobody_rode_are_not_judged_and_never_a_pass() -> None:
    trueness = judged(rides(8, low_w=190.0)).verdicts.trueness
    says = trueness.says
    assert trueness.verdict is VerdictWord.UNDECIDED
    assert "near 100 W" in says
    assert "Ride near 100 W" in trueness.further_rides.reason
    wide = replace(CLAIM, to_w=1000.0)
    assert judged(rides(8), wide).verdicts.trueness.verdict is VerdictWord.UNDECIDED
    assert judged(rides(8, zero=2.0), wide).verdicts.trueness.verdict is VerdictWord.DOES_NOT_CONFORM
    above = replace(CLAIM, to_w=math.inf)
    assert judged(rides(8), above).verdicts.trueness.verdict is VerdictWord.CONFORMS
    assert "100 W, 200 W" not in says
    assert "190 W" not in says  # as near to 200 W as makes one place
    assert "Judged at 200 W, 350 W" in says


def test_the_range_is_never_surer_than_its_worst_place() -> None:
    narrow = replace(CLAIM, from_w=180.0, to_w=220.0)
    everywhere, here = (
        judged(rides(5, zero=0.3)).verdicts.trueness,
        judged(rides(5, zero=0.3), narrow).verdicts.trueness,
    )
    assert everywhere.probability is not None
    assert here.probability is not None
    assert everywhere.probability <= here.probability


@pytest.mark.parametrize("count", [2, 3, 5, 8])
def test_fewer_rides_are_never_firmer(count: int) -> None:
    firm = (VerdictWord.CONFORMS, VerdictWord.DOES_NOT_CONFORM)
    for zero in (0.0, 0.2, 0.5, 0.9):
        fewer, more = (judged(rides(number, zero=zero)).verdicts.trueness for number in (count, count + 2))
        if fewer.verdict in firm:
            assert more.verdict is fewer.verdict


def test_one_ride_and_rides_without_a_relation_are_as_before() -> None:
    assert judged(rides(1)).verdicts.trueness.verdict is VerdictWord.UNDECIDED
    plain = [replace(ride, gain_pct=math.nan) for ride in rides(6)]
    assert "Judged at" not in judged(plain).verdicts.trueness.says


def test_a_claim_for_other_powers_than_the_usual_is_judged_where_it_holds() -> None:
    high = replace(CLAIM, from_w=250.0)
    trueness = judged(rides(8), high).verdicts.trueness
    assert trueness.verdict is VerdictWord.CONFORMS
    assert "Judged at 250 W, 350 W" in trueness.says
