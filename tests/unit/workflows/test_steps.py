"""A step that stays is an episode of a meter, whenever it comes, and then no course of the bias as well."""

from __future__ import annotations

from dataclasses import replace

import pytest

from wattwitness.model.episodes import EpisodeKind, Finding
from wattwitness.model.settings import CompareSettings
from wattwitness.model.settling import TimeModel
from wattwitness.simulate.efforts import Intervals
from wattwitness.simulate.faults import Fault, FaultKind
from wattwitness.simulate.ride import RideSpec, simulate_ride
from wattwitness.simulate.scenarios import BIKE, PEDALS
from wattwitness.workflows.compare import compare_recordings

EFFORT = Intervals(on_s=240.0, off_s=240.0, on_w=270.0, off_w=140.0)


@pytest.mark.parametrize("start_s", [1440.0, 1560.0, 1680.0])
def test_a_step_at_and_between_the_edges_of_intervals(start_s: float) -> None:
    step = Fault(kind=FaultKind.STEP, start_s=start_s, depth_pct=-12.0)
    spec = RideSpec(name="x", meters=(PEDALS, replace(BIKE, faults=(step,))), effort=EFFORT, duration_s=3000.0)
    pair = compare_recordings(simulate_ride(spec, 9).recordings, CompareSettings()).pairs[0]
    assert pair.faults is not None
    assert pair.settling is not None
    (found,) = (one for one in pair.faults.episodes if one.kind is EpisodeKind.STEP)
    assert found.finding is not Finding.RIDER
    assert found.depth_pct.value == pytest.approx(-12.0, abs=2.0)
    assert pair.settling.model is not TimeModel.STEP
