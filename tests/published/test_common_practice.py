"""What testers commonly take for granted. COMMON PRACTICE, WITHOUT A SOURCE: no published number stands behind these;
they are here so that a change of the tool's defaults away from the trade's habits is seen."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from wattwitness.conformity.claims import DEFAULT_SPREAD_PCT
from wattwitness.conformity.spread import chance_spread_within
from wattwitness.model.episodes import Finding
from wattwitness.model.settings import CompareSettings
from wattwitness.model.setup import MeterFile, Place, SetupRecord, StatedUncertainty
from wattwitness.reference.ride_budget import ride_budget
from wattwitness.reference.ride_facts import RideFacts
from wattwitness.reference.setup_checks import setup_findings
from wattwitness.simulate.efforts import Steady
from wattwitness.simulate.faults import Fault, FaultKind
from wattwitness.simulate.ride import RideSpec, simulate_ride
from wattwitness.simulate.scenarios import BIKE, PEDALS
from wattwitness.workflows.compare import compare_recordings

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


@pytest.mark.parametrize(
    ("start_min", "minutes", "depth_pct"), [(20.5, 1.0, -25.0), (31.0, 3.0, -33.0), (38.0, 5.0, -30.0)]
)
def test_the_fault_that_testers_know(start_min: float, minutes: float, depth_pct: float) -> None:
    """Common practice: a drop of a quarter to a third for one to several minutes, 20 to 40 minutes in, while cadence
    and resistance hold and the heart goes on: the unit is at fault, and its record lacks the work.
    """
    fault = Fault(kind=FaultKind.DROP, start_s=60 * start_min, duration_s=60 * minutes, depth_pct=depth_pct, edge_s=3.0)
    spec = RideSpec(
        name="typical", meters=(PEDALS, replace(BIKE, faults=(fault,))), effort=Steady(power_w=205.0), duration_s=3000.0
    )
    pair = compare_recordings(simulate_ride(spec, 12).recordings, CompareSettings()).pairs[0]
    assert pair.faults is not None
    (episode,) = (one for one in pair.faults.episodes if one.finding is not Finding.RIDER)
    assert episode.finding is Finding.UNIT
    assert episode.start_s == pytest.approx(fault.start_s, abs=8.0)
    assert episode.depth_pct.value == pytest.approx(depth_pct, abs=2.5)
    assert episode.energy_kj.value == pytest.approx(-depth_pct / 100 * 0.205 * fault.duration_s, rel=0.15)


def test_a_steady_error_is_comparable_from_ride_to_ride() -> None:
    """Common practice: a bike that always reads 17 % low can be lived with; the same mean error that wanders cannot."""
    steady = np.array([-17.2, -16.9, -17.1, -16.8, -17.0, -17.3, -16.9, -17.1])
    wandering = np.array([-29.0, -5.0, -17.0, -24.0, -10.0, -20.0, -12.0, -19.0])
    chances = [chance_spread_within(DEFAULT_SPREAD_PCT, bias, np.full(8, 0.3)) for bias in (steady, wandering)]
    assert chances[0] > 0.99
    assert chances[1] < 0.01
