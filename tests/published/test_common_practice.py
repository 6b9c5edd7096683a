"""What testers commonly take for granted. COMMON PRACTICE, WITHOUT A SOURCE: no published number stands behind these;
they are here so that a change of the tool's defaults away from the trade's habits is seen."""

from __future__ import annotations

import math

import pytest

from wattwitness.model.setup import MeterFile, Place, SetupRecord, StatedUncertainty
from wattwitness.reference.ride_budget import ride_budget
from wattwitness.reference.ride_facts import RideFacts
from wattwitness.reference.setup_checks import setup_findings

FACTS = RideFacts(
    ratio=1.0,
    mean_w=200.0,
    mean_rpm=85.0,
    cadence_known=True,
    clock_s=0.02,
    clock_pct_per_s=0.02,
    response_pct=0.01,
    rounding_pct=0.005,
    statistics_pct=0.2,
    statistics_degrees=6.0,
)


def careful(claim_pct: float) -> MeterFile:
    """Pedals with a maker's claim, set up as one should."""
    setup = SetupRecord(crank_set_mm=172.5, crank_true_mm=172.5, zero_taken=True)
    return MeterFile(place=Place.PEDAL, setup=setup, stated={"claim": StatedUncertainty(half_width=claim_pct)})


@pytest.mark.parametrize("claim_pct", [0.75, 1.0, 1.5])
def test_reference_meters_in_good_order_agree_within_one_to_three_percent(claim_pct: float) -> None:
    """Common practice: two such meters, each with its own budget, differ by 1 to 3 % at most (95 %)."""
    budget = ride_budget(FACTS, reference=careful(claim_pct), unit=None, given_pct=None, level=0.95)
    two_apart_pct = 1.96 * math.sqrt(2) * budget.reference_pct
    assert 1.0 < two_apart_pct < 3.0


@pytest.mark.parametrize(("hours", "found"), [(0.0, True), (1.5, True), (3.0, False), (40.0, False)])
def test_pedals_want_a_ride_or_two_to_settle(hours: float, found: bool) -> None:
    """Common practice: new threads and bearings settle within a ride or two of about an hour."""
    meter = MeterFile(place=Place.PEDAL, setup=SetupRecord(hours_since_fitted=hours))
    slugs = {notice.slug for notice in setup_findings(meter, "pedals", is_reference=True)}
    assert ("pedals_not_bedded_in" in slugs) is found


@pytest.mark.parametrize(("crank_set_mm", "common"), [(170.0, True), (175.0, True), (177.5, True), (171.3, False)])
def test_cranks_come_in_steps_of_two_and_a_half_millimetres(crank_set_mm: float, common: bool) -> None:
    """Common practice: 150 to 180 mm in steps of 2.5 mm; a length that is off by steps was likely set for another."""
    setup = SetupRecord(crank_set_mm=crank_set_mm, crank_true_mm=172.5)
    (finding,) = (
        notice
        for notice in setup_findings(MeterFile(place=Place.PEDAL, setup=setup), "pedals", is_reference=True)
        if notice.slug == "crank_length_mismatch"
    )
    assert ("a common step" in finding.message) is common
