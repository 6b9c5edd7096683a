"""Aligned recordings handed to the rooms that find out why, the budget of a ride, and three meters together."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.factories import clock, overall, pair, percent
from wattwitness.agreement.anatomy import nothing_taken_apart
from wattwitness.agreement.settling import nothing_settled
from wattwitness.agreement.why import WhyTheyDiffer
from wattwitness.model.aligned import Blend
from wattwitness.model.arrays import FloatArray
from wattwitness.model.budget import Budget
from wattwitness.model.estimate import Estimate
from wattwitness.model.settings import CompareSettings
from wattwitness.model.setup import MeterFile, StatedUncertainty
from wattwitness.workflows.ride_budget import budget_of_ride, with_budget
from wattwitness.workflows.together import meters_together, usual_since_s
from wattwitness.workflows.why import why_not

SECONDS = 1200


def power(seed: int = 0) -> FloatArray:
    return np.asarray(200 + 20 * np.random.default_rng(seed).standard_normal(SECONDS))


def ride_budget(bias: Estimate, **settings: float) -> Budget | None:
    made = CompareSettings(**settings)  # type: ignore[arg-type]
    reference_w = power()
    cadence = np.full(SECONDS, 85.0)
    return budget_of_ride(reference_w, reference_w, 0.96 * reference_w, cadence, overall(bias), clock(), made)


class TestWhyNot:
    def test_everything_missing_is_named_with_its_reason(self) -> None:
        found = why_not(
            WhyTheyDiffer(
                anatomy=nothing_taken_apart("no_cadence", 0.95), stories=(), settling=nothing_settled("too_short", 0.95)
            )
        )
        assert [item.what for item in found] == ["anatomy", "stories", "settling"]
        assert "holds a cadence" in found[0].why
        assert "too little riding" in found[1].why

    def test_what_was_found_is_not_missing(self) -> None:
        made = pair()
        assert made.anatomy is not None
        assert made.settling is not None
        assert why_not(WhyTheyDiffer(anatomy=made.anatomy, stories=made.stories, settling=made.settling)) == ()

    def test_a_reason_nobody_worded_still_has_a_sentence(self) -> None:
        found = why_not(
            WhyTheyDiffer(
                anatomy=nothing_taken_apart("unheard_of", 0.95),
                stories=(),
                settling=nothing_settled("unheard_of", 0.95),
            )
        )
        assert all(item.why.endswith(".") and item.slug == "unheard_of" for item in found)


class TestRideBudget:
    @pytest.mark.parametrize(
        "bias", [Estimate.missing("too_short", "%"), replace(percent(-4.0), high=float("inf"), low=float("-inf"))]
    )
    def test_no_budget_where_the_bias_has_no_bound(self, bias: Estimate) -> None:
        assert ride_budget(bias) is None
        assert with_budget(overall(bias), None, None).bias_pct == bias

    def test_its_half_width_is_that_of_the_bias_with_the_reference(self) -> None:
        found = ride_budget(percent(-4.0))
        assert found is not None
        with_it = with_budget(overall(percent(-4.0)), found, None)
        low, high = with_it.bias_with_reference_pct.low, with_it.bias_with_reference_pct.high
        assert low == pytest.approx(-4.0 - found.expanded_pct)
        assert high == pytest.approx(-4.0 + found.expanded_pct)
        assert found.standard_pct**2 == pytest.approx(
            sum(part.contribution_pct**2 for part in found.contributions), rel=1e-6
        )

    def test_a_better_reference_makes_it_smaller(self) -> None:
        wide, narrow = ride_budget(percent(-4.0)), ride_budget(percent(-4.0), reference_uncertainty_pct=0.5)
        assert wide is not None
        assert narrow is not None
        assert narrow.expanded_pct < wide.expanded_pct

    def test_a_described_claim_is_named_as_the_origin(self) -> None:
        found = ride_budget(percent(-4.0))
        plain, described = (
            MeterFile(source="pedals.toml"),
            MeterFile(source="pedals.toml", stated={"claim": StatedUncertainty(half_width=1.0)}),
        )
        assert "pedals.toml" in with_budget(overall(), found, described).reference_uncertainty_origin
        assert "pedals.toml" not in with_budget(overall(), found, plain).reference_uncertainty_origin


class TestTogether:
    def test_one_unit_is_not_on_trial(self) -> None:
        assert meters_together([pair()], [], level=0.95) is None

    def test_too_few_that_can_be_compared_have_a_reason(self) -> None:
        good = pair("Bike A")
        lost = replace(pair("Bike B"), overall=overall(Estimate.missing("no_common_power", "%")))
        lost = replace(lost, overall=replace(lost.overall, bias_pct=Estimate.missing("no_common_power", "%")))
        found = meters_together([good, lost], [pair("Bike B", "Bike A")], level=0.95)
        assert found is not None
        assert found.not_assessed == "too_few_meters"
        assert found.meters == ()
        assert found.why.endswith(".")

    @pytest.mark.parametrize(("since", "expected"), [(0.3, 0.3), (0.95, 0.95)])
    def test_where_samples_stand_before_the_grid(self, since: float, expected: float) -> None:
        blend = Blend(since_s=np.full(100, since), until_s=np.full(100, 1 - since))
        assert usual_since_s(blend) == pytest.approx(expected)

    def test_no_usual_place_where_there_is_none(self) -> None:
        turning = np.linspace(0, 1, 100, endpoint=False)
        assert usual_since_s(None) == 0
        assert usual_since_s(Blend(since_s=turning, until_s=1 - turning)) == 0
        assert usual_since_s(Blend(since_s=np.full(100, 1.0), until_s=np.full(100, 3.0))) == 0
